"""Writes what changes of the student's small files in a thread of its own, at once and in order, so that a crash takes nothing and no key waits
for the disk."""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable

_CLOSE_S = 5.0  # longer than any disk that works


class Keeper:
    """say: told from that thread, in a sentence, that something could not be kept; once, until it can be again."""

    def __init__(self, say: Callable[[str], None]) -> None:
        self._say = say
        self._waiting: dict[Hashable, Callable[[], None]] = {}
        self._failing: set[Hashable] = set()
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None

    def keep(self, what: Hashable, write: Callable[[], None]) -> None:
        """Have something written. what: names it; of what was not begun yet only the newest is written."""
        with self._lock:
            self._waiting[what] = write
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="companion: keeping", daemon=True)
                self._thread.start()

    def close(self) -> None:
        """Wait until all is written, or cannot be."""
        thread = self._thread
        if thread is not None:
            thread.join(_CLOSE_S)

    def _run(self) -> None:
        """Until nothing waits."""
        while True:
            with self._lock:
                if not self._waiting:
                    self._thread = None
                    return
                what = next(iter(self._waiting))
                write = self._waiting.pop(what)
            try:
                write()
            except Exception as error:  # whatever it is: said, and the next thing is kept all the same
                if what not in self._failing:
                    self._failing.add(what)
                    self._say(str(error))
            else:
                self._failing.discard(what)
