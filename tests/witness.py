"""Whether the machine itself kept time while something that must keep it was looked at."""

from __future__ import annotations

import threading
import time
from typing import Self

TURN_S = 0.005


class Witness:
    """A thread that does nothing but sleep for a moment, over and over. worst_s: how much too late it woke at the latest. What is late
    while the witness was late too may be the work of other programs, and says nothing of ours."""

    def __init__(self) -> None:
        self.worst_s = 0.0
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._watch, daemon=True)

    def _watch(self) -> None:
        while not self._over.is_set():
            began_s = time.perf_counter()
            time.sleep(TURN_S)
            self.worst_s = max(self.worst_s, time.perf_counter() - began_s - TURN_S)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()
