"""A timer of which there is only one: set anew, the one before is off."""

from __future__ import annotations

import time
from collections.abc import Callable

from textual.timer import Timer
from textual.widget import Widget


class OneTimer:
    """owner: the screen or widget that it ends with. then: called when the time is over."""

    def __init__(self, owner: Widget, then: Callable[[], None]) -> None:
        self._owner, self._then = owner, then
        self._timer: Timer | None = None
        self._due_s: float | None = None

    def start(self, seconds: float) -> None:
        """From now on, whatever it was set to."""
        self.stop()
        self._timer = self._owner.set_timer(seconds, self._then)

    def set_for(self, due_s: float | None) -> None:
        """A moment of time.perf_counter(), None for none; nothing is done where it is set for that already."""
        if due_s == self._due_s:
            return
        self.stop()
        if due_s is not None:
            self.start(max(0.001, due_s - time.perf_counter()))
        self._due_s = due_s

    def stop(self) -> None:
        """It comes no more."""
        if self._timer is not None:
            self._timer.stop()
        self._timer = self._due_s = None
