"""How fast a folder of ten thousand song files is listed, the first time and after.

    python tests/bench/songs.py [FILES]

The shipped songs copied under many names, each with a title of its own. The first time every file is read; after that only what changed.
Beside it: what the system takes to name the files and tell their size and time of change, below which no list can go. Milliseconds, best
of 5 but for the first time. Goal: under a second after the first time.
"""

from __future__ import annotations

import os
import re
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from companion.store.library import list_songs
from companion.store.paths import find_paths
from companion.store.settings import shipped_settings

RUNS = 5


def fill(folder: Path, count: int, shipped: Path) -> None:
    folder.mkdir(parents=True)
    texts = [path.read_text(encoding="utf-8") for path in sorted(shipped.glob("*.toml"))]
    for number in range(count):
        text = re.sub(r'^title = "', f'title = "{number} ', texts[number % len(texts)], count=1, flags=re.MULTILINE)
        (folder / f"song-{number:05}.toml").write_text(text, encoding="utf-8")


def took_ms(action: Callable[[], object]) -> float:
    started_s = time.perf_counter()
    action()
    return (time.perf_counter() - started_s) * 1000


def main() -> int:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as home:
        paths = find_paths({"COMPANION_HOME": home})
        settings = shipped_settings(paths)
        fill(paths.songs, count, paths.shipped_songs)

        def listed() -> None:
            entries = list_songs(paths, settings)
            assert sum(entry.own and not entry.fault for entry in entries) == count, "not every song was listed"

        first = took_ms(listed)
        again = min(took_ms(listed) for _ in range(RUNS))
        changed = sorted(paths.songs.glob("*.toml"))[::100]
        for path in changed:
            path.write_text(path.read_text(encoding="utf-8") + "\n# changed\n", encoding="utf-8")
        some = took_ms(listed)
        least = min(took_ms(lambda: [entry.stat() for entry in os.scandir(paths.songs)]) for _ in range(RUNS))
    print(f"{count} song files; load average {os.getloadavg()[0]:.1f}")
    rows = (
        ("the first time", first),
        ("after that", again),
        (f"{len(changed)} changed", some),
        ("names and sizes alone", least),
    )
    print(f"{'':24}{'ms':>9}{'the first time over it':>25}")
    for name, ms in rows:
        print(f"{name:24}{ms:9.0f}{first / ms:24.1f}x")
    print("goal: 1000 ms after the first time")
    return 0 if again < 1000 else 1


if __name__ == "__main__":
    sys.exit(main())
