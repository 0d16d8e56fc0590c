"""Holds a swung melody against the straight one. Imports nothing of the project: it is given plain numbers.

Units: 960 ticks to the quarter, from the first bar line of the chorus. A note is (start, end, MIDI number).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

QUARTER, EIGHTH = 960, 480
Note = tuple[int, int, int]


@dataclass
class Bar:
    """pulse: ticks. strong: pulses of the bar, from 0, that are. opens: whether a section begins with it."""

    start: int
    end: int
    pulse: int
    strong: tuple[int, ...]
    opens: bool


@dataclass
class Chart:
    """bars of a chorus; chords: (start, pitch classes), None for no chord."""

    bars: list[Bar]
    chords: list[tuple[int, frozenset[int] | None]]

    def bar_at(self, tick: int) -> Bar | None:
        return next((bar for bar in self.bars if bar.start <= tick < bar.end), None)

    def chord_at(self, tick: int) -> frozenset[int] | None:
        return [pcs for start, pcs in self.chords if start <= tick][-1]

    def is_off_beat(self, tick: int) -> bool:
        bar = self.bar_at(tick)
        return bar is not None and (tick - bar.start) % QUARTER == EIGHTH


def faults(chart: Chart, straight: list[Note], swung: list[Note]) -> list[str]:
    """Everything that is wrong, in words; empty where nothing is."""
    found = []
    for before, after in pairwise(swung):
        if before[1] > after[0]:
            found.append(f"{before} sounds into {after}")
    for note in swung:
        if note[1] - note[0] < EIGHTH and note not in straight:
            found.append(f"{note} is shorter than an eighth")
        if note[1] > straight[-1][1]:
            found.append(f"{note} sounds past the end")
    if _within(straight, -99999, 0) != _within(swung, -99999, 0):
        found.append("the pickup was changed")
    for bar in chart.bars:
        if bar.pulse != QUARTER:
            if _within(straight, bar.start, bar.end) != _within(swung, bar.start, bar.end):
                found.append(f"the bar at {bar.start} is in no meter of quarters and was changed")
            continue
        edges = [(edge - bar.start) for note in straight for edge in note[:2] if bar.start <= edge < bar.end]
        for beat in {edge // QUARTER for edge in edges if edge % EIGHTH}:
            span = bar.start + beat * QUARTER, bar.start + (beat + 1) * QUARTER
            if _within(straight, *span) != _within(swung, *span):
                found.append(f"the beat at {span[0]} is finer than eighths and was changed")
    if not _can_be_aligned(chart, straight, swung):
        found.append("no way to hear it as the straight notes in order, pushed, held back or struck again as allowed")
    return found


def changed_bars(chart: Chart, straight: list[Note], swung: list[Note]) -> list[bool]:
    return [_within(straight, bar.start, bar.end) != _within(swung, bar.start, bar.end) for bar in chart.bars]


def _within(notes: list[Note], low: int, high: int) -> list[tuple[int, int, int, bool]]:
    """What is written between two ticks; at the end whether it is struck there."""
    inside = [(max(start, low), min(end, high), midi, start >= low) for start, end, midi in notes]
    return [note for note in inside if note[0] < note[1]]


def _can_be_aligned(chart: Chart, straight: list[Note], swung: list[Note]) -> bool:
    """Every way to give each straight note one or more of the swung ones, as (swung notes used, whether the last was pushed)."""
    firsts = {
        next((index for index, note in enumerate(straight) if note[0] >= bar.start), -1)
        for bar in chart.bars
        if bar.opens
    }
    reached = {(0, False)}
    for index, note in enumerate(straight):
        now = set()
        for used, pushed in reached:
            for count in (1, 2, 3):
                struck = swung[used : used + count]
                if len(struck) == count and all(piece[2] == note[2] for piece in struck):
                    moved = struck[0][0] - note[0]
                    again = [piece[0] for piece in struck[1:]]
                    if _may_be_again(chart, note, again, moved) and _may_move(
                        chart, note, moved, index in firsts, pushed
                    ):
                        now.add((used + count, moved == -EIGHTH))
        reached = now
    return any(used == len(swung) for used, _ in reached)


def _may_be_again(chart: Chart, note: Note, again: list[int], moved: int) -> bool:
    """A half or longer, on an off-beat of its own; more than once only where it is held from section to section."""
    crosses = sum(bar.opens and note[0] < bar.start < note[1] for bar in chart.bars)
    if again and (note[1] - note[0] < 2 * QUARTER or (moved and not crosses)):
        return False
    return len(again) <= 1 + crosses and all(chart.is_off_beat(at) and note[0] < at < note[1] for at in again)


def _may_move(chart: Chart, note: Note, moved: int, is_first: bool, after_push: bool) -> bool:
    bar = chart.bar_at(note[0])
    if moved == 0:
        return True
    if moved not in (-EIGHTH, EIGHTH) or is_first or bar is None or note[1] - note[0] < QUARTER:
        return False
    if (note[0] - bar.start) % QUARTER:
        return False
    if moved == EIGHTH:
        return True
    chord = chart.chord_at(note[0])
    is_strong = (note[0] - bar.start) // QUARTER in bar.strong
    return not after_push and is_strong and chord is not None and note[2] % 12 in chord
