"""A program in a real pseudo-terminal, for tests and benchmarks: what it draws, and when. POSIX only."""

from __future__ import annotations

import contextlib
import fcntl
import os
import pty
import re
import select
import signal
import struct
import sys
import termios
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Self

REPOSITORY = Path(__file__).resolve().parents[1]
COLUMNS, ROWS = 100, 30

# What an installer writes as the `companion` command.
COMMAND = "import sys\nfrom companion.cli.main import main\nif __name__ == '__main__':\n    sys.exit(main())\n"


def environment(folder: Path) -> dict[str, str]:
    """Of a real install: a home of its own that has seen the cautions, and byte code that is kept."""
    (folder / "home" / "data").mkdir(parents=True, exist_ok=True)
    (folder / "home" / "data" / "cautions-shown").write_text("The cautions were shown.\n")
    (folder / "companion").write_text(COMMAND)
    ours = {
        "COMPANION_HOME": str(folder / "home"),
        "PYTHONPATH": str(REPOSITORY),
        "TERM": "xterm-256color",
        "COLORTERM": "truecolor",
    }
    return {**{name: text for name, text in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}, **ours}


class Terminal:
    """Starts `python ARGUMENTS` in a terminal of 100 by 30. started_s: perf_counter just before."""

    def __init__(self, arguments: Sequence[str], env: dict[str, str]) -> None:
        self.drawn = b""  # since the start, or since it last settled
        self._came_s = 0.0
        self.started_s = time.perf_counter()
        self.pid, self._end = pty.fork()
        if self.pid == 0:
            os.execve(sys.executable, [sys.executable, *arguments], env)
        fcntl.ioctl(self._end, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))

    def read(self, seconds: float) -> float | None:
        """Wait for bytes at most so long; perf_counter when they came, None if none did."""
        if not select.select([self._end], [], [], max(0.0, seconds))[0]:
            return None
        self._came_s = time.perf_counter()
        try:
            self.drawn += os.read(self._end, 1 << 16)
        except OSError as error:
            raise RuntimeError(f"the program ended; it wrote {self.drawn[-400:]!r}") from error
        return self._came_s

    def wait_for(self, pattern: bytes, seconds: float = 120.0) -> float:
        """perf_counter when the bytes drawn first held the pattern."""
        end_s = time.perf_counter() + seconds
        while (now_s := time.perf_counter()) < end_s:
            if re.search(pattern, self.drawn):
                return self._came_s
            self.read(end_s - now_s)
        raise RuntimeError(f"{pattern!r} was not drawn in {seconds} s; last came {self.drawn[-400:]!r}")

    def settle(self, quiet_s: float = 0.3, most_s: float = 5.0) -> None:
        """Wait until nothing more is drawn, and forget what was."""
        end_s = time.perf_counter() + most_s
        while time.perf_counter() < end_s and self.read(quiet_s) is not None:
            pass
        self.drawn = b""

    def press(self, keys: bytes) -> float:
        """perf_counter just before the key was written."""
        now_s = time.perf_counter()
        os.write(self._end, keys)
        return now_s

    def close(self) -> None:
        """End the program, hard if it does not listen."""
        for number in (signal.SIGTERM, signal.SIGKILL):
            with contextlib.suppress(ProcessLookupError):
                os.kill(self.pid, number)
            end_s = time.perf_counter() + 3
            while time.perf_counter() < end_s:
                with contextlib.suppress(RuntimeError):
                    self.read(0.02)  # else a full terminal holds it up
                if os.waitpid(self.pid, os.WNOHANG)[0]:
                    os.close(self._end)
                    return
        raise RuntimeError(f"process {self.pid} does not end")

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
