"""Keys typed faster than screens come up and go: each is for the screen that the keys before it lead to, in their order.

Textual hands a key to the screen that is shown when it comes. Where that screen is left, or another laid over it, by the key before, what was
typed comes back unwanted, and would be obeyed by whatever screen is there by then; and a screen that is only coming up has no line yet to type
in. So a key is handed on once the one before it was done with, and there is a screen to take it.
"""

from __future__ import annotations

import time
from collections import deque
from typing import Any
from weakref import WeakSet

from textual import events
from textual.app import App
from textual.dom import DOMNode
from textual.screen import Screen

# A key that nothing is heard of for so long, and a screen that is not ready by then, hold up no other key.
_LONGEST_S = 2.0


class TypedAhead:
    """app: whose keys these are."""

    def __init__(self, app: App[Any]) -> None:
        self._app = app
        self._held: deque[events.Key] = deque()
        self._under_way: events.Key | None = None
        self._went_to: Screen[Any] | None = None  # that one
        self._since_s = 0.0  # when it went, or the first of those that wait came
        self._ready: WeakSet[Screen[Any]] = WeakSet()

    def holds(self, key: events.Key) -> bool:
        """Whether a key, on its way or come back, is not to be obeyed now: it comes again."""
        screen = self._app.screen
        if key.is_forwarded:
            if key is not self._under_way or self._went_to is screen:
                return False
            self._held.appendleft(events.Key(key.key, key.character))
            return True
        is_late = time.monotonic() - self._since_s > _LONGEST_S
        if key is self._under_way or (not self._held and self._is_ready(screen) and (not self._under_way or is_late)):
            self._under_way, self._went_to, self._since_s = key, screen, time.monotonic()
            return False
        self._held.append(key)
        if not self._under_way or is_late:
            self._passed()
        return True

    def sent(self, key: events.Key) -> None:
        """It was handed on: find out when it was done with."""
        if key is self._under_way:
            self._follow(self._app.focused or self._app.screen, key)

    def _follow(self, node: DOMNode | None, key: events.Key) -> None:
        """Behind the key on its way up, which ends where something takes it."""
        if node is None or node is self._app or not node.call_later(self._follow, node.parent, key):
            self._app.call_later(self._passed, key)

    def _passed(self, key: events.Key | None = None) -> None:
        """It was done with."""
        if key is not None and key is not self._under_way:
            return
        self._under_way, self._went_to, self._since_s = None, None, time.monotonic()
        if self._held:
            self._later(self._app.screen)

    def _later(self, screen: Screen[Any]) -> None:
        """Behind whatever else waits for that screen, such as the choice that opens the next one."""
        if not screen.call_later(self._send):
            self._app.call_later(self._send)

    def _send(self) -> None:
        screen = self._app.screen
        if self._under_way or not self._held:
            return
        if not self._is_ready(screen) and time.monotonic() - self._since_s < _LONGEST_S:
            if not screen.call_after_refresh(self._send):
                self._app.call_later(self._send)
            return
        self._app.call_later(self._hand_on)

    def _hand_on(self) -> None:
        """The next key; made anew by the app, as a message does not rise above who made it."""
        if self._held and not self._under_way:
            held = self._held.popleft()
            self._under_way = events.Key(held.key, held.character)
            self._app.post_message(self._under_way)

    def _is_ready(self, screen: Screen[Any]) -> bool:
        """Whether it is there, and the line to type in, where it has one."""
        waits = screen.AUTO_FOCUS != "" and screen.focused is None
        if screen.is_mounted and not waits:
            self._ready.add(screen)
        return screen in self._ready
