"""When a captured sample was heard, and samples at another rate.

Blocks of a device arrive late where the machine is busy, never early: of the last of them the earliest tells the clock. What was lost is seen
by all of them being late for good.
"""

from __future__ import annotations

from collections import deque

import numpy as np

from companion.sound.listening import RATE
from companion.sound.listening.spectra import Array

CAPTURE_RATE = 48_000
LOST_S = 0.020  # late for good by this much: sound was lost
_BLOCKS = 30
_FOLLOW = 0.01


class CaptureClock:
    """rate: of the device; latency_s: from the microphone until a block arrives, beyond the block's own length."""

    def __init__(self, rate: int = CAPTURE_RATE, latency_s: float = 0.0) -> None:
        self._rate, self._latency_s = rate, latency_s
        self._frames = 0
        self._offset_s: float | None = None
        self._recent: deque[float] = deque(maxlen=_BLOCKS)
        self.lost_s = 0.0  # in sum

    def arrived(self, frames: int, at_s: float) -> float:
        """A block of so many frames arrived; when its first frame was heard."""
        self._frames += frames
        self._recent.append(at_s - self._frames / self._rate)
        earliest_s = min(self._recent)
        if self._offset_s is None:
            self._offset_s = earliest_s
        late_s = earliest_s - self._offset_s
        if late_s > LOST_S and len(self._recent) == _BLOCKS:
            self.lost_s += late_s
            self._offset_s = earliest_s
        elif late_s < 0:  # the first blocks came late
            self._offset_s = earliest_s
        elif late_s <= LOST_S:
            self._offset_s += _FOLLOW * late_s
        return self._offset_s + (self._frames - frames) / self._rate - self._latency_s


class Decimator:
    """From CAPTURE_RATE to RATE: a third of the samples, behind a low pass (a sinc under a Blackman window) that lets nothing by that would fold over."""

    FACTOR = CAPTURE_RATE // RATE
    TAPS = 97
    DELAY_S = (TAPS - 1) / 2 / CAPTURE_RATE

    def __init__(self) -> None:
        at = np.arange(self.TAPS) - (self.TAPS - 1) / 2
        taps = np.sinc(at * 2 * 7000.0 / CAPTURE_RATE) * np.blackman(self.TAPS)
        self._taps = (taps / taps.sum()).astype(np.float32)
        self._past: Array = np.zeros(self.TAPS - 1, np.float32)
        self._skip = 0

    def take(self, block: Array) -> tuple[Array, float]:
        """The samples, and by how many seconds the first of them lies after the block's first."""
        sound = np.concatenate([self._past, block])
        self._past = sound[len(sound) - (self.TAPS - 1) :]
        after_s = self._skip / CAPTURE_RATE - self.DELAY_S
        if len(block) <= self._skip:
            self._skip -= len(block)
            return np.zeros(0, np.float32), after_s
        low = np.convolve(sound, self._taps, "valid")[self._skip :: self.FACTOR]
        self._skip = (self._skip - len(block)) % self.FACTOR
        return low.astype(np.float32), after_s
