"""The whole app, with its real sound process, under a shell in a real pseudo-terminal; for tests that let it come to harm.

The sound process is silent and writes down what it sends, so that a note left hanging is seen. Linux only: /proc tells who is whose child.
"""

from __future__ import annotations

import contextlib
import csv
import fcntl
import itertools
import os
import pty
import re
import signal
import struct
import subprocess
import sys
import termios
import threading
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Self

import pyte
from terminal import REPOSITORY

from companion.practice.model import PassRecord
from companion.store.log.practice_log import PracticeLog
from companion.store.paths import Paths, find_paths

PATIENCE_S = 120.0  # for a machine that has other work
SONG = "two-bars"
PASS_BEATS, PASS_S = 8, 1.6
CHART = """title = "Two Bars"
key = "Bb"
meter = "4/4"
tempo = 300
feel = "swing"
form = "A"

[section.A]
bars = "Cm7 | F7 |"
"""
SETTINGS = """[playing]
count_in_bars = 0
demonstrate = true
bass = "walking"

[sound]
mode = "silent"
"""
# The command as installed, but that it writes down what it sends, and every exception in plain words (the app frames them).
ENTRY = """import os, sys, traceback
from functools import partial
import companion.cli.app as app
from companion.cli.main import main
if __name__ == "__main__":
    folder = sys.argv[1]
    app.sound_config = partial(app.sound_config, trace=folder + "/trace.csv")
    with open(folder + "/app.pid", "w") as file:
        file.write(str(os.getpid()))
    from textual.app import App
    handle = App._handle_exception
    def note(app, error):
        with open(folder + "/exceptions", "a") as file:
            traceback.print_exception(error, file=file)
        handle(app, error)
    App._handle_exception = note
    sys.exit(main(sys.argv[2:]))
"""
# Opening a terminal makes it that of a session's first process. The shell outlives the app and says how it was left, whatever is
# still typed then.
SHELL = """exec <"$0" >"$0" 2>"$0"
trap : HUP INT TERM
stty -a >before
"$@"
code=$?
trap "" INT QUIT TSTP
stty -a >after 2>/dev/null
echo $code >code
cat >/dev/null"""
# Modes of the terminal that must be as they were found (names: ctlseqs of xterm, "Private Mode Set").
OFF = {
    1049: "alternate screen",
    1000: "mouse",
    1003: "mouse",
    1006: "mouse",
    1015: "mouse",
    1004: "focus",
    2004: "bracketed paste",
}
ON = {25: "cursor", 7: "line wrap"}


def wait_until(
    found: Callable[[], object],
    what: str,
    seconds: float = PATIENCE_S,
    also: Callable[[], str] = lambda: "",
    every_s: float = 0.02,
) -> object:
    """What `found` gives, once that is something. also: what else there is to say where it does not come. every_s: how often it is asked."""
    end_s = time.perf_counter() + seconds
    while not (result := found()):
        assert time.perf_counter() < end_s, f"after {seconds:.0f} s still no {what}{also()}"
        time.sleep(every_s)
    return result


def hanging(trace: Path) -> tuple[Counter[tuple[str, str]], int]:
    """(channel, note) that were struck more often than they were ended; and how many rows there are."""
    count: Counter[tuple[str, str]] = Counter()
    with trace.open(newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["what"] in ("note_on", "note_off")]
    for row in rows:
        count[row["channel"], row["note"]] += 1 if row["what"] == "note_on" else -1
    return +count, len(rows)


class WholeApp:
    """`companion stand SONG` in a terminal. drawn: all the bytes it wrote. early: what is typed over and over until it draws."""

    def __init__(
        self,
        folder: Path,
        columns: int = 80,
        rows: int = 24,
        song: str = SONG,
        settings: str = SETTINGS,
        early: str = "",
    ) -> None:
        self.folder = folder
        self.home = folder / "home"
        for path, text in {
            self.home / "songs" / f"{SONG}.toml": CHART,
            self.home / "config" / "settings.toml": settings,
            self.home / "data" / "cautions-shown": "The cautions were shown.\n",
            folder / "companion": ENTRY,
        }.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            if not path.exists():  # what the app wrote there stays
                path.write_text(text, encoding="utf-8")
        (folder / "code").unlink(missing_ok=True)
        self.drawn = bytearray()
        self._screen = pyte.Screen(columns, rows)
        self._stream = pyte.ByteStream(self._screen)
        self._read = 0  # bytes of `drawn` that the screen was told
        self._end, line = pty.openpty()
        self.resize(columns, rows)
        name = os.ttyname(line)
        command = ["sh", "-c", SHELL, name, sys.executable, str(folder / "companion"), str(folder), "stand", song]
        env = dict(os.environ) | {
            "COMPANION_HOME": str(self.home),
            "PYTHONPATH": str(REPOSITORY),
            "TERM": "xterm-256color",
            "COLORTERM": "truecolor",
        }
        quiet = subprocess.DEVNULL
        self.shell = subprocess.Popen(
            command, stdin=quiet, stdout=quiet, stderr=quiet, start_new_session=True, env=env, cwd=folder
        )
        self._reader = threading.Thread(target=self._drain, daemon=True)
        self._reader.start()
        wait_until(lambda: b"\x1b[?1049h" in self.drawn or self.press(early), "alternate screen")
        os.close(line)
        self.pid = int((folder / "app.pid").read_text())

    def _drain(self) -> None:
        with contextlib.suppress(OSError):
            while data := os.read(self._end, 1 << 16):
                self.drawn += data

    # --- at the desk

    def press(self, keys: str | bytes) -> None:
        os.write(self._end, keys.encode() if isinstance(keys, str) else keys)

    def leave(self) -> None:
        """While it plays: it asks before it goes."""
        self.press("q")
        self.wait_for("Leave the companion?")
        self.press("y")

    def resize(self, columns: int, rows: int) -> None:
        fcntl.ioctl(self._end, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self._size = (rows, columns)

    def forget(self) -> None:
        """Look only at what is drawn from now on."""
        self._read = len(self.drawn)
        self._screen.reset()

    def screen(self) -> str:
        if (self._screen.lines, self._screen.columns) != self._size:
            self._screen.resize(*self._size)
        data = bytes(self.drawn[self._read :])
        self._read += len(data)
        # What pyte does not know and would write as text: the keyboard protocol, and questions to the terminal.
        self._stream.feed(re.sub(rb"\x1b\[[<>=][0-9;]*u|\x1b\[\?[0-9]+\$p", b"", data))
        return "\n".join(self._screen.display)

    def wait_for(self, words: str, seconds: float = PATIENCE_S) -> str:
        """The screen, once it shows the words (line ends count as spaces)."""
        end_s = time.perf_counter() + seconds
        while words not in " ".join((screen := self.screen()).split()):
            assert time.perf_counter() < end_s, f"{words!r} is not on the screen:\n{screen}"
            time.sleep(0.05)
        return screen

    def close_terminal(self) -> None:
        """As a window is closed."""
        end, self._end = self._end, -1
        os.close(end)

    # --- the processes

    def signal(self, number: int, *, app: bool = True, sound: bool = False) -> None:
        pids = [self.sound_pid()] * sound + [self.pid] * app
        for pid in pids:
            os.kill(pid, number)

    def sound_pid(self, other_than: int = 0) -> int:
        """The sound process, once there is one."""
        return int(wait_until(lambda: next((pid for pid in self._children() if pid != other_than), 0), "sound process"))

    def worked_s(self) -> float:
        """Seconds of processor time that the app has taken."""
        fields = Path(f"/proc/{self.pid}/stat").read_text().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def sleeps(self) -> bool:
        """Whether it was stopped."""
        return Path(f"/proc/{self.pid}/stat").read_text().rpartition(")")[2].split()[0] == "T"

    def has_sound(self) -> bool:
        return bool(self._children())

    def _children(self) -> list[int]:
        found = []
        for pid in filter(str.isdigit, os.listdir("/proc")):
            with contextlib.suppress(OSError):
                state, parent = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[:2]
                if (
                    parent == str(self.pid)
                    and state != "Z"
                    and b"spawn_main" in Path(f"/proc/{pid}/cmdline").read_bytes()
                ):
                    found.append(int(pid))
        return found

    def has_left(self) -> bool:
        path = self.folder / "code"
        return path.exists() and path.read_text().endswith("\n")

    def code(self, seconds: float = PATIENCE_S) -> int:
        """The exit code, once the app has left."""
        wait_until(self.has_left, "end of the app", seconds, self._and_shows)
        return int((self.folder / "code").read_text())

    # --- what is left behind

    @property
    def paths(self) -> Paths:
        return find_paths({"COMPANION_HOME": str(self.home)})

    @property
    def trace(self) -> Path:
        return self.folder / "trace.csv"

    def passes(self) -> list[PassRecord]:
        if not self.paths.log.exists():
            return []
        with PracticeLog.open(self.paths) as log:
            assert not log.messages, log.messages
            return log.passes()

    def broken(self) -> list[PassRecord]:
        """The passes marked as broken."""
        with PracticeLog.open(self.paths) as log:
            return [record for record in log.passes(broken=True) if record.broken]

    def longest_gap_s(self) -> float:
        """Between one click and the next, as they were sent."""
        with self.trace.open(newline="") as file:
            rows = [row for row in csv.DictReader(file) if row["what"] == "note_on" and row["channel"] == "10"]
        sent = [float(row["sent_s"]) for row in rows]
        return max(after - before for before, after in itertools.pairwise(sent))

    def exceptions(self) -> str:
        path = self.folder / "exceptions"
        return path.read_text() if path.exists() else ""

    def wait_for_passes(self, count: int) -> None:
        # To open the log costs more than a moment of waiting.
        wait_until(lambda: len(self.passes()) >= count, f"{count} passes in the log", also=self._and_shows, every_s=0.1)

    def _and_shows(self) -> str:
        """The screen in words that go on; it is worked out slowly (some 50 kB a second), so only where it is wanted."""
        return f"; the screen shows\n{self.screen()}" if self._end >= 0 else ""

    def check_silence(self, needs_notes: bool = True) -> None:
        """Every note that was struck was ended."""
        left, rows = hanging(self.trace)
        assert (rows or not needs_notes) and not left, f"hanging: {left}"

    def _left_otherwise(self) -> list[str]:
        """The modes of the terminal that are not as they were found."""
        drawn, otherwise = bytes(self.drawn), []
        for mode, name in (OFF | ON).items():
            said = re.findall(rb"\x1b\[\?%d([hl])" % mode, drawn)
            if said and said[-1] != (b"h" if mode in ON else b"l"):
                otherwise.append(f"{name} (mode {mode})")
        return otherwise

    def check_terminal(self) -> None:
        """The terminal was left as it was found. What the app wrote last may be read a moment after it ended."""
        wait_until(lambda: not self._left_otherwise(), "terminal", also=lambda: f" as it was: {self._left_otherwise()}")
        drawn = bytes(self.drawn)
        assert len(re.findall(rb"\x1b\[>[0-9]+u", drawn)) == len(re.findall(rb"\x1b\[<u", drawn)), "keyboard protocol"
        before, after = ((self.folder / name).read_text() for name in ("before", "after"))
        assert after == before

    def check_log(self, stopped: int = 0) -> None:
        """Every pass that was played to its end is there, readable: one for each eight beats of the trace. (What sounded of a broken one
        is in the trace too, and of as many that were `stopped` by a key.)"""
        with self.trace.open(newline="") as file:
            beats = sum(row["what"] == "note_on" and row["channel"] == "10" for row in csv.DictReader(file))
        finished = (beats - 1) // PASS_BEATS
        broken = len(self.broken())
        kept = len(self.passes())
        assert finished - broken - stopped <= kept <= finished + 1, (
            f"{beats} beats, {kept} passes and {broken} broken ones"
        )

    def end(self) -> None:
        """End what is left of it, hard."""
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.shell.pid, signal.SIGCONT)
            os.killpg(self.shell.pid, signal.SIGKILL)  # the session that this object began, and nothing else
        self.shell.wait()
        for pid in self._children():
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        if self._end >= 0:
            self._reader.join(1)
            self.close_terminal()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.end()
