"""The last seconds of sound with their clock, the attacks in them, and each of them taken apart."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from companion.sound.listening.attacks import KEPT_S as FLUX_KEPT_S
from companion.sound.listening.attacks import Flux, peaks
from companion.sound.listening.clocks import LOST_S
from companion.sound.listening.decompose import Attack, Decomposer
from companion.sound.listening.piano import Piano
from companion.sound.listening.spectra import AFTER_S, RATE, WINDOW, WINDOW_S, Array, spectrum

KEPT_S = 4.0
_CLOCK = 0.02  # share by which the clock follows the blocks' own times
_BEFORE_S = 0.004  # what rang before is heard up to here before an attack
_SILENT_S = 0.5  # a recording may begin with its first strike: it was silent before
_NOISE_EVERY_S, _NOISES = 0.1, 100


class Hearing:
    """rate: of the blocks, in Hz; only RATE is taken. Raises ValueError for another."""

    def __init__(self, piano: Piano, lowest: int, highest: int, rate: int = RATE) -> None:
        if rate != RATE:
            raise ValueError(f"blocks of {rate} Hz; expected {RATE}")
        self.decomposer = Decomposer(piano, lowest, highest)
        self._sound: Array = np.zeros(0, dtype=np.float32)
        self._start_s: float | None = None
        self._from_s = np.inf  # what was before was not heard, or is kept no longer
        self._flux: Flux | None = None
        self._lost: list[tuple[float, float]] = []
        self._noises: list[Array] = []
        self._noise = piano.noise
        self._noise_s = -np.inf
        self._noise_turn = 0

    @property
    def until_s(self) -> float:
        """Sound is heard up to here."""
        return -np.inf if self._start_s is None else self._start_s + len(self._sound) / RATE

    @property
    def ready_s(self) -> float:
        """Attacks up to here can be taken apart."""
        return -np.inf if self._flux is None else min(self._flux.until_s, self.until_s - AFTER_S - WINDOW_S)

    def hear(self, block: Array, start_s: float) -> None:
        """block: mono; start_s: of its first sample. What was lost between two blocks is made good with silence."""
        block = np.ascontiguousarray(block, dtype=np.float32)
        if self._start_s is None or self._flux is None:
            self._start_s, self._flux, self._from_s = start_s, Flux(start_s), start_s - _SILENT_S
        late_s = start_s - self.until_s
        if late_s > LOST_S:
            self._lost.append((self.until_s, start_s))
            self._take(np.zeros(min(int(late_s * RATE), int(KEPT_S * RATE)), dtype=np.float32))
        elif late_s < -LOST_S:
            block = block[min(len(block), int(-late_s * RATE)) :]
        else:
            self._start_s += _CLOCK * late_s
            self._flux.move(_CLOCK * late_s)
        self._take(block)
        self._learn_noise()

    def _take(self, samples: Array) -> None:
        assert self._start_s is not None and self._flux is not None
        self._flux.hear(samples)
        self._sound = np.concatenate([self._sound, samples])
        over = len(self._sound) - int(KEPT_S * RATE)
        if over > RATE:
            self._sound = self._sound[over:]
            self._start_s += over / RATE
            self._from_s = self.until_s - FLUX_KEPT_S
            self._lost = [hole for hole in self._lost if hole[1] > self._start_s]

    def _learn_noise(self) -> None:
        """The room's noise is what the quietest tenth of the last ten seconds was like, in each bin by itself."""
        if self.until_s - self._noise_s >= _NOISE_EVERY_S and len(self._sound) >= WINDOW:
            self._noise_s = self.until_s
            self._noises = [*self._noises[-_NOISES + 1 :], spectrum(self._sound[-WINDOW:])]
            self._noise_turn += 1
            if self._noise_turn % 10 == 0 or len(self._noises) < 10:
                tenth = len(self._noises) // 10
                quiet = np.partition(np.stack(self._noises, axis=1), tenth, axis=1)[:, tenth]
                self._noise = np.maximum(quiet, 1e-6)

    def is_whole(self, from_s: float, until_s: float) -> bool:
        """Whether it was heard and is still kept, and no sound was lost there."""
        return from_s >= self._from_s and not any(begin < until_s and end > from_s for begin, end in self._lost)

    def attacks(
        self, from_s: float, until_s: float, most: int, hz: NDArray[np.float64] | None = None
    ) -> list[tuple[float, float]]:
        """(time, flux) of the strongest attacks there. hz: those at these frequencies alone."""
        if self._flux is None:
            return []
        return peaks(*self._flux.rises(from_s, until_s, hz), most)

    def take_apart(self, onset_s: float, flux: float) -> Attack:
        """What was struck at a time, which must be ready."""
        assert self._start_s is not None
        at = round((onset_s - self._start_s) * RATE)
        after = spectrum(self._sound[max(0, at + int(AFTER_S * RATE)) :])
        end = max(0, at - int(_BEFORE_S * RATE))
        before = spectrum(self._sound[max(0, end - WINDOW) : end])
        return self.decomposer.take_apart(onset_s, after, before, self._noise, flux)
