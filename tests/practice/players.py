"""Simulated players for the tests of this room."""

from __future__ import annotations

import random
from collections.abc import Sequence

from companion.practice.model import Expected, Press


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


def play_with_slips(expected: Sequence[Expected], rng: random.Random) -> list[Press]:
    """A bad day: notes left out, wrong, doubled, far early or late, and some that nobody asked for."""
    presses = []
    for strike in expected:
        for note in strike.notes:
            chance = rng.random()
            if chance < 0.1:
                continue
            if chance < 0.25:
                note += rng.choice((-12, -2, -1, 1, 2, 5, 12))
            time_s = strike.due_s + rng.gauss(0.0, 0.06 if rng.random() < 0.8 else 0.25)
            # Whole milliseconds, as MIDI files have them, so that no edge of a window is a matter of binary fractions.
            presses.append(Press(round(time_s, 3), note))
            if rng.random() < 0.1:
                presses.append(Press(round(time_s + rng.uniform(0.0, 0.15), 3), note))
    first_s, last_s = expected[0].due_s - 1.0, expected[-1].due_s + 1.0
    presses += [Press(round(rng.uniform(first_s, last_s), 3), rng.randint(36, 64)) for _ in range(rng.randint(0, 10))]
    return presses
