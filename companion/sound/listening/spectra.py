"""Spectra of what is heard: the magnitudes that notes are told apart by, and where the partials of a string lie in them.

Units: seconds, Hz, cents (hundredths of a semitone); sound is mono float32 at RATE. Notes are MIDI numbers.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from companion.sound.listening import RATE as RATE

Array = NDArray[np.float32]

# A Hann window of 160 ms parts partials 12.5 Hz apart by half its main lobe; it begins when the noise of the hammer is over.
WINDOW_S = 0.160
AFTER_S = 0.008
FFT = 4096
LOW_HZ, HIGH_HZ = 72.0, 2600.0  # from below E2 to where the partials of low strings are lost in noise
_FIRST, _LAST = int(np.ceil(LOW_HZ * FFT / RATE)), int(HIGH_HZ * FFT / RATE)
BINS_HZ = (np.arange(_FIRST, _LAST + 1) * RATE / FFT).astype(np.float32)
WINDOW = int(WINDOW_S * RATE)
_HANN = np.hanning(WINDOW + 2)[1:-1].astype(np.float32)
_HANN /= _HANN.sum() / 2.0


def spectrum(samples: Array) -> Array:
    """Magnitudes at BINS_HZ of WINDOW samples (fewer: the rest is silence); a sine of amplitude 1 has a peak of 1."""
    held = samples[:WINDOW]
    return np.abs(np.fft.rfft(held * _HANN[: len(held)], FFT)[_FIRST : _LAST + 1]).astype(np.float32)


def frequency_hz(note: float, cents: float = 0.0) -> float:
    """Equal temperament on a' = 440 Hz (ISO 16)."""
    return float(440.0 * 2.0 ** ((note - 69.0 + cents / 100.0) / 12.0))


def partials_hz(f0_hz: float, inharmonicity: float, highest_hz: float = HIGH_HZ) -> NDArray[np.float64]:
    """The partials of a stiff string up to highest_hz: k f0 sqrt(1 + B k^2) (Fletcher and Rossing, The Physics of Musical
    Instruments, 2nd ed. 1998, section 2.18)."""
    k = np.arange(1, max(2, int(highest_hz / f0_hz) + 1))
    partials = k * f0_hz * np.sqrt(1.0 + inharmonicity * k * k)
    return np.asarray(partials[partials <= highest_hz])


@cache
def _lobe() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The window's own spectrum: magnitudes against distance in Hz, as far as its second side lobe."""
    fine = np.abs(np.fft.rfft(_HANN, 1 << 18)) / 2.0 * 1.0
    hz = np.arange(len(fine)) * RATE / (1 << 18)
    near = hz <= 4.0 / WINDOW_S
    return hz[near], fine[near] / fine[0]


def lines(frequencies_hz: NDArray[np.float64], amplitudes: NDArray[np.float64]) -> Array:
    """The spectrum of steady sines, their magnitudes added."""
    hz, lobe = _lobe()
    apart = np.abs(BINS_HZ[:, None] - frequencies_hz[None, :])
    return (np.interp(apart, hz, lobe, right=0.0) @ amplitudes).astype(np.float32)


def places(frequencies_hz: NDArray[np.float64]) -> NDArray[np.intp]:
    """The bins nearest to frequencies."""
    return np.clip(np.rint(frequencies_hz * FFT / RATE).astype(np.intp) - _FIRST, 0, len(BINS_HZ) - 1)
