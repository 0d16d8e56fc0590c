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
from statistics import mean, median

# The script's own folder goes: in it this file would hide the model of the same name.
TESTS = Path(__file__).resolve().parents[1]
sys.path[:1] = [str(TESTS), str(TESTS.parent)]

from learner_trials import (
    ABLE,
    CLIMBING_WAYS,
    FADING_WAYS,
    KEPT_SEEDS,
    LEARNING,
    MOST_CLIMB,
    MOST_PASSES,
    WEAK,
    HandModel,
    OurFading,
    climb_many,
    climb_model,
    learn_many,
    passed_within,
    settled_share,
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


LONG = 200  # passes after which the climb of a weak student is given up
PASSES_A_DAY = 12


def gentle_table(what: str, models: tuple[HandModel, ...], most: int, passes_a_day: int = 0) -> None:
    print(f"\n{what}: each climb by the strict rule and by the gentle one; given up after {most}")
    if passes_a_day:
        print(f"  {passes_a_day} passes a day")
    print(
        f"  {'at target':>9} {'slips':>5} {'spread':>6} {'learns':>6}  passes: mean, half of them   bad passes   over within 50, 100, 200   able then"
    )
    for model in models:
        chance = model.hands(0).odds(120.0)
        strict, gentle = (climb_model(model, rule, KEPT_SEEDS, most, passes_a_day) for rule in ("strict", "gentle"))
        pairs = [
            (
                f"{mean(c.passes for c in each):4.0f} {median(c.passes for c in each):4.0f}",
                f"{mean(c.bad for c in each):5.1f}",
                " ".join(f"{passed_within(each, passes):4.0%}" for passes in (50, 100, 200)),
                f"{mean(c.chance for c in each):4.0%}",
            )
            for each in (strict, gentle)
        ]
        columns = "   ".join(f"{old} | {new}" for old, new in zip(*pairs, strict=True))
        print(f"  {chance:9.0%} {model.slips:5.0%} {model.spread:6.2f} {model.learning:6.1f}  {columns}", flush=True)


def settling_table() -> None:
    print("\nshare of clean passes where the climb settles, students who learn nothing")
    for spread in (0.05, 0.08, 0.15, 0.3):
        for slips in (0.0, 0.1):
            strict, gentle = (settled_share(rule, spread, slips, KEPT_SEEDS[:60]) for rule in ("strict", "gentle"))
            print(f"  spread {spread:.2f}, slips {slips:3.0%}: strict {strict:.3f}, gentle {gentle:.3f}", flush=True)


def gentle_tables() -> None:
    settling_table()
    gentle_table("Able students who slip by chance", ABLE, MOST_CLIMB)
    gentle_table("Weak students who learn nothing", WEAK, LONG)
    gentle_table("The same, on many days", WEAK[-9:], LONG, PASSES_A_DAY)
    gentle_table("Students who learn", LEARNING, MOST_CLIMB)


def main() -> None:
    if sys.argv[1:] == ["climb"]:
        gentle_tables()
        return
    print(f"Means over {len(SEEDS)} simulated students.")
    for count, worth in ((8, 3), (32, 3), (32, 2), (32, 6)):
        fading_table(count, worth)
    for mastered_bpm, target_bpm in ((90, 120), (90, 160), (60, 120)):
        climbing_table(mastered_bpm, target_bpm)
    gentle_tables()


if __name__ == "__main__":
    main()
