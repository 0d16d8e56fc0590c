"""The fills of a song as the plain numbers that their checker takes."""

from __future__ import annotations

from fills_checker import Chord, Note

from companion.session.fills import fill_places
from companion.session.note_places import sounding


def places_of(stand, seed):
    """What the stand has of fills."""
    return fill_places(stand.song, stand.bars, stand.part, stand.melody, stand.harmonised, seed)


def chords_of(stand):
    found = []
    for bar in stand.bars:
        unit = 3840 // bar.meter.unit
        for placed, choice in stand.choices_at(bar.index):
            if placed.chord is not None:
                start = bar.start_tick + int(placed.beat * unit)
                end = bar.start_tick + int((placed.beat + placed.beats) * unit)
                steps = frozenset(semitones % 12 for semitones in placed.chord.semitones)
                shell = choice.shell.midi if choice.shell else ()
                found.append(Chord(start, end, placed.chord.root.pc, steps, shell))
    return found


def plain(fill):
    return [Note(note.tick, note.tick + note.ticks, note.pitch.midi, note.finger) for note in fill.notes]


def around(stand, place):
    """The melody's notes before and after the gap."""
    notes = [Note(note.start_tick, note.end_tick, note.pitch.midi) for note in sounding(stand.melody)]
    number = place.room.note
    return notes[number], notes[number + 1] if number + 1 < len(notes) else None


def pulse_of(place):
    return place.room.bar.meter.pulse_ticks


def tick_ms_of(stand):
    return 60_000 / stand.song.tempo_bpm / stand.bars[0].meter.pulse_ticks
