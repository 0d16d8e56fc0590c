"""How long the companion takes to start, beside what any program of its kind must take.

    python tests/bench/start.py

`companion --version` beside `python -c pass`; the app's first paint, and its songs, beside a Textual app with one line of text, both in a
real pseudo-terminal, from the start of the process to the bytes; the sound process from its start to its word that it is ready. Medians
of 7 runs that take turns, milliseconds. Byte code is kept, as in a real install; one run before makes it.
Goals: 3 times the bare Python, 1.5 times the bare app, sound ready 500 ms after the first paint.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from companion.sound.link import SoundLink
from companion.sound.messages import Ready, SoundConfig
from tests.terminal import Terminal, environment

RUNS = 7
BARE_APP = """
from textual.app import App
from textual.widgets import Static
class Bare(App):
    def compose(self):
        yield Static("a line of text")
if __name__ == "__main__":
    Bare().run()
"""


def command_ms(arguments: list[str], env: dict[str, str]) -> float:
    started_s = time.perf_counter()
    subprocess.run([sys.executable, *arguments], env=env, check=True, stdout=subprocess.DEVNULL)
    return (time.perf_counter() - started_s) * 1000


def app_ms(arguments: list[str], env: dict[str, str], *patterns: bytes) -> list[float]:
    """Milliseconds from the start until each pattern was drawn."""
    with Terminal(arguments, env) as terminal:
        return [(terminal.wait_for(pattern) - terminal.started_s) * 1000 for pattern in patterns]


def sound_ms() -> float:
    started_s = time.perf_counter()
    with SoundLink(SoundConfig()) as link:
        while not any(isinstance(report, Ready) for report in link.poll()):
            time.sleep(0.001)
        return (time.perf_counter() - started_s) * 1000


def main() -> int:
    rows: dict[str, list[float]] = {}

    def note(name: str, took_ms: float) -> None:
        rows.setdefault(name, []).append(took_ms)

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        env = environment(folder)
        companion, bare = str(folder / "companion"), folder / "bare.py"
        bare.write_text(BARE_APP)
        for run in range(RUNS + 1):
            if run == 1:
                rows.clear()  # the first one wrote the byte code
            note("python -c pass", command_ms(["-c", "pass"], env))
            note("companion --version", command_ms([companion, "--version"], env))
            note("bare Textual app, its text", app_ms([str(bare)], env, b"a line of text")[0])
            paint, songs, sound = app_ms(
                [companion],
                env,
                b"Which song",
                b"Ferry at Half Past Six",
                rb"songs? +(Sounding|Playing|No |.*silently)",
            )
            note("the app, first paint", paint)
            note("the app, its songs", songs)
            note("the app, what sounds is written", sound)
            note("... after the first paint", sound - paint)
            note("SoundLink.start() to Ready", sound_ms())
    middle = {name: statistics.median(taken) for name, taken in rows.items()}
    beside = {
        "companion --version": ("python -c pass", 3.0),
        "the app, first paint": ("bare Textual app, its text", 1.5),
        "the app, its songs": ("bare Textual app, its text", 1.5),
    }
    print(f"load average {os.getloadavg()[0]:.1f}; medians of {RUNS} (fastest to slowest), ms")
    for name, took in middle.items():
        ratio = (
            f"{took / middle[beside[name][0]]:5.2f} times {beside[name][0]} (goal {beside[name][1]})"
            if name in beside
            else ""
        )
        print(f"{name:34}{took:8.0f}   ({min(rows[name]):.0f} to {max(rows[name]):.0f})   {ratio}")
    print("goal for sound ready: 500 ms after the first paint")
    met = all(middle[name] <= goal * middle[base] for name, (base, goal) in beside.items())
    return 0 if met and middle["... after the first paint"] <= 500 else 1


if __name__ == "__main__":
    sys.exit(main())
