"""How true the marks of takes are, on takes made up from seeds never used while tuning. Run by hand:

    python tests/bench/marking.py [ways] [habits] [reference] [long] [takes of each, 60 unless told] [first seed] [-only words of a way or habit] [-others, or a pattern]

-others: in the rhythms that strike keys one by one or early, in place of those that strike whole shells on their beat; or in one that is named.

False: clean chords marked as not right. Found: of the slips. True: of all that is reported as not right. Named: waits, bars begun
again and bars left out, at the right place. Then the habits named in takes of four choruses that have them, and takes without any that get a
sentence; then on how many keys a published alignment agrees, and why not on the others; then how long a take of ten minutes needs.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

# The script's own folder goes, so that tests/ is found first.
TESTS = Path(__file__).resolve().parents[1]
sys.path[:1] = [str(TESTS), str(TESTS.parent)]

from practice.marking_trials import HABITS, WAYS, habit_take, habits_told, mark, trial
from practice.reference_alignment import REFERENCE_WAYS, compare_takes
from practice.take_plans import Recipe
from practice.takes import SEEDS_KEPT, make
from practice.tunes import OTHER_PATTERNS, SHELL_PATTERNS

from companion.groove.names import PATTERN_NAMES

# false at most, found, true, named at least
GOALS = {"steady": (0.005, 0.99, 0.96, 0.95), "rolled by 120 ms": (0.005, 0.99, 0.96, 0.95)}
# Without a habit, so that one in twenty with a sentence would be seen.
CLEAN_TAKES = 60
USUAL_GOAL = (0.02, 0.99, 0.88, 0.95)


def wanted(rows: Mapping[str, Any]) -> list[tuple[str, Any]]:
    """The rows whose names hold the word after -only, else all."""
    word = sys.argv[sys.argv.index("-only") + 1] if "-only" in sys.argv else ""
    return [row for row in rows.items() if word in row[0]]


def ways_table(count: int, first: int) -> None:
    named = tuple(name for name in PATTERN_NAMES if name in sys.argv)
    patterns = named or (OTHER_PATTERNS if "-others" in sys.argv else SHELL_PATTERNS)
    print(f"{count} takes of each way, seeds from {first}, in {', '.join(patterns)}; + met, - missed")
    print(f"  {'':32} {'false':>9} {'found':>9} {'true':>8} {'named':>8} {'invented':>8} {'chords':>7} pattern lost")
    for name, way in wanted(WAYS):
        tally = trial(way, range(first, first + count), patterns)
        goals = GOALS.get(name, USUAL_GOAL)
        false, found, true, named = tally.false_share, tally.found_share, tally.true_share, tally.named_share
        cells = [
            f"{false:8.2%}{'+' if false <= goals[0] else '-'}",
            f"{found:8.1%}{'+' if found >= goals[1] else '-'}",
            f"{true:7.0%}{'+' if true >= goals[2] else '-'}",
            f"{named:7.0%}{'+' if named >= goals[3] else '-'}" if tally.events else f"{'':8}",
        ]
        print(
            f"  {name:32} {' '.join(cells)} {tally.invented:8} {tally.clean + tally.slips:7} {tally.wrong_pattern:7} {tally.lost:4}",
            flush=True,
        )
        if "-v" in sys.argv:
            print(*(f"      {fault}" for fault in tally.faults), sep="\n")


def habits_table(count: int, first: int) -> None:
    print(
        f"\nhabits, {count} takes of four choruses each; goals: named 9 of 10, at most 1 in 20 with any other sentence"
    )
    for habit, _ in wanted(dict.fromkeys(("", *HABITS))):
        named = others = 0
        takes = count if habit else max(count, CLEAN_TAKES)
        for seed in range(first, first + takes):
            told = habits_told(habit_take(habit, seed))
            named += habit in told
            others += any(kind != habit for kind in told)
        what = f"named {named} of {takes}, another" if habit else "any"
        print(f"  {habit or 'none':32} {what} sentence {others} of {takes}", flush=True)


def reference_table(count: int, first: int) -> None:
    print(f"\nkeys taken for the same note by parangonar's dual time warping, {count} takes of each way")
    for way in REFERENCE_WAYS:
        same, causes = compare_takes(WAYS[way], range(first, first + count))
        other = ", ".join(f"{name or 'UNEXPLAINED'} {keys}" for name, keys in causes.most_common())
        print(f"  {way:32} {same / (same + causes.total()):7.2%} of {same + causes.total()}; {other}", flush=True)


def long_take(_count: int, first: int) -> None:
    made = make(
        "ferry-at-half-past-six",
        Recipe(choruses=10, tempo=126.0, waits=6, restarts=3, wander=0.02, slips=12),
        first,
    )
    times = []
    for _ in range(3):
        start = time.process_time()
        mark(made)
        times.append(time.process_time() - start)
    length_s = made.presses[-1].time_s
    print(
        f"\na take of {length_s / 60:.1f} minutes, {len(made.presses)} keys: {min(times):.2f} s of processor time (goal: 2 s)"
    )


def main() -> None:
    numbers = [int(text) for text in sys.argv[1:] if text.isdigit()]
    count = numbers[0] if numbers else 60
    first = numbers[1] if len(numbers) > 1 else SEEDS_KEPT
    tables = {"ways": ways_table, "habits": habits_table, "reference": reference_table, "long": long_take}
    for name in [name for name in tables if name in sys.argv] or tables:
        tables[name](count, first)


if __name__ == "__main__":
    main()
