"""Whether a JACK server still runs. RtMidi is not told when it dies: it goes on listing the ports, which lie in shared memory,
takes messages nobody fetches, and once some thousands wait it waits with them for ever.

JACK's own library is asked instead: jack_last_frame_time moves on with every period of a running server (jack/jack.h).
"""

from __future__ import annotations

import ctypes
import time
from collections.abc import Callable

_NO_START_SERVER = 1  # jack/types.h: JackNoStartServer
_STILL_S = 0.5  # the longest period there is, 8192 frames at 44.1 kHz, takes 0.19 s


class JackPulse:
    """A client without ports that watches the server's clock. Where the library is not there nothing is known, and all counts as well."""

    def __init__(self, clock: Callable[[], float] = time.perf_counter) -> None:
        self._clock = clock
        self._client: int | None = None
        self._seen: tuple[int, float] | None = None  # the server's frame, and since when it stands there
        try:
            self._library = ctypes.CDLL("libjack.so.0")
        except OSError:
            return
        self._library.jack_client_open.restype = ctypes.c_void_p
        self._library.jack_client_open.argtypes = (ctypes.c_char_p, ctypes.c_int, ctypes.c_void_p)
        self._library.jack_last_frame_time.restype = ctypes.c_uint32
        for function in (self._library.jack_last_frame_time, self._library.jack_client_close):
            function.argtypes = (ctypes.c_void_p,)
        self._client = self._library.jack_client_open(b"companion pulse", _NO_START_SERVER, None)

    def beats(self) -> bool:
        """False once the server's clock stood still from one look to another, more than half a second later."""
        if self._client is None:
            return True
        frame, now_s = self._library.jack_last_frame_time(self._client), self._clock()
        if self._seen is None or frame != self._seen[0]:
            self._seen = frame, now_s
        return now_s - self._seen[1] <= _STILL_S

    def close(self) -> None:
        if self._client is not None:
            self._library.jack_client_close(self._client)
            self._client = None
