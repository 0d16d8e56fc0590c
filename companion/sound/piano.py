"""The built-in piano: stiff strings struck by a hammer, worked out partial by partial. Nothing is recorded.

- Stretched partials: f_n = n f_1 sqrt((1 + B n^2) / (1 + B)) of a stiff string (Fletcher, Blackham and Stratton, "Quality of Piano Tones", JASA 34, 1962, from memory), with B over the
  keyboard as two exponentials, of the bass bridge and of the treble bridge (Rigaud, David and Daudet, "A parametric model and estimation techniques for the
  inharmonicity and tuning of the piano", JASA 133, 2013; their numbers from memory, the treble a fifth less stiff).
- The hammer strikes at an eighth of the string, so every eighth partial is missing (common practice of piano makers); a harder blow is brighter, as felt is
  stiffer the more it is pressed.
- Strings of one key are a little apart and coupled at the bridge: a prompt sound that dies soon, and an aftersound that lasts (Weinreich, "Coupled piano strings", JASA 62, 1977,
  pages 1474 to 1484; what it found as told by Woodhouse, "A necessary condition for double decay envelopes in stringed instruments", JASA 150, 2021).
- Two ears hear each partial a little apart, as the soundboard throws each elsewhere, and low keys on the left; how much is ours.
- A soundboard gives little below its first resonance, so the lowest partials are weak (the same 1962 paper shows it); the knock of hammer and key is noise.
How fast it dies and how bright it is was set beside a sampled piano by tests/bench/voices.py.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

SECONDS = 5.0
_STRIKE_POINT = 1 / 8
_HIGHEST_HZ, _MOST_PARTIALS, _FAINTEST = 9000.0, 44, 3e-4
_SOFTNESS = 0.8  # of the felt: at 1 each partial would lose as much as the one before it, sampled pianos keep more of the high ones
_BOARD_HZ = 214.0  # where the soundboard has lost half of the power
_APART = 3.0e-4  # of the pitch: half a cent between the strings of a key
_AFTER_PARTIALS = 10  # those of which an aftersound is heard
# How far apart (radians) the two ears hear every third partial, and to which side (-1 to 1) it leans: enough for width, too little for any to be lost where both
# loudspeakers are one.
_PHASES, _SIDES = (0.2, 1.0, -0.9), (0.0, 0.12, -0.12)
_WIDTH = 0.3  # of the keyboard, between the loudspeakers
_TURN = 2 * np.pi


def inharmonicity(note: int) -> float:
    """B of a MIDI note's strings."""
    return float(np.exp(0.0926 * note - 13.85) + np.exp(-0.0847 * note - 5.82))


def piano(note: int, pitch_hz: float, velocity: int, rate: int, ears: int = 1) -> np.ndarray:
    """One key struck and held, float32, not yet scaled, shape (frames,), or (2, frames) for two ears. velocity: one of wanted.OWN_LAYERS. rate: frames a second."""
    frames = round(SECONDS * rate)
    groups = np.zeros((1 if ears == 1 else len(_PHASES), frames), np.complex64)
    numbers, hertz, levels = _partials(note, pitch_hz, velocity, rate)
    prompt_s, after_s, share = _lives(pitch_hz)
    for number, partial_hz, level in zip(numbers.tolist(), hertz.tolist(), levels.tolist(), strict=True):
        sooner = 1 / (1 + 0.035 * (number - 1) + (partial_hz / 5000) ** 2)  # air and felt take the high ones first
        after = share if number <= _AFTER_PARTIALS else 0.0
        total = groups[number % len(groups)]
        _add(total, level * (1 - after), partial_hz, prompt_s * sooner, rate)
        if after:
            _add(total, level * after, partial_hz * (1 + _APART), after_s * sooner, rate)
    heard = groups.imag if ears == 1 else _at_two_ears(groups, note)
    rise = round(0.002 * rate)
    heard[:, :rise] *= np.linspace(0, 1, rise, dtype=np.float32)
    knock = _knock(rate)
    loudest = np.abs(heard).max()
    heard[:, : len(knock)] += np.float32(0.10 * loudest * (velocity / 88) ** 0.5) * knock
    return heard[0] if ears == 1 else heard


def _at_two_ears(groups: np.ndarray, note: int) -> np.ndarray:
    """Groups of partials, complex, as the player hears them: a soundboard throws each to another side, and low keys are on the left."""
    place = (note - 64) / 64 * _WIDTH
    heard = np.zeros((2, groups.shape[1]), np.float32)
    for group, phase, side in zip(groups, _PHASES, _SIDES, strict=True):
        angle = (place + side + 1) * np.pi / 4
        for ear, level in enumerate((np.cos(angle), np.sin(angle))):
            turned = np.complex64(2**0.5 * level * np.exp(1j * (phase / 2 if ear else -phase / 2)))
            heard[ear] += turned.real * group.imag
            heard[ear] += turned.imag * group.real
    return heard


def _partials(note: int, pitch_hz: float, velocity: int, rate: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(number, Hz, level) of those that are heard."""
    stiff = inharmonicity(note)
    numbers = np.arange(1, _MOST_PARTIALS + 1)
    hertz = numbers * pitch_hz * np.sqrt((1 + stiff * numbers**2) / (1 + stiff))
    soft_hz = _brightness_hz(pitch_hz) * (velocity / 88) ** 0.75
    levels = np.abs(np.sin(np.pi * numbers * _STRIKE_POINT)) / numbers**0.5 * np.exp(-((hertz / soft_hz) ** _SOFTNESS))
    levels *= (hertz / _BOARD_HZ) ** 2 / np.sqrt(1 + (hertz / _BOARD_HZ) ** 4)
    heard = (hertz < np.where(numbers == 1, 0.45 * rate, min(_HIGHEST_HZ, 0.45 * rate))) & (
        levels > _FAINTEST * levels.max()
    )
    return numbers[heard], hertz[heard], levels[heard]


def _brightness_hz(pitch_hz: float) -> float:
    """How far up the hammer's felt lets partials through at velocity 88: what lies so many hertz up has lost 8.7 dB."""
    return 380.0 + 0.9 * pitch_hz


def _lives(pitch_hz: float) -> tuple[float, float, float]:
    """(seconds until the prompt sound has fallen to 1/e, the same of the aftersound, its share at the onset)."""
    octaves = np.log2(pitch_hz / 220.0)
    return 0.42 * 2 ** (-0.495 * octaves), 2.15 * 2 ** (-0.62 * octaves), 0.108 * 2 ** (-0.595 * octaves)


def _add(total: np.ndarray, level: float, hertz: float, life_s: float, rate: int) -> None:
    """Add a decaying turn, complex, as long as it is more than a thousandth."""
    heard = min(len(total), round(7 * life_s * rate))
    turning = powers(complex(-1 / life_s, _TURN * hertz) / rate, heard)
    turning *= np.float32(level)
    total[:heard] += turning


@lru_cache(maxsize=4)
def _knock(rate: int) -> np.ndarray:
    """Hammer and key: a burst of noise without its highest part, always the same."""
    frames = round(0.06 * rate)
    noise = np.random.default_rng(2).uniform(-1, 1, frames)
    window = np.hanning(max(3, round(0.0006 * rate)))
    soft = np.convolve(noise, window / window.sum(), "same")
    knock = (soft * np.exp(-np.arange(frames) / (0.009 * rate))).astype(np.float32)
    knock /= np.abs(knock).max()
    return knock


def powers(exponent: complex, count: int) -> np.ndarray:
    """exp(exponent * n) for n from 0, complex64: a decaying turn. Each step doubles what is there, so 100,000 values take
    17 multiplications of arrays and as many roundings, a tenth of the time of sin and exp."""
    found = np.empty(count, np.complex64)
    found[0] = 1
    done = 1
    while done < count:
        step = min(done, count - done)
        np.multiply(found[:step], np.complex64(np.exp(exponent * done)), out=found[done : done + step])
        done += step
    return found
