"""Whether a JACK server still runs. RtMidi is not told when it dies: it goes on listing the ports, which lie in shared memory,
takes messages nobody fetches, and once some thousands wait it waits with them for ever.

JACK's own library is asked instead: jack_last_frame_time moves on with every period of a running server (jack/jack.h).
"""

from __future__ import annotations

import ctypes
import time
from collections.abc import Callable
from functools import cache

from companion.sound.entering import entering

_NO_START_SERVER = 1  # jack/types.h: JackNoStartServer
_STILL_S = 0.5  # the longest period there is, 8192 frames at 44.1 kHz, takes 0.19 s


def open_client(library: ctypes.CDLL, name: bytes) -> int | None:
    """A client of the server that runs, None where none does. Waits for ever where the server is stopped."""
    library.jack_client_open.restype = ctypes.c_void_p
    library.jack_client_open.argtypes = (ctypes.c_char_p, ctypes.c_int, ctypes.c_void_p)
    client: int | None = library.jack_client_open(name, _NO_START_SERVER, None)
    return client


class JackPulse:
    """A client without ports that watches the server's clock. It is never closed: in jackd2's library jack_client_close now and then
    waits for ever, and a process needs but one of these for each server that it lives through."""

    def __init__(self, clock: Callable[[], float] = time.perf_counter) -> None:
        self._clock = clock
        self._client: int | None = None
        self._frame = -1
        self._since_s = 0.0  # when the server's clock was first seen to stand at that frame
        self._server = 0
        self._library: ctypes.CDLL | None = None
        try:
            self._library = ctypes.CDLL("libjack.so.0")
        except OSError:
            return
        self._library.jack_last_frame_time.restype = ctypes.c_uint32
        self._library.jack_last_frame_time.argtypes = (ctypes.c_void_p,)

    @property
    def can_ask(self) -> bool:
        """Whether JACK's library is there."""
        return self._library is not None

    @property
    def knows(self) -> bool:
        """Whether there is a server that is watched."""
        return self._client is not None

    def is_up(self) -> bool:
        """Whether a server runs now; costs a few ms where there is none."""
        self.server()
        return self.knows

    def server(self) -> int:
        """A number for the server that runs. Another one than before means that the one before is dead: its clock stood still from one
        look to another, more than half a second later. Always the same where JACK's library is not there to be asked."""
        if self._library is None:
            return self._server
        if self._client is None:
            with entering("jack"):
                self._client = open_client(self._library, b"companion pulse")
            self._frame = -1
        if self._client is None:
            return self._server
        frame, now_s = self._library.jack_last_frame_time(self._client), self._clock()
        if frame != self._frame:
            self._frame, self._since_s = frame, now_s
        elif now_s - self._since_s > _STILL_S:
            self._client = None
            self._server += 1
        return self._server


@cache
def jack_pulse() -> JackPulse:
    """The one of this process."""
    return JackPulse()
