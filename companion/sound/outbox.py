"""What waits to be written to the sound process. Putting something in never waits; a thread of the child's takes it out."""

from __future__ import annotations

import threading
from collections import deque

from companion.sound.messages import Configure, Load, Ping, Play, SetTempo, SetVolume, Stop

_REPLACEABLE = (Load, SetTempo, SetVolume, Configure, Ping)


def replaces(newer: object, older: object) -> bool:
    """Whether nobody needs the older message any more where the newer one comes right after it."""
    if type(newer) is not type(older) or not isinstance(newer, _REPLACEABLE):
        return False
    return not isinstance(newer, SetVolume) or newer.voice == older.voice  # type: ignore[attr-defined]


class Outbox:
    """A queue in which a newer message takes the place of an older one that has not gone (see `replaces`), but not across a Play or Stop,
    which it may be meant for."""

    def __init__(self) -> None:
        self._waiting: deque[object] = deque()
        self._changed = threading.Condition()
        self._closed = False
        self._busy = False  # whether what was taken last is still being written

    def put(self, message: object) -> None:
        """Never waits. Dropped once closed."""
        with self._changed:
            if self._closed:
                return
            self._drop_what_it_replaces(message)
            self._waiting.append(message)
            self._changed.notify_all()

    def take(self) -> object | None:
        """The oldest message, waiting for one; None once closed. Asking for the next says that the one before is written."""
        with self._changed:
            self._busy = False
            self._changed.notify_all()
            self._changed.wait_for(lambda: self._waiting or self._closed)
            if self._closed:
                return None
            self._busy = True
            return self._waiting.popleft()

    def flush(self, seconds: float) -> bool:
        """Wait until all is written, at most so long; whether it is."""
        with self._changed:
            return self._changed.wait_for(lambda: not (self._waiting or self._busy), seconds)

    def close(self) -> None:
        """What waits is dropped."""
        with self._changed:
            self._closed = True
            self._waiting.clear()
            self._changed.notify_all()

    def _drop_what_it_replaces(self, message: object) -> None:
        for older in reversed(self._waiting):
            if isinstance(older, Play | Stop):
                return
            if replaces(message, older):
                self._waiting.remove(older)
                return
