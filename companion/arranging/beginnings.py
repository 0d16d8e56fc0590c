"""Introductions, made from a song's own key, cadence and first chord. Each is a song of one section, so that shells, melody and company are worked out
as for any other.

Kinds, all common practice: "vamp", four bars of I VI II V, on a blues with I and VI as dominant sevenths; "first-chords", a vamp over the first two bars of the tune; "last-four", the last four bars
of it; "dominant", the dominant seventh of the first chord as an arpeggio over two octaves, the lower one for the left hand, and a hold. The last chord of each is a dominant that leads to
bar 1: a fifth above the root of the first chord. "own" is the section of that name in the chart, as it is written.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from companion.arranging.cadences import chord_on, dominant_of, first_chord, is_blues, of_tonic, two_of
from companion.base.latest import latest
from companion.chart.melody import MelodyNote, chorus_melody
from companion.chart.melody_text import write_melody
from companion.chart.model import Bar, FormBar, PlacedChord, Section, Song
from companion.hands.right.fill_rules import QUICKEST_MS
from companion.theory.chord import Chord
from companion.theory.meter import TICKS_PER_QUARTER, Meter
from companion.theory.pitch import Pitch

DOMINANT, OWN = "dominant", "own"
INTROS = ("none", "vamp", "first-chords", "last-four", DOMINANT, OWN)
INTRO_NAME = "Intro"
_BARS = 4
_EIGHTH = TICKS_PER_QUARTER // 2
_LOWEST_TOP, _HIGHEST_TOP, _MIDDLE_TOP = 64, 77, 70  # E4, F5, B flat 4: where the upper note of a vamp lies (ours)
_LOWEST_ARPEGGIO = (
    40  # E2, the left hand's lowest root; two octaves above the highest start is E flat 5, where a melody begins (ours)
)


@latest  # asked for with every change of an arrangement
def intro(song: Song, kind: str) -> Song | None:
    """The introduction as a song of one section. kind: one of INTROS, "none" gives None, and "own" for one that has none. A song without a chord is led into
    by the chords of its key. Raises ValueError for another."""
    if kind not in INTROS:
        raise ValueError(f"{kind!r} is no introduction; expected one of {', '.join(INTROS)}")
    if kind == "none":
        return None
    if kind == OWN:
        return own_section(song, INTRO_NAME)
    first = first_chord(song)
    if first is None:
        first, kind = of_tonic(song.key)[0], "vamp" if kind == "first-chords" else kind
    make = {"vamp": _vamp, "first-chords": _first_chords, "last-four": _last_four, DOMINANT: _dominant}[kind]
    meter = song.sections[song.form[0]].meter
    bars, notes = make(song, first, meter)
    end = len(bars) * meter.bar_ticks - meter.ticks(song.pickup)
    return one_section(song, INTRO_NAME, meter, bars, _lifted(until(notes, end), end, meter))


def _lifted(notes: list[MelodyNote], end: int, meter: Meter) -> list[MelodyNote]:
    """With the last note let go half a pulse before the tune begins, where it is longer than that: the hand has to get there (common practice)."""
    if not notes or notes[-1].ticks < meter.pulse_ticks or notes[-1].end_tick < end:
        return notes
    return [*notes[:-1], replace(notes[-1], ticks=notes[-1].ticks - meter.pulse_ticks // 2)]


def own_section(song: Song, name: str) -> Song | None:
    """A section that the form leaves out and that is called so, small or capital letters, as a song of its own; None where there is none."""
    for own, section in song.sections.items():
        if own.casefold() == name.casefold() and own not in song.form:
            alone = replace(section, name=name, pickup=Fraction(0), pickup_chords=())
            return _alone(song, alone)
    return None


def one_section(song: Song, name: str, meter: Meter, bars: Sequence[Bar], notes: Sequence[MelodyNote]) -> Song:
    """A song of one section in the song's key and tempo. notes: its melody, none overlapping another."""
    key = song.sections[song.form[0]].key
    melody = write_melody(notes, meter, key, len(bars)) if notes else None
    return _alone(song, Section(name, tuple(bars), meter, key, melody))


def _alone(song: Song, section: Section) -> Song:
    return replace(
        song,
        id="",
        form=(section.name,),
        sections={section.name: section},
        pins={},
        pickup=Fraction(0),
        lesson=None,
        written=None,
        meter=section.meter,
    )


def until(notes: Sequence[MelodyNote], end_tick: int) -> list[MelodyNote]:
    """The notes as far as a tick, the last one cut there."""
    return [
        replace(note, ticks=min(note.ticks, end_tick - note.start_tick)) for note in notes if note.start_tick < end_tick
    ]


Made = tuple[list[Bar], list[MelodyNote]]


def _vamp(song: Song, first: Chord, meter: Meter) -> Made:
    one, six, _ = of_tonic(song.key)
    if is_blues(song):
        one, six = chord_on(one.root, "7"), chord_on(six.root, "7")
    chords = [one, six, two_of(first), dominant_of(first)]
    if meter.beats % 2 == 0:
        bars = [even_bar(meter, chords[at : at + 2]) for at in (0, 2)] * 2
    else:
        bars = [even_bar(meter, [chord]) for chord in chords]
    return bars, upper_line(bars, meter)


def _first_chords(song: Song, first: Chord, meter: Meter) -> Made:
    """The first two bars twice; the last time the dominant takes the second half of the second one."""
    form = [bar for bar in song.unroll()[:2] if bar.meter == meter]
    turned, _ = _turned(form[-1], dominant_of(first))
    plain = [Bar(bar.chords) for bar in form]
    bars = [*plain, *plain[:-1], turned]
    return bars, upper_line(bars, meter)


def even_bar(meter: Meter, chords: Sequence[Chord]) -> Bar:
    """A bar that its chords share evenly."""
    beats = Fraction(meter.beats, len(chords))
    return Bar(tuple(PlacedChord(chord, beats * at, beats) for at, chord in enumerate(chords)))


def upper_line(bars: Sequence[Bar], meter: Meter) -> list[MelodyNote]:
    """An upper note for each chord, held as long as it: its third, fifth or seventh, whichever lies nearest the one before (common practice: hold, or
    go to the next)."""
    notes: list[MelodyNote] = []
    before = _MIDDLE_TOP
    for number, bar in enumerate(bars):
        for placed in bar.chords:
            if placed.chord is not None:
                pitch = min(_tops(placed.chord), key=lambda pitch: (abs(pitch.midi - before), pitch.midi))
                start = number * meter.bar_ticks + meter.ticks(placed.beat)
                notes.append(MelodyNote(start, meter.ticks(placed.beats), pitch))
                before = pitch.midi
    return notes


def _tops(chord: Chord) -> list[Pitch]:
    tones = [tone for number in (3, 4, 5, 7, 6) if (tone := chord.tone(number)) is not None]
    places = [tone.at_or_above(_LOWEST_TOP + 12 * octave) for tone in tones for octave in range(2)]
    return [pitch for pitch in places if pitch.midi <= _HIGHEST_TOP]


def _last_four(song: Song, first: Chord, meter: Meter) -> Made:
    """As the tune has them, in the meter of its beginning; where the last chord does not lead to bar 1, the dominant takes the second half of the bar."""
    form = song.unroll()
    last = form[-_BARS:]
    if any(bar.meter != meter for bar in last):
        last = form[-1:]
    start = last[0].start_tick
    notes = [
        replace(note, start_tick=note.start_tick - start) for note in chorus_melody(song) if note.start_tick >= start
    ]
    bars = [Bar(bar.chords) for bar in last]
    chord = bars[-1].chords[-1].chord
    if chord is None or not leads_to(chord, first):
        bars[-1], half = _turned(last[-1], dominant_of(first))
        notes = until(notes, (len(bars) - 1) * meter.bar_ticks + half)
    return bars, [note for note in notes if note.pitch is not None]


def _turned(bar: FormBar, dominant: Chord) -> tuple[Bar, int]:
    """The bar with the dominant in its second half, the longer half first, and the tick where that begins."""
    half = Fraction((bar.meter.beats + 1) // 2)
    kept = [replace(placed, beats=min(placed.beats, half - placed.beat)) for placed in bar.chords if placed.beat < half]
    return Bar((*kept, PlacedChord(dominant, half, bar.meter.beats - half))), bar.meter.ticks(half)


def leads_to(chord: Chord, first: Chord) -> bool:
    """Whether a chord is a dominant seventh a fifth above the first chord's root, or a half step above it."""
    above = (chord.root.pc - first.root.pc) % 12
    return "b7" in chord.degrees and "3" in chord.degrees and above in (7, 1)


def _dominant(song: Song, first: Chord, meter: Meter) -> Made:
    """Its last note alone, which is held to the end of the bar after; for what comes before see `arpeggio`."""
    notes = arpeggio(song)
    at = notes[-1].end_tick
    bars = -(-at // meter.bar_ticks) + 1
    chord = dominant_of(first)
    top = _up(chord)[-1]
    return [even_bar(meter, [chord])] * bars, [MelodyNote(at, bars * meter.bar_ticks - at, top)]


def arpeggio(song: Song) -> tuple[MelodyNote, ...]:
    """What leads up to the last note of "dominant": eighths, where these are too quick quarters, up the chord through two octaves, the first of them for the left
    hand."""
    first, meter = first_chord(song) or of_tonic(song.key)[0], song.sections[song.form[0]].meter
    eighth_ms = 60_000.0 / song.tempo_bpm * _EIGHTH / meter.pulse_ticks
    unit = _EIGHTH if eighth_ms >= QUICKEST_MS else 2 * _EIGHTH
    *run, _ = _up(dominant_of(first))
    return tuple(MelodyNote(unit * number, unit, pitch) for number, pitch in enumerate(run))


def _up(chord: Chord) -> list[Pitch]:
    """The chord's tones without its ninth, root to root over two octaves."""
    root = chord.root.at_or_above(_LOWEST_ARPEGGIO)
    pitches = [root]
    while pitches[-1].midi < root.midi + 24:
        pitches.append(
            min((tone.at_or_above(pitches[-1].midi + 1) for tone in chord.tones[:4]), key=lambda pitch: pitch.midi)
        )
    return pitches
