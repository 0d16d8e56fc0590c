"""What is matched once and for all while a pass is played is what matching all presses at the end comes to."""

from __future__ import annotations

import random

import pytest

from companion.practice.marking.matching import Matching
from companion.practice.model import Expected, Group, Press


def pass_of(rng: random.Random, parts: tuple[str, ...]) -> list[Expected]:
    """Eight bars at a tempo and in a rhythm of their own."""
    beat_s, beats = rng.choice((0.25, 0.5, 1.0)), rng.choice(((0.0, 1.0, 2.0, 3.0), (0.0,), (0.0, 1.5), (0.0, 2.0)))
    expected = []
    for bar in range(8):
        for number, beat in enumerate(beats):
            gap_s = beat_s * min(after - at for at, after in zip(beats, [*beats[1:], 4.0]))
            for part in parts:
                low = (48 if part == "left" else 72) + bar % 3
                group, due_s = Group(bar, bar, 0), (4 * bar + beat) * beat_s
                notes = (low, low + 7) if part == "left" else (low,)
                window_s = min(0.3, 0.4 * beat_s, 0.4 * gap_s)
                expected.append(Expected(part, group, notes, due_s, number, (), beat_s, window_s))
    return expected


def played(rng: random.Random, expected: list[Expected]) -> list[Press]:
    """Late, pushed, rolled, wrong, left out, and stray keys between: a late chord may lead on to the next through the whole pass."""
    slips = rng.choice(((0.0, 0.3, -0.3, 0.6), (0.0, 0.0, 0.0, 0.75), (-0.5,), (0.0, 0.2)))
    presses = [
        Press(
            strike.due_s + rng.choice(slips) * strike.beat_s + rng.choice((0, 0, 0.14)), note + rng.choice((0, 0, 0, 1))
        )
        for strike in expected
        for note in strike.notes
        if rng.random() < 0.9
    ]
    return presses + [
        Press(rng.uniform(0, expected[-1].due_s), rng.randint(40, 80)) for _ in range(rng.choice((0, 20)))
    ]


@pytest.mark.parametrize("parts", [("left",), ("left", "right")], ids="+".join)
def test_what_is_settled_as_it_is_played_is_what_all_of_it_comes_to(parts, deep) -> None:
    for seed in range(80 if deep else 25):
        rng = random.Random(seed)
        expected = pass_of(rng, parts)
        presses = sorted(played(rng, expected), key=lambda press: (press.time_s, press.note))
        live, whole = Matching(expected, 65), Matching(expected, 65)
        for number, press in enumerate(presses):
            live.settle(press.time_s)
            live.take(press)
            whole.take(press)
            if number % 8 == 0:
                assert live.look(press.time_s) == whole.look(press.time_s), seed
        assert live.look() == whole.look(), seed
