"""The harmonised right hand over our songs in every key: faults by the checker that knows nothing of the solver, company, milliseconds a chorus.

.venv/bin/python tests/bench/harmony.py [songs]
"""

from __future__ import annotations

import statistics
import sys
import time
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
sys.path[:1] = [str(TESTS), str(TESTS.parent)]

from harmony_checker import faults
from harmony_of_songs import chords_of, struck_of, tick_ms_of
from shipped import SONGS

from companion.arranging.choice import ArrangementChoice
from companion.hands.right.voicings import is_due
from companion.session.stand import Stand
from companion.store.paths import find_paths
from companion.store.settings import load_settings
from companion.theory.key import Key


def main() -> None:
    """Print a line for each number of voices, and what the notes without company lack."""
    settings = load_settings(find_paths({"COMPANION_HOME": "/nonexistent"}))
    songs = SONGS[: int(sys.argv[1])] if len(sys.argv) > 1 else SONGS
    for voices, tensions in ((2, False), (3, False), (3, True), (4, True)):
        times, due, company, found = [], 0, 0, 0
        for song in songs:
            stand = Stand.put(song, settings)
            for pc in range(12):
                moved = stand.with_key(Key.usual(pc, song.key.mode)).change(
                    arranged=ArrangementChoice(voices, tensions)
                )
                start = time.process_time()
                notes = moved.harmonised
                times.append(1000 * (time.process_time() - start))
                found += len(faults(struck_of(notes), chords_of(moved, tensions), tick_ms_of(moved), voices))
                due += sum(is_due(note.stroke, voices) for note in notes)
                company += sum(len(note.voicing.keys) > 1 for note in notes)
        print(
            f"{voices} voices{', tensions' if tensions else ''}: {len(times)} choruses, {found} faults, {100 * company / due:.1f} % of "
            f"{due} notes due have company; median {statistics.median(times):.0f}, slowest {max(times):.0f} ms of processor time"
        )


if __name__ == "__main__":
    main()
