"""When a captured sample was heard, and samples at another rate.

Blocks of a device arrive late where the machine is busy, never early: of the last of them the earliest tells the clock. What was lost is seen
by all of them being late for good; until that is known nobody can say when they were heard.
"""

from __future__ import annotations

from collections import deque

import numpy as np

from companion.sound.listening import RATE
from companion.sound.listening.spectra import Array

CAPTURE_RATE = 48_000
LOST_S = 0.010  # late for good by this much: sound was lost
FOR_GOOD_S = 0.3  # of sound, all of it late
_BLOCKS = 30
_FOLLOW = 0.01


class CaptureClock:
    """rate: of the device; latency_s: from the microphone until a block arrives, beyond the block's own length."""

    def __init__(self, rate: int = CAPTURE_RATE, latency_s: float = 0.0) -> None:
        self._rate, self._latency_s = rate, latency_s
        self._frames = 0
        self._offset_s: float | None = None
        self._recent: deque[float] = deque(maxlen=_BLOCKS)
        self._late: list[float] = []
        self._late_frames = 0
        self.lost_s = 0.0  # in sum

    @property
    def in_doubt(self) -> bool:
        """Whether it is not known yet when the latest frames were heard."""
        return bool(self._late)

    def arrived(self, frames: int, at_s: float) -> int:
        """A block of so many frames arrived; the number of its first frame."""
        first, self._frames = self._frames, self._frames + frames
        offset_s = at_s - self._frames / self._rate
        if self._offset_s is None:
            self._offset_s = offset_s
        if offset_s - self._offset_s > LOST_S:
            self._late.append(offset_s)
            self._late_frames += frames
            if self._late_frames >= FOR_GOOD_S * self._rate:
                self._lost(min(self._late))
            return first
        self._late, self._late_frames = [], 0
        self._recent.append(offset_s)
        ahead_s = min(self._recent) - self._offset_s
        self._offset_s += ahead_s if ahead_s < 0 else _FOLLOW * ahead_s  # below zero: the first blocks came late
        return first

    def _lost(self, offset_s: float) -> None:
        assert self._offset_s is not None
        self.lost_s += offset_s - self._offset_s
        self._offset_s = offset_s
        self._late, self._late_frames = [], 0
        self._recent.clear()

    def heard_s(self, frame: int) -> float:
        """When a frame was heard, as far as is known now."""
        return (self._offset_s or 0.0) + frame / self._rate - self._latency_s


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
