"""A piano worked out from the physics of its strings alone, so that all of it is known: partials of a stiff string, each dying away by itself, and a short noise of the hammer.

It knows nothing of the listener. Source of the partials' places: Fletcher and Rossing, The Physics of Musical Instruments, 2nd ed. 1998, section 2.18.
"""

from __future__ import annotations

from functools import cache

import numpy as np

RATE = 16_000


def stiffness(note: int) -> float:
    """B, of the usual size for the middle of a piano, twice as much in each ten semitones."""
    return 1.0e-4 * 2.0 ** ((note - 40) / 10.0)


@cache
def string(note: int, cents: float = 0.0, seconds: float = 1.2) -> np.ndarray:
    """A key struck and held. cents: against equal temperament on 440 Hz."""
    f0 = 440.0 * 2.0 ** ((note - 69 + cents / 100.0) / 12.0)
    at = np.arange(int(seconds * RATE)) / RATE
    rng = np.random.default_rng(note)
    sound = np.zeros(len(at))
    for k in range(1, 20):
        hz = k * f0 * np.sqrt(1.0 + stiffness(note) * k * k)
        if hz > 6000.0:
            break
        level = rng.uniform(0.6, 1.4) * np.exp(-k / 5.0)
        sound += level * np.exp(-at * (1.5 + 0.8 * k)) * np.sin(2 * np.pi * (hz * at + rng.uniform()))
    hammer = rng.normal(0.0, 0.5, 160) * np.exp(-np.arange(160) / 40.0)
    sound[:160] += hammer
    return (0.1 * sound).astype(np.float32)


def played(keys: list[tuple[float, int, float]], seconds: float, cents: float = 0.0, noise: float = 1e-4) -> np.ndarray:
    """keys: (second, note, how long it is held)."""
    sound = np.random.default_rng(5).normal(0.0, noise, int(seconds * RATE)).astype(np.float32)
    for at_s, note, held_s in keys:
        one = string(note, cents).copy()
        end = int(held_s * RATE)
        if end < len(one):
            one[end:] *= np.exp(-np.arange(len(one) - end) / (0.03 * RATE)).astype(np.float32)
        start = round(at_s * RATE)
        length = min(len(one), len(sound) - start)
        sound[start : start + length] += one[:length]
    return sound


@cache
def scale(cents: float = 0.0, notes: tuple[int, ...] = tuple(range(40, 65))) -> np.ndarray:
    """E2 to E4 unless told, each held for 0.75 s of 0.8."""
    keys = [(0.6 + 0.8 * place, note, 0.75) for place, note in enumerate(notes)]
    return played(keys, 1.6 + 0.8 * len(notes), cents)
