"""Swung versions of every song of ours, in twelve keys, by fourteen seeds that nothing was tuned with. Run by hand: python tests/bench/swung.py

Every version is held against the straight melody by `tests/swung_checker.py`, which knows nothing of how it is made. Printed for every song:
versions, those with a fault, and the least, the mean and the largest share of bars changed; at the end how often two of the three versions
of a seed are the same, and the processor time of one.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path
from statistics import mean

sys.path.insert(0, str(Path(__file__).parents[1]))

from swung_checker import changed_bars, faults
from swung_songs import chart_of, plain

from companion.chart.melody import chorus_melody
from companion.chart.reader import read_chart
from companion.chart.transpose import transpose
from companion.groove.swung_choice import VERSIONS, BarVersion, SwungChoice
from companion.groove.swung_song import played_melody
from companion.theory.key import Key

SONGS = Path(__file__).parents[2] / "songs"
SEEDS = range(10_000, 10_014)


def main() -> None:
    total = wrong = alike = 0
    spent = 0.0
    for path in sorted(SONGS.glob("*.toml")):
        song = read_chart(path)
        shares: list[float] = []
        rhythms: dict[tuple[int, int], list[tuple[int, int]]] = {}
        bad = 0
        for pc in range(12):
            moved = transpose(song, Key.usual(pc, song.key.mode))
            chart, straight = chart_of(moved), plain(chorus_melody(moved))
            for seed in SEEDS:
                for number in VERSIONS:
                    began = time.process_time()
                    notes = played_melody(moved, SwungChoice(BarVersion(number, seed), seed))
                    spent += time.process_time() - began
                    swung = plain(notes)
                    times = [note[:2] for note in swung]
                    bad += bool(faults(chart, straight, swung)) or rhythms.setdefault((seed, number), times) != times
                    changed = changed_bars(chart, straight, swung)
                    shares.append(sum(changed) / len(changed))
        total, wrong = total + len(shares), wrong + bad
        alike += sum(len({tuple(rhythms[seed, number]) for number in VERSIONS}) < 3 for seed in SEEDS)
        print(f"{path.stem:30}{len(shares):5} {bad:3}   {min(shares):.2f} {mean(shares):.2f} {max(shares):.2f}")
    print(
        f"{total} versions, {wrong} with a fault or another rhythm in another key; seeds with two alike: {alike}; {1000 * spent / total:.1f} ms each"
    )


if __name__ == "__main__":
    main()
