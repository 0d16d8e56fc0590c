"""Where something was struck: log spectral flux with a maximum filter over frequency, so that a vibrating or slightly moving partial is no attack
(S. Boeck and G. Widmer, "Maximum filter vibrato suppression for onset detection", DAFx 2013).

Times are seconds on the clock of the blocks heard.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from companion.sound.listening.spectra import RATE, Array

HOP = 80  # samples, 5 ms
FRAME = 512  # samples, 32 ms
HOP_S = HOP / RATE
_LAG = 2  # frames; what rises within 10 ms
_BIN_HZ = RATE / FRAME
_FIRST, _LAST = 2, 160  # 62 Hz to 5 kHz
_HANN = np.hanning(FRAME + 2)[1:-1].astype(np.float32)
_HANN /= _HANN.sum() / 2.0
# Where in a frame an attack lies when its flux is greatest; measured on attacks of known time.
ATTACK_IN_FRAME_S = 0.0178
KEPT_S = 3.0
_QUIETEST = 1e-6
_APART_S = 0.020  # nearer than this two peaks are one attack


class Flux:
    """How much comes up from moment to moment, of the last seconds. Samples come in turn and without a gap (engine.py sees to that)."""

    def __init__(self, start_s: float) -> None:
        self._start_s = start_s  # of the first frame kept
        self._rest: Array = np.zeros(0, dtype=np.float32)
        self._floor: Array | None = None
        self._logs: list[Array] = []
        self._rises: list[Array] = []
        self._means: list[float] = []

    @property
    def until_s(self) -> float:
        """Attacks before this are known."""
        return self._start_s + (len(self._rises) - 3) * HOP_S + ATTACK_IN_FRAME_S

    def move(self, by_s: float) -> None:
        """The clock of the samples is that much later than was thought."""
        self._start_s += by_s

    def hear(self, samples: Array) -> None:
        """The next samples."""
        self._rest = np.concatenate([self._rest, samples])
        count = (len(self._rest) - FRAME) // HOP + 1
        if count <= 0:
            return
        frames = np.lib.stride_tricks.sliding_window_view(self._rest, FRAME)[: (count - 1) * HOP + 1 : HOP]
        sizes = np.abs(np.fft.rfft(frames * _HANN, axis=1)[:, _FIRST : _LAST + 1]).astype(np.float32)
        self._rest = self._rest[count * HOP :]
        for size in sizes:
            self._frame(size)
        over = len(self._rises) - int(KEPT_S / HOP_S)
        if over > 100:
            del self._rises[:over], self._means[:over], self._logs[: max(0, len(self._logs) - 8)]
            self._start_s += over * HOP_S

    def _frame(self, size: Array) -> None:
        """The floor follows what is quiet at once and what is loud by a tenth a second, so a held note does not become the room's noise."""
        if self._floor is None:
            self._floor = size + _QUIETEST
        below = np.minimum(size - self._floor, 0.0)
        self._floor = np.maximum((self._floor + 0.1 * below) * 1.0005, _QUIETEST)
        log = np.log1p(size / (2.0 * self._floor))
        if len(self._logs) < _LAG:
            rise = np.zeros_like(log)
        else:
            before = self._logs[-_LAG]
            widest = before.copy()
            np.maximum(widest[1:], before[:-1], out=widest[1:])
            np.maximum(widest[:-1], before[1:], out=widest[:-1])
            rise = np.maximum(log - widest, 0.0)
        self._logs.append(log)
        self._rises.append(rise)
        self._means.append(float(rise.sum()) / len(rise))

    def rises(self, from_s: float, until_s: float, hz: NDArray[np.float64] | None = None) -> tuple[float, Array]:
        """The time of the first attack looked at, and the flux every HOP_S from there. hz: at these frequencies alone."""
        first = max(0, int(np.ceil((from_s - self._start_s - ATTACK_IN_FRAME_S) / HOP_S)))
        last = min(len(self._rises), int((until_s - self._start_s - ATTACK_IN_FRAME_S) / HOP_S) + 1)
        at_s = self._start_s + first * HOP_S + ATTACK_IN_FRAME_S
        if last <= first:
            return at_s, np.zeros(0, dtype=np.float32)
        if hz is None:
            return at_s, np.array(self._means[first:last], dtype=np.float32)
        rises = np.stack(self._rises[first:last])
        bins = np.unique(np.clip(np.rint(hz / _BIN_HZ).astype(int) - _FIRST, 0, rises.shape[1] - 1))
        return at_s, rises[:, bins].mean(axis=1)


def peaks(start_s: float, flux: Array, most: int, least: float = 0.0) -> list[tuple[float, float]]:
    """(time, height) of the strongest local maxima, in order of time; by the parabola through a peak and its neighbours."""
    found: list[tuple[float, float]] = []
    middle = flux[1:-1]
    for place in np.flatnonzero((middle > least) & (middle >= flux[:-2]) & (middle > flux[2:])) + 1:
        before, here, after = (float(value) for value in flux[place - 1 : place + 2])
        bend = before - 2.0 * here + after
        shift = 0.5 * (before - after) / bend if bend < 0 else 0.0
        found.append((start_s + (float(place) + shift) * HOP_S, here))
    kept: list[tuple[float, float]] = []
    for peak in sorted(found, key=lambda peak: -peak[1]):
        if all(abs(peak[0] - other[0]) >= _APART_S for other in kept):
            kept.append(peak)
    return sorted(kept[:most])
