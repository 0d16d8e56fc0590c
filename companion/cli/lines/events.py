"""What comes in while one plays without the app, in the order in which it comes: reports of the sound process and lines that are typed."""

from __future__ import annotations

import contextlib
import io
import os
import queue
import signal
import sys
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

from companion.sound.link import SoundLink

LONGEST_WAIT_S = 0.5  # on Windows Ctrl+C is not seen while one waits for something in the queue
_MOST_BYTES = 10_000  # of a line; what is longer is no command of ours


@dataclass(frozen=True, slots=True)
class TypedLine:
    """Something was typed, without its line end."""

    text: str


@dataclass(frozen=True, slots=True)
class EndOfInput:
    """Nothing more will be typed: the script is over, or Ctrl+D was pressed."""


@dataclass(frozen=True, slots=True)
class Interrupt:
    """Ctrl+C."""


class Events(Protocol):
    """Where a sitting takes what comes from."""

    def next(self, within_s: float | None) -> object | None:
        """A report of the sound process, a TypedLine, EndOfInput, Interrupt; None where nothing came in so many seconds (None: any number of them)."""


class LinkEvents:
    """Reports of a sound process; and what is typed, from `read_lines` on."""

    def __init__(self, link: SoundLink) -> None:
        self._queue: queue.SimpleQueue[object] = queue.SimpleQueue()
        self.put = self._queue.put  # for whoever else has something to report
        link.listen(self.put)

    def next(self, within_s: float | None) -> object | None:
        """As in Events."""
        wait_s = LONGEST_WAIT_S if within_s is None else min(LONGEST_WAIT_S, max(0.0, within_s))
        try:
            return self._queue.get(timeout=wait_s)
        except queue.Empty:
            return None

    @contextlib.contextmanager
    def taking_ctrl_c(self) -> Iterator[None]:
        """Ctrl+C comes in like all else, so that it strikes nothing half done."""

        def interrupted(*_: object) -> None:
            self._queue.put(Interrupt())

        before = signal.signal(signal.SIGINT, interrupted)
        try:
            yield
        finally:
            signal.signal(signal.SIGINT, before)

    def read_lines(self) -> None:
        """Begin to read standard input, in a thread that nobody waits for."""
        threading.Thread(target=self._read, daemon=True, name="companion lines").start()

    def _read(self) -> None:
        rest = b""
        while chunk := _read_some():
            *lines, rest = (rest + chunk).split(b"\n")
            for line in lines:
                self._queue.put(TypedLine(_text(line)))
            rest = rest[:_MOST_BYTES]
        if rest:
            self._queue.put(TypedLine(_text(rest)))
        self._queue.put(EndOfInput())


def _text(line: bytes) -> str:
    return line[:_MOST_BYTES].decode("utf-8", "replace").strip()


def _read_some() -> bytes:
    """What there is of standard input, at least a byte; nothing at its end.

    Read below Python's own buffer: a thread that waits in that one would be in the way when the program ends.
    """
    if sys.stdin is None:
        return b""
    try:
        return os.read(sys.stdin.fileno(), 4096)
    except io.UnsupportedOperation:  # no file of the system's
        return bytes(sys.stdin.buffer.read(4096))
    except (OSError, ValueError):  # the terminal is gone, or it was closed
        return b""
