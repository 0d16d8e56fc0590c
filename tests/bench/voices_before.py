"""The three voices as they were before the piano: what voices.py sets beside those of today. Sums of decaying sines, one side, no room."""

from __future__ import annotations

import numpy as np

_KEYS = (
    (1, 1.0, 1.5),
    (2, 0.45, 1.0),
    (3, 0.22, 0.7),
    (4, 0.12, 0.5),
    (5, 0.06, 0.35),
    (6, 0.04, 0.25),
    (7, 0.02, 0.18),
)  # number, level, seconds to 1/e
_WOOD = ((1.0, 1.0, 0.016), (2.71, 0.5, 0.006))
_CLICK_HZ = {1: 2093.0, 0: 1396.9}


def before(voice: str, note: int, rate: int) -> np.ndarray:
    """A note of the left hand, the bass or the click, float32."""
    hertz = 440.0 * 2 ** ((note - 69) / 12)
    if voice == "click":
        tone = _sines(_CLICK_HZ[note], _WOOD, 0.09, rate, turned=np.pi / 2)
        tone[: round(0.01 * rate)] += 0.4 * _tap(0.01, 0.0012, rate)
        return _finished(tone, 0.95, rate)
    if voice == "left":
        longer = (220.0 / hertz) ** 0.3
        tone = _sines(hertz, [(k, level, life_s * longer) for k, level, life_s in _KEYS], 4.0, rate)
        return _finished(_rising(tone, 0.004, rate), 0.8, rate)
    partials = [(k, abs(np.sin(np.pi * k / 5)) / k, 1.1 / (1 + 0.28 * (k - 1))) for k in range(1, 17)]
    tone = _rising(_sines(hertz, partials, 3.0, rate), 0.003, rate)
    tone[: round(0.03 * rate)] += 0.12 * np.abs(tone).max() * _tap(0.03, 0.004, rate)
    return _finished(tone, 0.9, rate)


def _sines(hertz: float, partials, seconds: float, rate: int, turned: float = 0.0) -> np.ndarray:
    times = np.arange(round(seconds * rate)) / rate
    heard = [(number * hertz, level, life_s) for number, level, life_s in partials if number * hertz < 0.45 * rate]
    return sum(level * np.exp(-times / life_s) * np.sin(2 * np.pi * hz * times + turned) for hz, level, life_s in heard)


def _tap(seconds: float, life_s: float, rate: int) -> np.ndarray:
    frames = round(seconds * rate)
    return np.random.default_rng(1).uniform(-1, 1, frames) * np.exp(-np.arange(frames) / (life_s * rate))


def _rising(samples: np.ndarray, seconds: float, rate: int) -> np.ndarray:
    frames = round(seconds * rate)
    samples[:frames] *= np.linspace(0, 1, frames)
    return samples


def _finished(samples: np.ndarray, peak: float, rate: int) -> np.ndarray:
    frames = min(len(samples), round(0.05 * rate))
    samples = samples * peak / np.abs(samples).max()
    samples[-frames:] *= np.linspace(1, 0, frames)
    return samples.astype(np.float32)
