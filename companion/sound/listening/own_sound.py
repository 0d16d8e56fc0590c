"""The companion's own sound as it comes back into the microphone: measured once, then taken out of what is heard."""

from __future__ import annotations

import numpy as np

from companion.sound.listening.clocks import CAPTURE_RATE, Decimator
from companion.sound.listening.echo import NOISE_S, RESPONSE, Echo, Response, measure
from companion.sound.listening.messages import EchoMeasured
from companion.sound.listening.spectra import RATE, Array
from companion.sound.played import Played

AHEAD_S = 0.015  # what is played is taken so much early, so that the response begins within it where either clock is a little off
LEAP_S = 0.012  # two clocks this far apart: one of them paused
_HEARD = 4.0  # power of the noise against that of the room, to have come back at all


class PlayedStream:
    """What is played, block by block as the microphone hears: without a gap or a leap as long as both clocks run."""

    def __init__(self, played: Played) -> None:
        self._played = played
        self._decimator = Decimator()
        self._next: int | None = None

    def is_there(self, count: int, start_s: float) -> bool:
        """Whether all that `take` would give is written already."""
        end_s = start_s + AHEAD_S + count / RATE + LEAP_S
        return (end_s - self._played.zero_s) * CAPTURE_RATE <= self._played.written

    def take(self, count: int, start_s: float) -> Array:
        """count: samples at RATE, the first heard at start_s."""
        if not self._played.written:
            return np.zeros(count, np.float32)
        factor = CAPTURE_RATE // RATE
        due = round((start_s + AHEAD_S - self._played.zero_s) * CAPTURE_RATE)
        if self._next is None or abs(due - self._next) > LEAP_S * CAPTURE_RATE:
            self._next, self._decimator = due, Decimator()
        sound = self._played.read(self._next, count * factor)
        self._next += count * factor
        return self._decimator.take(sound)[0]


class EchoMeter:
    """Hears while the measuring noise is played, and tells what came of it."""

    def __init__(self) -> None:
        self._heard: list[Array] = []
        self._played: list[Array] = []
        self._count = 0

    def hear(self, block: Array, played: Array) -> EchoMeasured | None:
        """A block and what was played meanwhile; the result once the noise is over."""
        self._heard.append(block)
        self._played.append(played)
        self._count += len(block)
        if self._count < (NOISE_S + 1.5) * RATE:
            return None
        heard, sent = np.concatenate(self._heard), np.concatenate(self._played)
        loud = np.flatnonzero(np.abs(sent) > 1e-4)
        if not len(loud):
            return EchoMeasured(0.0, b"", False, False)
        begin, end = int(loud[0]), int(loud[-1]) + 1
        response = measure(sent[begin:end], np.pad(heard[begin:], (0, RESPONSE)))
        rest = np.concatenate([heard[: max(0, begin - RATE // 20)], heard[min(len(heard), end + RATE // 2) :]])
        room = float(np.mean(np.square(rest))) if len(rest) else 0.0
        is_heard = float(np.mean(np.square(heard[begin:end]))) > _HEARD * (room + 1e-10)
        return EchoMeasured(response.quality_db, response.taps.tobytes(), response.is_good, is_heard)


def echo_of(taps: bytes) -> Echo | None:
    """taps: of EchoMeasured; None for b""."""
    return Echo(Response(np.frombuffer(taps, np.float32), 0.0)) if taps else None
