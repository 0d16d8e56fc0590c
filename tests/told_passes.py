"""A player for tests: tells the app what the sound process would, beat by beat, with the notes of a hand."""

from __future__ import annotations

from collections.abc import Callable

from companion.groove.model import Arrangement
from companion.practice.marking.expected import expected_strikes, steady_starts
from companion.practice.model import Expected
from companion.sound.messages import BeatReport, NoteIn

Hand = Callable[[Expected], list[tuple[float, int]]]
"""What is pressed for a strike: (seconds after it is due, MIDI note) pairs."""


def right(strike: Expected) -> list[tuple[float, int]]:
    return [(0.0, note) for note in strike.notes]


def reports(
    arrangement: Arrangement, hand: Hand | None, start_s: float, tempo_bpm: float, turn: int = 0
) -> tuple[list[list[object]], float]:
    """The reports of one pass, a list for each bar, and when it ends."""
    starts = steady_starts(arrangement, start_s, tempo_bpm)
    expected = expected_strikes(arrangement, starts)
    bars = []
    for position, (bar, (bar_s, _)) in enumerate(zip(arrangement.bars, starts, strict=True)):
        said: list[object] = [
            BeatReport(bar_s + pulse * 60 / tempo_bpm, turn, position, bar.index, pulse, bar.meter.pulses, tempo_bpm)
            for pulse in range(bar.meter.pulses)
        ]
        for strike in expected if hand else ():
            if strike.group.position == position:
                said += [NoteIn(strike.due_s + off_s, note, 64, "Piano") for off_s, note in hand(strike)]
        # A press may come a little before its beat: everything in the order in which it would arrive.
        bars.append(sorted(said, key=lambda report: getattr(report, "due_s", getattr(report, "time_s", 0.0))))
    last = arrangement.bars[-1]
    return bars, starts[-1].start_s + last.meter.pulses * 60 / tempo_bpm
