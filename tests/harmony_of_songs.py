"""What the checker of the harmonised right hand asks for, taken from a stand as plain numbers."""

from __future__ import annotations

from harmony_checker import Sounding, Struck

# Chord symbols' tensions that may be added, by what the chord has (Haerle 1980, Nettles and Graf; from memory): family -> semitones.
TENSIONS = {
    frozenset({"3", "7"}): (2, 9),
    frozenset({"3", "b7"}): (2, 9),
    frozenset({"3", "6"}): (2,),
    frozenset({"b3", "b7"}): (2, 5),
    frozenset({"b3", "7"}): (2,),
    frozenset({"b3", "6"}): (2,),
}


def sounding_of(start, end, chord, shell, tensions=False):
    """A chord as the checker sees it."""
    degrees = {name: (chord.root.pc + semitones) % 12 for name, semitones in zip(chord.degrees, chord.semitones)}
    extra = set()
    if (
        tensions
        and not degrees.keys() & {"b9", "#9", "#5", "b13", "#11", "bb7"}
        and not ("3" in degrees and "b5" in degrees)
    ):
        for have, added in TENSIONS.items():
            if have <= degrees.keys():
                extra = {(chord.root.pc + each) % 12 for each in (added if "b5" not in degrees else (5,))}
                break
    return Sounding(start, end, chord.root.pc, degrees, frozenset(extra), tuple(shell))


def chords_of(stand, tensions=False):
    """Every chord of the chorus in its place."""
    found = []
    for bar in stand.bars:
        unit = 3840 // bar.meter.unit
        for placed, choice in stand.choices_at(bar.index):
            if placed.chord is not None:
                start = bar.start_tick + int(placed.beat * unit)
                end = bar.start_tick + int((placed.beat + placed.beats) * unit)
                found.append(sounding_of(start, end, placed.chord, choice.shell.midi if choice.shell else (), tensions))
    return found


def struck_of(notes):
    """What the right hand strikes."""
    return [
        Struck(note.note.start_tick, note.added_end_tick, note.note.end_tick, note.voicing.keys, note.voicing.fingers)
        for note in notes
    ]


def tick_ms_of(stand):
    """How long a tick lasts at the song's own tempo."""
    return 60_000 / stand.song.tempo_bpm / stand.bars[0].meter.pulse_ticks
