"""Where the phrases of a melody begin and end: what a hand fingers in one go, and within which a drawn keyboard does not move.

A phrase ends at a rest of a beat or more (the beat one taps), where a section ends, or after eight bars (ours, after the common practice
of phrases of four and eight bars). What begins in the last bar of a section after such a rest leads into the next section and is
the beginning of its first phrase.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from companion.chart.melody import MelodyNote
from companion.chart.model import FormBar

MOST_BARS = 8


@dataclass(frozen=True, slots=True)
class MelodyPhrase:
    """notes: those that sound, in order, one at least. first_bar: the index in the chorus of its first bar, which an upbeat leads into.
    start_tick, end_tick: from the first's start to the last's end, counted as the melody's own ticks are."""

    notes: tuple[MelodyNote, ...]
    first_bar: int

    @property
    def start_tick(self) -> int:
        """Where its first note begins."""
        return self.notes[0].start_tick

    @property
    def end_tick(self) -> int:
        """Where its last note ends."""
        return self.notes[-1].end_tick


def melody_phrases(melody: Sequence[MelodyNote], bars: Sequence[FormBar]) -> tuple[MelodyPhrase, ...]:
    """The phrases of a chorus. melody: of one chorus, in order, with or without its rests; bars: those of the chorus."""
    phrases: list[MelodyPhrase] = []
    notes: list[MelodyNote] = []
    for note in melody:
        if note.pitch is None:
            continue
        if notes and _is_new(notes, note, bars):
            phrases.append(MelodyPhrase(tuple(notes), _first_bar(notes, bars)))
            notes = []
        notes.append(note)
    return (*phrases, MelodyPhrase(tuple(notes), _first_bar(notes, bars))) if notes else tuple(phrases)


def _is_new(phrase: Sequence[MelodyNote], note: MelodyNote, bars: Sequence[FormBar]) -> bool:
    """Whether the note begins another phrase."""
    before, here = _bar_of(phrase[-1].start_tick, bars), _bar_of(note.start_tick, bars)
    rest = note.start_tick - phrase[-1].end_tick
    if rest >= bars[max(0, before)].meter.pulse_ticks:
        return True
    first = _first_bar(phrase, bars)
    crosses = any(_begins_section(index, bars) for index in range(max(first, before) + 1, here + 1))
    return crosses or here - first >= MOST_BARS


def _first_bar(phrase: Sequence[MelodyNote], bars: Sequence[FormBar]) -> int:
    """The bar in which it begins; where that is a section's last and the phrase begins within it, the next."""
    start = phrase[0].start_tick
    index = _bar_of(start, bars)
    leads_on = index < 0 or (_begins_section(index + 1, bars) and start != bars[index].start_tick)
    return index + 1 if leads_on else index


def _bar_of(tick: int, bars: Sequence[FormBar]) -> int:
    """The index of the bar, -1 for the pickup."""
    return bisect_right(bars, tick, key=lambda bar: bar.start_tick) - 1


def _begins_section(index: int, bars: Sequence[FormBar]) -> bool:
    return 0 <= index < len(bars) and bars[index].bar == 1
