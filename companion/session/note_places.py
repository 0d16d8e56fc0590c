"""How the student's own files name the notes of a melody: by section, bar there and number in it, as they are written."""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence

from companion.chart.melody import MelodyNote, NotePlace
from companion.chart.model import FormBar


def note_places(bars: Sequence[FormBar], notes: Sequence[MelodyNote]) -> list[NotePlace]:
    """The place of each note of a melody, rests left out."""
    counts: Counter[int] = Counter()
    places = []
    for note in sounding(notes):
        bar = bar_at(bars, note.start_tick)
        counts[-1 if bar is None else bar.index] += 1
        number = counts[-1 if bar is None else bar.index]
        places.append((bars[0].section, 0, number) if bar is None else (bar.section, bar.bar, number))
    return places


def as_written(written: Sequence[MelodyNote], played: Sequence[MelodyNote]) -> list[int]:
    """For each note that sounds of another version of the melody which of the written ones it is: they are these in their order, some of them
    struck again."""
    own = sounding(written)
    at, found = -1, []
    for note in sounding(played):
        same = at + 1 < len(own) and _pc(own[at + 1]) == _pc(note)
        if same or at < 0:
            at = min(at + 1, len(own) - 1)
        found.append(at)
    return found


def sounding(notes: Sequence[MelodyNote]) -> list[MelodyNote]:
    """Without the rests."""
    return [note for note in notes if note.pitch is not None]


def bar_at(bars: Sequence[FormBar], tick: int) -> FormBar | None:
    """The bar that holds the tick, None for the pickup."""
    index = bisect_right(bars, tick, key=lambda bar: bar.start_tick) - 1
    return bars[index] if index >= 0 else None


def _pc(note: MelodyNote) -> int:
    assert note.pitch is not None
    return note.pitch.midi % 12
