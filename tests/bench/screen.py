"""From a key to the screen, and from a beat to the screen, in a real pseudo-terminal.

    python tests/bench/screen.py [SECONDS]

Keys: 50 presses of each on the stand while stopped, from the key written to the first and to the last of the bytes that repaint, beside
a Textual app that has one line and changes it at the key. Beats: the app plays silently with every click, for 30 seconds by default; its
sound process notes when each click was sent, and the bytes are searched for that beat's own sign (all processes share one clock on Linux
and macOS). A beat is drawn a little before it sounds, for the way to the glass takes time too. Milliseconds.
Goals: 95 of 100 keys within 16 ms; every beat drawn within 33 ms of its sound.
"""

from __future__ import annotations

import csv
import os
import re
import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from companion.chart.reader import read_chart
from tests.terminal import REPOSITORY, Terminal, environment

PRESSES = 50
QUIET_S = 0.06  # after so long without bytes a repaint is over
AHEAD_S = 0.060  # a beat's sign is looked for from so long before its sound
SONG = "ferry-at-half-past-six"  # four beats in each bar
KEYS = {
    "tempo (f and s)": (b"f", b"s"),
    "mark moves (arrows)": (b"\x1b[C", b"\x1b[D"),
    "pattern (p)": (b"p",),
    "click (c)": (b"c",),
}

PLAYER = """
import gc
import sys
from companion.store.library import find_song
from companion.store.paths import find_paths
from companion.store.settings import load_settings
from companion.sound.link import SoundLink
from companion.session.sound_settings import sound_config
if __name__ == "__main__":
    gc.disable()  # as the command does
    paths = find_paths()
    settings = load_settings(paths)
    with SoundLink(sound_config(settings, mode="silent", trace=sys.argv[2])) as link:
        from companion.tui.app import CompanionApp
        CompanionApp(paths, settings, link, find_song(sys.argv[1], paths, settings)).run()
"""
BARE_APP = """
from textual.app import App
from textual.widgets import Static
class Bare(App):
    count = 0
    def compose(self):
        yield Static("bar 0")
    def on_key(self):
        self.count += 1
        self.query_one(Static).update(f"bar {self.count}")
if __name__ == "__main__":
    Bare().run()
"""


def presses(terminal: Terminal, keys: tuple[bytes, ...]) -> tuple[list[float], list[float]]:
    """Milliseconds to the first and to the last bytes of each repaint."""
    first, last = [], []
    for number in range(PRESSES):
        terminal.settle(QUIET_S)
        pressed_s = terminal.press(keys[number % len(keys)])
        came_s = terminal.read(1.0)
        if came_s is None:
            raise RuntimeError(f"nothing was drawn after {keys[number % len(keys)]!r}")
        first.append((came_s - pressed_s) * 1000)
        while (more_s := terminal.read(QUIET_S)) is not None:
            came_s = more_s
        last.append((came_s - pressed_s) * 1000)
    return first, last


def signs_drawn(terminal: Terminal, seconds: float) -> list[tuple[float, int]]:
    """(perf_counter, beat in the bar from 1) of every sounding beat's sign among the bytes, such as █ 3 █."""
    drawn = []
    end_s = time.perf_counter() + seconds
    while (now_s := time.perf_counter()) < end_s:
        terminal.drawn = b""
        came_s = terminal.read(end_s - now_s)
        if came_s is not None:
            drawn += [(came_s, int(sign)) for sign in re.findall("█ ([1-4]) █".encode(), terminal.drawn)]
    return drawn


def beats(trace: Path, drawn: list[tuple[float, int]], tempo_bpm: float) -> tuple[list[float], int]:
    """Milliseconds from each click's sound to its sign (below zero: drawn before); how many were never drawn. Not every beat of a count-in
    clicks, so which beat a click is comes from when it was due."""
    with trace.open(newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["what"] == "note_on" and row["channel"] == "10"]
    first_s, beat_s = float(rows[0]["due_s"]), 60.0 / tempo_bpm
    off, missing = [], 0
    for click in rows[:-1]:  # the app may be stopped before the last one is drawn
        here_s = float(click["sent_s"])
        sign = round((float(click["due_s"]) - first_s) / beat_s) % 4 + 1
        seen = [came_s for came_s, beat in drawn if beat == sign and here_s - AHEAD_S <= came_s < here_s + beat_s]
        missing += not seen
        off += [(seen[0] - here_s) * 1000] if seen else []
    return off, missing


def row(name: str, times: list[float]) -> str:
    marks = statistics.quantiles(times, n=20, method="inclusive")
    return f"{name:44}{min(times):8.1f}{statistics.median(times):8.1f}{marks[18]:8.1f}{max(times):8.1f}"


def main() -> int:
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 30.0
    met = True
    print(f"load average {os.getloadavg()[0]:.1f}\n{'ms':44}{'least':>8}{'median':>8}{'p95':>8}{'worst':>8}")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        env = environment(folder)
        player, bare, trace = folder / "player.py", folder / "bare.py", folder / "trace.csv"
        player.write_text(PLAYER)
        bare.write_text(BARE_APP)
        with Terminal([str(bare)], env) as terminal:
            terminal.wait_for(b"bar 0")
            first, last = presses(terminal, (b"f",))
            print(row("a bare Textual app, key to first bytes", first))
        with Terminal([str(player), SONG, str(trace)], env) as terminal:
            terminal.wait_for(b"stopped")
            terminal.settle(1.0)
            for words, keys in KEYS.items():
                first, last = presses(terminal, keys)
                print(row(f"{words}, key to first bytes", first))
                print(row(f"{words}, to last bytes", last))
                met = met and statistics.quantiles(last, n=20, method="inclusive")[18] <= 16
        beats_folder = folder / "beats"  # a home of its own: the keys above left other clicks in the first
        beats_folder.mkdir()
        with Terminal([str(player), SONG, str(trace)], environment(beats_folder)) as terminal:
            terminal.wait_for(b"stopped")
            terminal.settle(1.0)
            terminal.press(b" ")
            drawn = signs_drawn(terminal, seconds)
            terminal.press(b" ")
            terminal.settle()
        off, missing = beats(trace, drawn, read_chart(REPOSITORY / "songs" / f"{SONG}.toml").tempo_bpm)
    print(row(f"{len(off)} beats, sound to sign", off))
    print(f"{missing} beats never drawn; goals: 16 ms at p95 for keys, 33 ms for every beat")
    return 0 if met and not missing and max(map(abs, off)) <= 33 else 1


if __name__ == "__main__":
    sys.exit(main())
