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
    """notes: those that sound, in order, one at least. start_tick, end_tick: from the first's start to the last's end, counted as the
    melody's own ticks are."""

    notes: tuple[MelodyNote, ...]

    @property
    def start_tick(self) -> int:
        """Where its first note begins."""
        return self.notes[0].start_tick

    @property
    def end_tick(self) -> int:
        """Where its last note ends."""
        return self.notes[-1].start_tick + self.notes[-1].ticks


def melody_phrases(melody: Sequence[MelodyNote], bars: Sequence[FormBar]) -> tuple[MelodyPhrase, ...]:
    """The phrases of a chorus. melody: of one chorus, in order, with or without its rests; bars: those of the chorus."""
    phrases: list[MelodyPhrase] = []
    notes: list[MelodyNote] = []
    for note in melody:
        if note.pitch is None:
            continue
        if notes and _is_new(notes, note, bars):
            phrases.append(MelodyPhrase(tuple(notes)))
            notes = []
        notes.append(note)
    return (*phrases, MelodyPhrase(tuple(notes))) if notes else tuple(phrases)


def _is_new(phrase: Sequence[MelodyNote], note: MelodyNote, bars: Sequence[FormBar]) -> bool:
    """Whether the note begins another phrase."""
    first, here = _bar_of(phrase[0].start_tick, bars), _bar_of(note.start_tick, bars)
    before = _bar_of(phrase[-1].start_tick, bars)
    rest = note.start_tick - phrase[-1].start_tick - phrase[-1].ticks
    if rest >= bars[max(0, before)].meter.pulse_ticks:
        return True
    if _begins_section(first + 1, bars) and phrase[0].start_tick != _start(first, bars):
        first += 1  # it leads into the section: its bars count from there
    crosses = any(_begins_section(index, bars) for index in range(max(first, before) + 1, here + 1))
    return crosses or here - first >= MOST_BARS


def _bar_of(tick: int, bars: Sequence[FormBar]) -> int:
    """The index of the bar, -1 for the pickup."""
    return bisect_right([bar.start_tick for bar in bars], tick) - 1


def _start(index: int, bars: Sequence[FormBar]) -> int | None:
    return bars[index].start_tick if index >= 0 else None


def _begins_section(index: int, bars: Sequence[FormBar]) -> bool:
    return 0 <= index < len(bars) and bars[index].bar == 1
