"""How often a melody played in comes out as written. Run by hand: python tests/bench/played_in.py [melodies]

Sections of our songs, played as tests/melodies_played.py does it; seeds from 10,000 on, which nothing was tuned on. Goal: 95 of 100 bars.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
sys.path[:1] = [str(TESTS), str(TESTS.parent)]

from melodies_played import play_in, read_again

from companion.chart.reader import read_chart


def main() -> None:
    """Print the share of bars that came out as written, and the seconds a melody took."""
    melodies = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    songs = [read_chart(path) for path in sorted((TESTS.parent / "songs").glob("*.toml"))]
    bars = right = ratios = 0
    began = time.perf_counter()
    for seed in range(10_000, 10_000 + melodies):
        played = play_in(songs, seed)
        reading, got = read_again(played)
        bars += len(played.written)
        right += sum(got.get(bar) == notes for bar, notes in played.written.items())
        ratios += reading.ratio == 1.0 or abs(reading.ratio - played.ratio) <= 0.2
    seconds = (time.perf_counter() - began) / melodies
    print(f"{melodies} melodies: {100 * right / bars:.1f} of 100 bars as written (goal 95), {bars} bars")
    print(f"swing straight or within 0.2: {100 * ratios / melodies:.0f} %; {1000 * seconds:.0f} ms a melody")


if __name__ == "__main__":
    main()
