"""Says beforehand which system's library is called, as such a call may never come back: libjack waits for ever for a server that is stopped.

Whoever watches this process knows then what hung it, and starts the next one without.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator


class _Marker:
    def __init__(self) -> None:
        self.tell: Callable[[str], None] = lambda at: None
        self.base = ""
        self.at = ""


_marker = _Marker()


def tell_by(tell: Callable[[str], None], base: str = "") -> None:
    """How to say it. base: what is said where no system's library is called."""
    _marker.tell, _marker.base, _marker.at = tell, base, base


@contextlib.contextmanager
def entering(system: str) -> Iterator[None]:
    """Around a call. system: "jack", "core", "windows" or "audio"; ALSA's calls end in the kernel, which always answers."""
    before, outer = _marker.at, system == "alsa" or _marker.at == system
    if not outer:
        _marker.at = system
        _marker.tell(system)
    try:
        yield
    finally:
        if not outer:
            _marker.at = before
            _marker.tell(before)
