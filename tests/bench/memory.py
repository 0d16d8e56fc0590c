"""Does the app grow while it plays? Its memory and the sound process's after a minute and after an hour of play.

    python tests/bench/memory.py [MINUTES]

The app stands in a real pseudo-terminal and plays a song silently, over and over, with shells, click and walking bass; every pass goes into the
log. Resident megabytes (VmRSS of /proc, so Linux only). Goal: after an hour no more than 1.2 times what it was after a minute.
"""

from __future__ import annotations

import re
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.terminal import Terminal, environment

SONG = "ferry-at-half-past-six"
SETTINGS = '[playing]\ndemonstrate = true\nbass = "walking"\n\n[sound]\nmode = "silent"\n'
TOLD_EVERY_MIN = 10
GOAL = 1.2


def resident_mb(pid: int) -> float:
    return int(re.search(r"VmRSS:\s+(\d+) kB", Path(f"/proc/{pid}/status").read_text())[1]) / 1024


def sound_process(app: int) -> int:
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            parent = int((folder / "stat").read_text().rpartition(")")[2].split()[1])
            if parent == app and b"spawn_main" in (folder / "cmdline").read_bytes():
                return int(folder.name)
        except (FileNotFoundError, ProcessLookupError):
            continue  # it ended meanwhile
    raise RuntimeError("the sound process is not there")


def play_on(terminal: Terminal, until_s: float) -> None:
    """Read what is drawn, and forget it."""
    while (left_s := until_s - time.perf_counter()) > 0:
        terminal.read(left_s)
        terminal.drawn = b""


def main() -> int:
    minutes = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    with tempfile.TemporaryDirectory() as name:
        env = environment(Path(name))
        settings = Path(name) / "home" / "config" / "settings.toml"
        settings.parent.mkdir(parents=True)
        settings.write_text(SETTINGS)
        with Terminal([str(Path(name) / "companion"), "stand", SONG], env) as terminal:
            terminal.wait_for(b"stopped")
            terminal.settle(1.0)
            terminal.press(b" ")
            began_s = time.perf_counter()
            pids = (terminal.pid, sound_process(terminal.pid))
            print(f"{'megabytes':>12}{'app':>9}{'sound':>9}", flush=True)
            first: list[float] = []
            now: list[float] = []
            for minute in [1.0, *range(TOLD_EVERY_MIN, int(minutes), TOLD_EVERY_MIN), minutes]:
                play_on(terminal, began_s + minute * 60)
                now = [resident_mb(pid) for pid in pids]
                first = first or now
                print(f"{minute:>8g} min{now[0]:>9.1f}{now[1]:>9.1f}", flush=True)
    growth = [later / earlier for later, earlier in zip(now, first)]
    print(f"{'times':>12}{growth[0]:>9.2f}{growth[1]:>9.2f}")
    return 0 if max(growth) <= GOAL else 1


if __name__ == "__main__":
    sys.exit(main())
