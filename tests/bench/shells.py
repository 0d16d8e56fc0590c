"""What the shells of our songs are like, in twelve keys. Run by hand: python tests/bench/shells.py

Prints for every song, before and after its shells went by prices (`BEFORE`: measured on the nineteen songs when movement alone
counted, sixth chords took root and fifth, and roots ended at F3):

- held: falling fifths from a seventh chord onto a seventh or sixth chord whose upper note stays or moves by step, of all of them
- leaps: changes of chord whose upper note moves a minor third or more
- moved: semitones that both notes travel
- resolved: sevenths and thirds that move on by step into the third or sixth of a sixth chord, of all cadences onto one

once with every phrase by itself and once as it is, with equal phrases alike; and how far that is from the goal.
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
sys.path[:1] = [str(TESTS), str(TESTS.parent)]

from shell_figures import BEFORE, COLUMNS, GOAL, MORE_IS_BETTER, counted, keys_of

from companion.chart.reader import read_chart
from companion.practice.slots import slots_of

SONGS = TESTS.parent / "songs"


def main() -> None:
    print(f"{'':32}{'before':>28}{'each phrase by itself':>34}{'equal phrases alike':>34}")
    heads = "".join(f"{column:>{8 if column != COLUMNS[0] else 10}}" for column in COLUMNS)
    print(f"{'':30}{heads}{heads}{heads}")
    sums: list[Counter[str]] = [Counter(), Counter(), Counter()]
    for path in sorted(SONGS.glob("*.toml")):
        choruses = [slots_of(song, song.unroll()) for song in keys_of(read_chart(path))]
        alone: Counter[str] = sum(
            (counted([replace(slot, bar=None) for slot in chorus]) for chorus in choruses), Counter()
        )
        alike: Counter[str] = sum((counted(chorus) for chorus in choruses), Counter())
        before = Counter(dict(zip(COLUMNS, BEFORE.get(path.stem, (0,) * 4), strict=True)))
        if path.stem in BEFORE:
            for total, each in zip(sums, (before, alone, alike), strict=True):
                total.update(each)
        print(_row(path.stem, before, alone, alike))
    print(_row("the nineteen songs", *sums))
    print(
        f"of {sums[1]['falls']} falling fifths, {sums[1]['changes']} changes, {sums[1]['cadences']} cadences onto a sixth chord;"
    )
    print(f"cost {sums[1]['cost']} by itself, {sums[2]['cost']} alike")
    for column in COLUMNS:
        goal, got = GOAL[column], [total[column] for total in sums[1:]]
        better = "or more" if column in MORE_IS_BETTER else "or less"
        print(
            f"{column:10} goal {goal} {better}: "
            + ", ".join(f"{each} ({100 * (each - goal) / goal:+.1f} %)" for each in got)
        )


def _row(name: str, *parts: Counter[str]) -> str:
    cells = "".join(f"{part[column]:>{8 if column != COLUMNS[0] else 10}}" for part in parts for column in COLUMNS)
    return f"{name:30}{cells}"


if __name__ == "__main__":
    main()
