"""Whole arrangements through every checker that knows nothing of how they are made: all songs, twelve keys, one to four voices, so many seeds, each with slides, tremolos, fills, walks, an introduction and
an ending by chance. In pieces that can be gone on with: each line tells where the next one begins.

.venv/bin/python tests/bench/arrangement.py [first seed] [seeds] [every so many-th] [from]
"""

from __future__ import annotations

import sys
import time
from pathlib import Path
from random import Random

TESTS = Path(__file__).resolve().parents[1]
sys.path[:1] = [str(TESTS), str(TESTS.parent)]

from arrangement_checker import limits_broken
from arrangements_of_songs import all_faults, everything, played_of, spoiled
from shipped import SONGS

from companion.session.arranged import arranged
from companion.store.paths import find_paths
from companion.store.settings import load_settings

_PIECE = 200


def main() -> None:
    """Print faults as they are found, and after each piece what came of it so far."""
    first, count, every, begin = (
        int(word) for word in (*sys.argv[1:], *("10000", "14", "1", "0")[len(sys.argv) - 1 :])
    )
    settings = load_settings(find_paths({"COMPANION_HOME": "/nonexistent"}))
    songs = [song for song in SONGS if any(section.melody for section in song.sections.values())]
    grid = [
        (song, pc, voices, seed)
        for song in songs
        for pc in range(12)
        for voices in (1, 2, 3, 4)
        for seed in range(first, first + count)  # last, as what no seed changes is then worked out once
    ]
    chance, start = Random(first), time.process_time()
    tried = wrong = strokes = missed = 0
    for place in range(begin, len(grid), every):
        song, pc, voices, seed = grid[place]
        stand = everything(song, pc, voices, seed, settings)
        whole = arranged(stand)
        played = played_of(stand, whole)
        found = all_faults(stand, whole, played)
        tried, wrong = tried + 1, wrong + bool(found)
        strokes += len(played)
        way, spoilt = spoiled(played, chance)
        if not limits_broken(spoilt):
            missed += 1
            print("not seen:", way, song.id, pc, voices, seed, flush=True)
        for words in found[:3]:
            print(song.id, pc, voices, seed, stand.arranged.intro, stand.arranged.ending, words, flush=True)
        if tried % _PIECE == 0 or place + every >= len(grid):
            print(
                f"{tried} arrangements, {strokes} strokes: {wrong} with a fault; of {tried} spoiled {missed} not seen; "
                f"{time.process_time() - start:.0f} s of processor time; go on from {place + every} of {len(grid)}",
                flush=True,
            )


if __name__ == "__main__":
    main()
