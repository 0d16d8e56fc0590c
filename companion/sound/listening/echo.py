"""The companion's own sound, taken out of what the microphone hears.

How loudspeaker, room and microphone answer is measured once, with noise (regularised deconvolution); what is played is known, so its echo can be
predicted and subtracted. Player and recorder run by clocks of their own, some 30 to 60 millionths apart, so the delay between them is
followed: every two seconds the echo predicted is compared with what is heard, by cross-correlation where the piano is weakest.

Sound is mono float32 at RATE; delays are in samples.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from companion.sound.listening.spectra import RATE, Array

NOISE_S = 3.2
RESPONSE = 4096  # samples, 256 ms: where a room's answer to a click has died away to what can be heard beside a piano
_REGULAR = 1e-3  # of the noise's own power: what lies below is not trusted
_EVERY = 2 * RATE
BAND_HZ = (1100.0, 4200.0)
_REACH = 32  # samples to either side that the delay may have moved in two seconds
# And where it is looked for when it is not found there: a device was begun anew, or one of both lost sound.
_WIDE = RATE * 3 // 100
_SURE = 0.08  # correlation from which the delay is followed
# And from which it leaps: the click alone is heard; a piano in unison with the bass correlates by less.
_SURE_WIDE = 0.4
_BESIDE = 0.8  # of the greatest correlation far and wide, to be the truth itself
_STEP, _RATE_STEP = 0.8, 0.35  # share of a move that is taken at once, and that is taken for the clocks' own drift
_FASTEST = 300e-6  # no clock is that far off


def measuring_noise(seed: int = 17) -> Array:
    """What is played to measure: white noise, moderately loud, faded in and out."""
    noise = np.random.default_rng(seed).uniform(-0.25, 0.25, int(NOISE_S * RATE)).astype(np.float32)
    fade = np.minimum(1.0, np.arange(len(noise)) / (0.05 * RATE)).astype(np.float32)
    return np.asarray(noise * fade * fade[::-1], dtype=np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class Response:
    """taps: what a single sample played becomes at the microphone; quality_db: how much of the measuring noise the prediction takes away."""

    taps: Array
    quality_db: float

    @property
    def is_good(self) -> bool:
        """Whether taking the own sound out will do; else headphones are the better advice. 12 dB is our own choice, by the benchmark."""
        return self.quality_db >= 12.0


def measure(played: Array, heard: Array) -> Response:
    """played: what went to the loudspeaker; heard: from the same moment on, at least as long."""
    size = 1 << int(np.ceil(np.log2(len(played) + RESPONSE)))
    sent, got = np.fft.rfft(played, size), np.fft.rfft(heard[: len(played) + RESPONSE], size)
    power = np.abs(sent) ** 2
    taps = np.fft.irfft(got * np.conj(sent) / (power + _REGULAR * power.mean()), size)[:RESPONSE]
    # The last eighth fades, so that a cut end adds no click of its own.
    taps[-RESPONSE // 8 :] *= np.linspace(1.0, 0.0, RESPONSE // 8)
    echo = np.fft.irfft(np.fft.rfft(taps, size) * sent, size)[: len(played)]
    there = heard[: len(played)]
    left = float(np.square(there - echo).sum()) + 1e-12
    return Response(taps.astype(np.float32), float(10.0 * np.log10((np.square(there).sum() + 1e-12) / left)))


class Echo:
    """Blocks heard and blocks played, of the same length and moment, in; what is heard without the echo out. The delay of half a block or so that two streams have
    against each other belongs to the response."""

    def __init__(self, response: Response) -> None:
        self._taps = response.taps
        size = np.abs(response.taps)
        self._first = int(np.argmax(size >= 0.5 * size.max()))
        self._past: Array = np.zeros(RESPONSE + 2 * _WIDE, dtype=np.float32)
        self._heard: list[Array] = []
        self._echo: list[Array] = []
        self._count = 0
        self.delay = 0.0  # samples by which the echo comes later than when it was measured
        self._drift = 0.0  # samples a sample by which that grows

    @property
    def late_s(self) -> float:
        """How long after it is played what is played begins to come back, by the response's first strong sample and the delay since."""
        return (self._first + self.delay) / RATE

    def clean(self, heard: Array, played: Array) -> Array:
        """What is heard less the echo of what is played."""
        echo = self._predicted(np.asarray(played, dtype=np.float32))
        heard = np.asarray(heard, dtype=np.float32)
        self.delay += self._drift * len(heard)
        self._heard.append(heard)
        self._echo.append(echo)
        self._count += len(heard)
        if self._count >= _EVERY:
            self._follow()
        return np.asarray(heard - echo, dtype=np.float32)

    def _predicted(self, played: Array) -> Array:
        sound = np.concatenate([self._past, played])
        self._past = sound[-len(self._past) :]
        size = 1 << int(np.ceil(np.log2(len(sound) + RESPONSE)))
        shift = np.exp(-2j * np.pi * np.arange(size // 2 + 1) * self.delay / size)
        echo = np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(self._taps, size) * shift, size)
        return echo[len(sound) - len(played) : len(sound)].astype(np.float32)

    def _follow(self) -> None:
        """Where the correlation of both, in the band in which a click stands out of the piano, is greatest."""
        heard, echo = np.concatenate(self._heard), np.concatenate(self._echo)
        self._heard, self._echo, self._count = [], [], 0
        size = 1 << int(np.ceil(np.log2(2 * len(heard))))
        hz = np.arange(size // 2 + 1) * RATE / size
        band = (hz >= BAND_HZ[0]) & (hz <= BAND_HZ[1])
        got, due = np.fft.rfft(heard, size) * band, np.fft.rfft(echo, size) * band
        scale = float(np.sqrt((np.abs(got) ** 2).sum() * (np.abs(due) ** 2).sum()))
        if scale <= 1e-9:
            return
        fine = 4  # the correlation is looked at between the samples, too
        spread = np.zeros(fine * size // 2 + 1, dtype=np.complex128)
        spread[: len(got)] = got * np.conj(due)
        together = np.fft.irfft(spread, fine * size) * fine * size / scale / 2.0
        (near, moved), (far, leap) = (_peak(together, fine, reach) for reach in (_REACH, _WIDE))
        # A click rings: a little beside the truth it correlates too, but by less.
        if near > _SURE and near > _BESIDE * far:
            self.delay += _STEP * moved
            self._drift = float(np.clip(self._drift + _RATE_STEP * moved / _EVERY, -_FASTEST, _FASTEST))
        elif far > _SURE_WIDE:
            self.delay += leap


def _peak(together: NDArray[np.float64], fine: int, reach: int) -> tuple[float, float]:
    """How great a correlation is at its greatest within reach of no delay, and at which delay, in samples; 0 at an edge. fine: values a sample."""
    near = np.concatenate([together[-reach * fine :], together[: reach * fine + 1]])
    best = int(np.argmax(near))
    if not 0 < best < len(near) - 1:
        return 0.0, 0.0
    before, here, after = near[best - 1 : best + 2]
    return float(here), float((best + 0.5 * (before - after) / (before - 2.0 * here + after)) / fine - reach)
