"""Our ways of practising against plain ones, on simulated students. Run by hand: python tests/bench/learners.py

Fading: passes until cue-free playing is known (the expected share of bars right without cues reaches 90 %), passes
until the way's own end (twice without cues in a row, by the same rule for all), and the expected share right after as
many passes as our default needs to its end, at once, a day and a week later. Climb: bad passes and passes until the
target tempo was clean three times in a row.

The students are a model: learners.py says what it assumes and where from. The figures compare rules on that model;
they say nothing of people. A smaller version runs in the suite (tests/practice/test_learners.py).
"""

from __future__ import annotations

import sys
from pathlib import Path

# The script's own folder goes: in it this file would hide the model of the same name.
TESTS = Path(__file__).resolve().parents[1]
sys.path[:1] = [str(TESTS), str(TESTS.parent)]

from learner_trials import (
    CLIMBING_WAYS,
    FADING_WAYS,
    MOST_CLIMB,
    MOST_PASSES,
    OurFading,
    climb_many,
    learn_many,
)
from learners import READ_SLOW

SEEDS = range(100)


def fading_table(count: int, worth: int) -> None:
    recall_slow = READ_SLOW * worth
    passes = round(learn_many(OurFading, count, SEEDS, 1, recall_slow).over)
    print(f"\n{count} bars, a recall worth {worth} readings; recall after {passes} passes; {MOST_PASSES} = never")
    print(f"  {'':48} {'known':>6} {'over':>6} {'at once':>8} {'a day':>6} {'a week':>7}")
    for name, way in FADING_WAYS.items():
        result = learn_many(way, count, SEEDS, passes, recall_slow)
        shares = f"{result.recall:8.0%} {result.day:6.0%} {result.week:7.0%}"
        print(f"  {name:48} {result.known:6.1f} {result.over:6.1f} {shares}")


def climbing_table(mastered_bpm: float, target_bpm: float) -> None:
    print(f"\nhalf the passes clean at {mastered_bpm:g}, target {target_bpm:g}; given up after {MOST_CLIMB}")
    print(f"  {'':48} {'bad':>6} {'passes':>7} {'arrived':>8}")
    for name, way in CLIMBING_WAYS.items():
        result = climb_many(way, mastered_bpm, target_bpm, SEEDS)
        print(f"  {name:48} {result.bad:6.1f} {result.passes:7.1f} {result.arrived:8.0%}")


def main() -> None:
    print(f"Means over {len(SEEDS)} simulated students.")
    for count, worth in ((8, 3), (32, 3), (32, 2), (32, 6)):
        fading_table(count, worth)
    for mastered_bpm, target_bpm in ((90, 120), (90, 160), (60, 120)):
        climbing_table(mastered_bpm, target_bpm)


if __name__ == "__main__":
    main()
