"""Simulated players for the tests of this room."""

from __future__ import annotations

import random
from collections.abc import Sequence
from typing import Any

from groove.loops import arrange

from companion.practice.marking.expected import expected_strikes, steady_starts
from companion.practice.model import Expected, Press


def expected_of(line: str, tempo_bpm: float = 120.0, **fields: Any) -> tuple[Expected, ...]:
    """What is due of the left hand in a line of chords, from 10 s on."""
    arrangement = arrange(line, **fields)
    return expected_strikes(arrangement, steady_starts(arrangement, 10.0, tempo_bpm))


def play(
    expected: Sequence[Expected],
    rng: random.Random | None = None,
    mean_ms: float = 0.0,
    spread_ms: float = 0.0,
    together: bool = True,
) -> list[Press]:
    """Every due note, off by a normal error; together: both notes of a strike by the same."""
    rng = rng or random.Random(0)
    presses = []
    for strike in expected:
        off_s = rng.gauss(mean_ms, spread_ms) / 1000.0
        for note in strike.notes:
            presses.append(Press(strike.due_s + (off_s if together else rng.gauss(mean_ms, spread_ms) / 1000.0), note))
    return presses


def play_with_slips(expected: Sequence[Expected], rng: random.Random, within: float | None = None) -> list[Press]:
    """A bad day: notes left out, wrong, doubled, far early or late, and some that nobody asked for. within: the share of a window beyond
    which nothing is early or late; then what nobody asked for is no note of any chord either, so that each key is meant for
    the strike in whose window it lies."""
    presses = []
    due = {note for strike in expected for note in strike.notes} if within is not None else set()
    for place, strike in enumerate(expected):
        beside = [*expected[max(0, place - 1) : place], *expected[place + 1 : place + 2]] if within is not None else []
        for note in strike.notes:
            chance = rng.random()
            if chance < 0.1:
                continue
            if chance < 0.25:
                wrong = [note + off for off in (-12, -2, -1, 1, 2, 5, 12)]
                note = rng.choice([each for each in wrong if not any(each in other.notes for other in beside)] or wrong)
            most_s = strike.window_s * within if within is not None else float("inf")
            off_s = rng.gauss(0.0, 0.06 if rng.random() < 0.8 else 0.25)
            time_s = strike.due_s + max(-most_s, min(most_s, off_s))
            # Whole milliseconds, as MIDI files have them, so that no edge of a window is a matter of binary fractions.
            presses.append(Press(round(time_s, 3), note))
            if rng.random() < 0.1 and not any(note in other.notes for other in beside):
                again_s = min(time_s + rng.uniform(0.0, 0.15), strike.due_s + most_s)
                presses.append(Press(round(again_s, 3), note))
    first_s, last_s = expected[0].due_s - 1.0, expected[-1].due_s + 1.0
    stray = [note for note in range(36, 65) if note not in due]
    presses += [Press(round(rng.uniform(first_s, last_s), 3), rng.choice(stray)) for _ in range(rng.randint(0, 10))]
    return presses
