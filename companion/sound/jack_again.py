"""Whether JACK answers again, where it hung before. Who asks may wait for ever, so a process of its own does.

While the server is stopped the one who asks waits in libjack, and has its answer the moment the server goes on; where there is no server it
is told so at once, and another one asks a little later.
"""

from __future__ import annotations

import ctypes
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable

from companion.sound.jack import open_client

RETRY_S = 0.5
_YES, _NO, _NOBODY = 0, 1, 2  # exit codes. nobody: JACK's library cannot be loaded here


def ask() -> None:
    """In a process of its own; ends it."""

    def end_with_the_app() -> None:
        sys.stdin.buffer.read()
        os._exit(_NO)

    threading.Thread(target=end_with_the_app, daemon=True).start()
    try:
        library = ctypes.CDLL("libjack.so.0")
    except OSError:
        os._exit(_NOBODY)
    os._exit(_YES if open_client(library, b"companion asks") is not None else _NO)


class JackQuestion:
    """Call `answered` again and again, and `close` at the end."""

    def __init__(self, clock: Callable[[], float] = time.perf_counter) -> None:
        self._clock = clock
        self._process: subprocess.Popen[bytes] | None = None
        self._next_s = 0.0
        self._is_useless = False

    def answered(self) -> bool:
        """Whether it does. Does not wait."""
        if self._process is None:
            if not self._is_useless and self._clock() >= self._next_s:
                self._start()
            return False
        if (code := self._process.poll()) is None:
            return False
        self.close()
        self._next_s = self._clock() + RETRY_S
        self._is_useless = code == _NOBODY
        return code == _YES

    def close(self) -> None:
        """Ask no more."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            if self._process.stdin is not None:
                self._process.stdin.close()
            self._process = None

    def _start(self) -> None:
        """`-P`: a file of a module's name in the folder one stands in must not be run. A session of its own: the terminal's signals are
        for the app."""
        command = [sys.executable, "-P", "-c", "from companion.sound.jack_again import ask; ask()"]
        nowhere = subprocess.DEVNULL
        try:
            self._process = subprocess.Popen(
                command, stdin=subprocess.PIPE, stdout=nowhere, stderr=nowhere, start_new_session=True
            )
        except OSError:
            self._is_useless = True
