"""A touch of room: what the walls give back of a note, worked out once into its array, so that playing it costs nothing more.

- The first reflections are those of a shoebox with two ears in it: each wall mirrors the instrument, and the mirrored ones are heard later and softer as they are
  farther away and lose `_KEPT` at each wall (Allen and Berkley, "Image method for efficiently simulating small-room acoustics", JASA 65, 1979).
- What comes after them is noise that dies away, another one for each ear (Moorer, "About this reverberation business", Computer Music Journal 3, 1979; from memory).
  It answers the first moments of a note alone, which is where it is heard, and saves most of the work.
The direct sound stays as it is and where it is: a note begins on the same frame with the room and without.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import product

import numpy as np

_SOUND_M_S = 343.0  # in air of 20 degrees
_ROOM_M = (5.2, 4.1, 2.7)  # a living room
_PIANO_M, _EARS_M = (2.3, 1.2, 1.0), ((2.5, 2.6, 1.2), (2.7, 2.6, 1.2))
_KEPT = 0.68  # of the pressure at each wall: curtains, books, a carpet
_MOST_TURNS = 2  # of one sound at the walls, as a separate reflection
_SHARE = 0.26  # how loud the first reflections are beside what they would be at the ears: a player sits close
_TAIL_S, _TAIL_LIFE_S, _TAIL_FROM_S = 0.4, 0.065, 0.02  # 1/e in 65 ms: 60 dB in 0.45 s
_TAIL_SHARE = 0.07
_ANSWERED_S = 0.6  # of a note


def in_room(dry: np.ndarray, rate: int, amount: float = 1.0) -> np.ndarray:
    """A note with the room around it, float32, shape (2, frames), as long as it was or a tail longer. dry: shape (frames,) or (2, frames)."""
    both = np.broadcast_to(dry, (2, dry.shape[-1]))
    tail = round(_TAIL_S * rate)
    wet = np.zeros((2, both.shape[1] + tail), np.float32)
    wet[:, : both.shape[1]] = both
    for ear, (delay, level) in _reflections(rate):
        wet[ear, delay : delay + both.shape[1]] += np.float32(amount * level) * both[ear]
    answered = _answered(both, rate)
    size = 1 << (answered.shape[1] + tail - 1).bit_length()
    answers = np.fft.irfft(np.fft.rfft(answered, size) * _tail_spectrum(size, rate), size)
    length = min(wet.shape[1], answered.shape[1] + tail)
    wet[:, :length] += (amount * answers[:, :length]).astype(np.float32)
    return wet


def _answered(both: np.ndarray, rate: int) -> np.ndarray:
    """The first moments of a note, faded out."""
    part = both[:, : round(_ANSWERED_S * rate)].copy()
    part *= np.cos(np.linspace(0, np.pi / 2, part.shape[1], dtype=np.float32)) ** 2
    return part


@lru_cache(maxsize=2)
def _reflections(rate: int) -> tuple[tuple[int, tuple[int, float]], ...]:
    """(ear, (frames after the direct sound, level beside it)) of each mirrored instrument."""
    found = []
    for ear, place in enumerate(_EARS_M):
        direct_m = _apart_m(_PIANO_M, place)
        for mirrored, turns in _mirrored():
            apart_m = _apart_m(mirrored, place)
            delay = round((apart_m - direct_m) / _SOUND_M_S * rate)
            found.append((ear, (max(1, delay), _SHARE * _KEPT**turns * direct_m / apart_m)))
    return tuple(found)


def _mirrored() -> list[tuple[tuple[float, ...], int]]:
    """(place in metres, walls it was mirrored at) of each image but the instrument itself. Along one side of length L the images of x lie at 2 n L + x, of
    2 |n| walls, and at 2 n L - x, of |2 n - 1|."""
    sides = []
    for at_m, length_m in zip(_PIANO_M, _ROOM_M):
        sides.append(
            [(2 * n * length_m + at_m, abs(2 * n)) for n in (-1, 0, 1)]
            + [(2 * n * length_m - at_m, abs(2 * n - 1)) for n in (0, 1)]
        )
    images = [(tuple(at for at, _ in image), sum(turns for _, turns in image)) for image in product(*sides)]
    return [(place, turns) for place, turns in images if 0 < turns <= _MOST_TURNS]


def _apart_m(one: tuple[float, ...], other: tuple[float, ...]) -> float:
    return float(np.linalg.norm(np.subtract(one, other)))


@lru_cache(maxsize=4)
def _tail_spectrum(size: int, rate: int) -> np.ndarray:
    """Of the noise that each ear hears after the first reflections, shape (2, size // 2 + 1); its energy is `_TAIL_SHARE` squared of that of the direct sound.
    Air and furniture take the high part."""
    frames, begin = round(_TAIL_S * rate), round(_TAIL_FROM_S * rate)
    noise = np.random.default_rng(4).standard_normal((2, frames))
    noise *= np.exp(-np.arange(frames) / (_TAIL_LIFE_S * rate)) * np.minimum(1, np.arange(frames) / begin)
    noise[:, -begin:] *= np.linspace(1, 0, begin)
    hertz = np.fft.rfftfreq(size, 1 / rate)
    spectrum = np.fft.rfft(noise, size) / (1 + (hertz / 2500.0) ** 2) * (hertz / (hertz + 120.0))
    energy = (np.abs(spectrum) ** 2).mean(axis=1, keepdims=True)
    return np.asarray(_TAIL_SHARE * spectrum / np.sqrt(energy)).astype(np.complex64)
