"""The file that keeps why a sound process died or hung: its traceback, also of a crash in C."""

from __future__ import annotations

import contextlib
import faulthandler
import os
import signal
import time
import traceback
from datetime import datetime

MOST_BYTES = 64_000  # what is older is cut off when the next process starts
_DUMP_S = 0.2  # how long a process that hangs has to write where it is


def watch(path: str) -> None:
    """In the process that may crash: crashes in C are written there, and where it is whenever `ask` asks. A file that cannot be written is
    done without."""
    with contextlib.suppress(OSError):
        os.makedirs(os.path.dirname(path), exist_ok=True)
        file = open(path, "ab", buffering=0)
        faulthandler.enable(file)
        if hasattr(faulthandler, "register"):  # not on Windows
            faulthandler.register(signal.SIGUSR1, file)


def ask(pid: int) -> None:
    """Let a process that hangs write where it is. One that is stopped cannot."""
    if hasattr(signal, "SIGUSR1"):
        with contextlib.suppress(OSError):
            os.kill(pid, signal.SIGUSR1)
            time.sleep(_DUMP_S)


def write(path: str, words: str) -> None:
    """Add a line with the time. What cannot be written is let go: nothing may be lost by it but this line."""
    if not path:
        return
    with contextlib.suppress(OSError):
        os.makedirs(os.path.dirname(path), exist_ok=True)
        with open(path, "a", encoding="utf-8", errors="replace", newline="\n") as file:
            file.write(f"{datetime.now().astimezone():%Y-%m-%d %H:%M:%S %z}  {words}\n")


def write_error(path: str, error: BaseException) -> None:
    """Add an exception with its traceback."""
    write(path, "".join(traceback.format_exception(error)).rstrip())


def trim(path: str) -> None:
    """Keep the newer half of a file that grew too long. Only while no process has it open."""
    with contextlib.suppress(OSError):
        if not path or os.path.getsize(path) <= MOST_BYTES:
            return
        with open(path, "r+b") as file:
            file.seek(-MOST_BYTES // 2, os.SEEK_END)
            kept = file.read()
            file.seek(0)
            file.write(kept[kept.find(b"\n") + 1 :])
            file.truncate()
