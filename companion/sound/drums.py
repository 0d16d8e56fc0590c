"""Struck percussion as arrays: a wooden click, a ride cymbal, a hi-hat closed by the foot. Nothing is recorded: all is worked out here.

A cymbal is a plate whose modes follow Chladni's law, f = c (m + 2n)^p for m nodal diameters and n circles; what a stick's tip excites beyond some kHz lies so dense that it is heard as
noise, of which 3 to 5 kHz lasts longest (Fletcher and Rossing, The Physics of Musical Instruments, 1998, chapter 20, from memory). Bands and decays were set by those of two free
General MIDI sounds (tests/bench/drums.py).
"""

from __future__ import annotations

import numpy as np

from companion.sound.piano import powers

# Two struck bars of wood, a fifth apart: around 1 to 3 kHz the ear is keenest and a left hand never plays.
CLICK_HZ = {True: 2093.0, False: 1396.9}  # C7 on the bar's first beat, F6 on the others
_CLICK_SECONDS = 0.09
_CLICK_PARTIALS = (
    (1.0, 1.0, 0.016),
    (2.71, 0.5, 0.006),
)  # (times the pitch, level, seconds to 1/e): wood is not harmonic

RIDE_SECONDS, HI_HAT_SECONDS = 1.8, 0.22
_CHLADNI_HZ, _CHLADNI_POWER = 62.0, 1.55  # c and p of a heavy ride
_RIDE_MODES = range(3, 22)  # m + 2n: from 340 Hz to 7 kHz; higher ones lie in the noise
_PING_HZ, _PING_OCTAVES = 3400.0, 1.5  # where a wooden tip excites most, and how far around that
# From and to Hz, level, seconds to 1/e, seed of the noise: the ping, what is bright and soon gone, the shimmer, what is left of it.
_RIDE_NOISE = (
    (5000, 17000, 1.0, 0.016, 51),
    (5000, 15000, 0.3, 0.12, 52),
    (2600, 9000, 0.2, 0.4, 53),
)
_NOISE_FRAMES = 1 << 15
_MEET_SECONDS = 0.022  # for which the two of a hi-hat rub on each other


def wood(accent: bool, rate: int) -> np.ndarray:
    """A wood block: two partials that die within 30 ms, and a tap of noise that makes the onset sharp from frame 0 on."""
    frames = round(_CLICK_SECONDS * rate)
    body = np.zeros(frames, np.float32)
    for ratio, level, life_s in _CLICK_PARTIALS:
        body += _decaying(ratio * CLICK_HZ[accent], life_s, frames, rate, level)
    return _with_tap(body, 0.4, 0.0012, rate)


def ride(rate: int) -> np.ndarray:
    """A ride cymbal struck by a stick's tip: the ping of the stroke, the shimmer behind it, and the modes of the plate that ring on below."""
    frames = round(RIDE_SECONDS * rate)
    chance = np.random.default_rng(51)
    total = np.zeros(frames, np.float32)
    for number in _RIDE_MODES:
        hz = _CHLADNI_HZ * number**_CHLADNI_POWER * (1 + 0.01 * chance.random())  # no plate is quite even
        level = 0.1 * np.exp(-0.5 * (np.log2(hz / _PING_HZ) / _PING_OCTAVES) ** 2)
        total += _decaying(hz, 0.8 * (hz / 1000) ** -0.35, frames, rate, float(level), 2 * np.pi * chance.random())
    for low_hz, high_hz, level, life_s, seed in _RIDE_NOISE:
        heard = min(frames, round(7 * life_s * rate))
        decay = np.exp(-np.arange(heard, dtype=np.float32) / np.float32(life_s * rate))
        total[:heard] += np.float32(level) * _band(heard, low_hz, high_hz, rate, seed) * decay
    return _with_tap(total, 0.3, 0.001, rate)


def hi_hat(rate: int) -> np.ndarray:
    """Two cymbals that close on each other: a short "chick" while they meet, over the thump of the foot."""
    frames = round(HI_HAT_SECONDS * rate)
    seconds = np.arange(frames) / rate
    meet = np.exp(-np.maximum(0.0, seconds - _MEET_SECONDS) / 0.028)
    chick = _band(frames, 2800, 15000, rate, 44) * meet
    thump = _band(frames, 250, 900, rate, 45) * np.exp(-seconds / 0.02)
    return _with_tap((chick + 0.4 * thump).astype(np.float32), 0.25, 0.001, rate)


def _decaying(hz: float, life_s: float, frames: int, rate: int, level: float, turn: float = 0.0) -> np.ndarray:
    """A sine that dies away; it stops where it has fallen to a thousandth. turn: phase of its cosine at the start, in radians."""
    wave = np.zeros(frames, np.float32)
    heard = min(frames, round(7 * life_s * rate))
    start = np.complex64(level * np.exp(1j * turn))
    wave[:heard] = (start * powers(complex(-1 / life_s, 2 * np.pi * hz) / rate, heard)).real
    return wave


def _band(frames: int, low_hz: float, high_hz: float, rate: int, seed: int) -> np.ndarray:
    """Noise between two frequencies, soft at both edges, its mean square 1; always the same one. It comes again every 0.7 s, which nobody hears in what
    dies away, and which takes a quarter of the time."""
    size = min(_NOISE_FRAMES, 1 << (frames - 1).bit_length())
    spectrum = np.fft.rfft(np.random.default_rng(seed).standard_normal(size).astype(np.float32))
    octaves = np.log2(np.maximum(np.fft.rfftfreq(size, 1 / rate), 1.0))
    edges = np.clip(4 * (octaves - np.log2(low_hz)), 0, 1) * np.clip(4 * (np.log2(high_hz) - octaves), 0, 1)
    noise = np.fft.irfft(spectrum * edges, size)
    return np.resize(np.asarray(noise / np.sqrt(np.mean(noise**2)), np.float32), frames)


def tap(seconds: float, life_s: float, rate: int) -> np.ndarray:
    """A burst of noise, always the same one."""
    frames = round(seconds * rate)
    noise = np.random.default_rng(1).uniform(-1, 1, frames)
    return (noise * np.exp(-np.arange(frames) / (life_s * rate))).astype(np.float32)


def _with_tap(body: np.ndarray, share: float, life_s: float, rate: int) -> np.ndarray:
    """With what is heard of the stroke itself, which begins on frame 0. share: of the body's loudest."""
    stroke = tap(0.01, life_s, rate)
    body[: len(stroke)] += np.float32(share * max(1.0, float(np.abs(body).max()))) * stroke
    return body
