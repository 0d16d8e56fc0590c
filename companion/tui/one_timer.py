"""A timer of which there is only one: set anew, the one before is off."""

from __future__ import annotations

from collections.abc import Callable

from textual.timer import Timer
from textual.widget import Widget


class OneTimer:
    """owner: the screen or widget that it ends with. then: called when the time is over."""

    def __init__(self, owner: Widget, then: Callable[[], None]) -> None:
        self._owner, self._then = owner, then
        self._timer: Timer | None = None

    def start(self, seconds: float) -> None:
        """From now on, whatever it was set to."""
        self.stop()
        self._timer = self._owner.set_timer(seconds, self._then)

    def stop(self) -> None:
        """It comes no more."""
        if self._timer is not None:
            self._timer.stop()
            self._timer = None
