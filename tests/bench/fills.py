"""Fills over our songs in every key with 14 seeds: faults by the checker that knows nothing of how they are made, gaps filled, kinds, milliseconds a chorus.

.venv/bin/python tests/bench/fills.py [first seed] [seeds]
"""

from __future__ import annotations

import statistics
import sys
import time
from collections import Counter
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
sys.path[:1] = [str(TESTS), str(TESTS.parent)]

from fills_checker import faults
from fills_of_songs import around, chords_of, places_of, plain, pulse_of, tick_ms_of
from shipped import SONGS

from companion.session.stand import Stand
from companion.store.paths import find_paths
from companion.store.settings import load_settings
from companion.theory.key import Key


def main() -> None:
    """Print faults, how many gaps are filled, which kinds, and how long it takes."""
    first, count = (int(word) for word in (*sys.argv[1:], *("10000", "14")[len(sys.argv) - 1 :]))
    settings = load_settings(find_paths({"COMPANION_HOME": "/nonexistent"}))
    times, gaps, filled, found = [], 0, 0, 0
    kinds: Counter[str] = Counter()
    for song in SONGS:
        stand = Stand.put(song, settings)
        for pc in range(12):
            moved = stand.with_key(Key.usual(pc, song.key.mode))
            chords, tick_ms = chords_of(moved), tick_ms_of(moved)
            for seed in range(first, first + count):
                start = time.process_time()
                places = places_of(moved, seed)
                times.append(1000 * (time.process_time() - start))
                for place in places:
                    gaps, filled = gaps + 1, filled + bool(place.choices)
                    for fill in place.choices:
                        kinds[fill.kind] += 1
                        told = faults(
                            plain(fill), *around(moved, place), chords, tick_ms, pulse_of(place), kind=fill.kind
                        )
                        found += bool(told)
                        if told:
                            print(song.id, moved.key, seed, told, fill)
    print(
        f"{len(times)} choruses, {found} fills at fault of {sum(kinds.values())} ({dict(kinds)}); {filled} of {gaps} gaps filled; "
        f"median {statistics.median(times):.0f}, slowest {max(times):.0f} ms of processor time"
    )


if __name__ == "__main__":
    main()
