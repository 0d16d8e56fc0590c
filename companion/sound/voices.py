"""The built-in voices as arrays: a click in two pitches and two cymbals (drums.py), a plucked bass, a piano (piano.py), and struck metal for a melody.

One array a note, at its loudest (peaks near 1); who plays it scales it. `render` gives one side, soon; `render_full` two, with a room around them (room.py), which takes
twice to three times as long. Pitch: equal temperament, A4 = 440 Hz (ISO 16).
Shared by the live mixer and by rendering to a file. Nothing is recorded: all is worked out here.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from companion.groove.ride import PEDAL_HI_HAT, RIDE
from companion.sound.drums import hi_hat, ride, tap, wood
from companion.sound.piano import piano, powers
from companion.sound.room import in_room
from companion.sound.wanted import OWN_LAYERS, nearest

SAMPLE_RATE = 48000
A4_HZ, A4_MIDI = 440.0, 69  # ISO 16

_BASS_SECONDS = 3.0
_BASS_PARTIALS = 16
_MELODY_SECONDS = 5.0
# A bar tuned as a vibraphone's, its overtones the double octave and an octave and a third above that (1:4:10; Fletcher and
# Rossing, The Physics of Musical Instruments, 1998, chapter 19, from memory).
_MELODY_PARTIALS = ((1, 1.0, 2.2), (4, 0.2, 0.5), (10, 0.05, 0.12))
_ROOM = {
    "click": 0.6,
    "drums": 0.6,
    "bass": 0.5,
}  # of each voice, 1 where it is not said: a bass in a small room booms, a click must be sharp
# By their numbers: what strikes them, and how high the loudest sample is.
_CYMBALS = {RIDE: (ride, 0.85), PEDAL_HI_HAT: (hi_hat, 0.6)}
_COMPARED_SECONDS = 0.5  # of the beginning, which says how loud a note is
_INAUDIBLE = 5e-4  # of the peak: what is softer at the end of a note is cut off
_FADE_SECONDS = 0.05  # at the end of a note's array, so that it never ends in a step


def frequency_hz(note: int) -> float:
    """Of a MIDI note in equal temperament."""
    return float(A4_HZ * 2.0 ** ((note - A4_MIDI) / 12))


def render(voice: str, note: int, rate: int = SAMPLE_RATE, velocity: int = 80) -> np.ndarray:
    """One note of a voice ("click", "drums", "bass", "left" or "right"). For the click, note 1 is the bar's first beat and 0 any other; the drums are one of ride.CYMBALS. velocity: how bright it is; how
    loud is for who plays it.

    Takes some ms the first time; the array is shared and must not be written to.
    """
    return _rendered(voice, note, rate, nearest(velocity, OWN_LAYERS) if voice == "left" else 0)


def render_full(voice: str, note: int, rate: int = SAMPLE_RATE, velocity: int = 80) -> np.ndarray:
    """The same note as `render` gives, as loud and begun on the same frame, in stereo with the room around it: 16 bits, shape (2, frames).
    Some 20 ms of work; not kept here."""
    plain = render(voice, note, rate, velocity)
    dry = piano(note, frequency_hz(note), nearest(velocity, OWN_LAYERS), rate, ears=2) if voice == "left" else plain
    wet = in_room(dry, rate, _ROOM.get(voice, 1.0))
    beginning = round(_COMPARED_SECONDS * rate)
    wet *= np.float32(_energy(plain[:beginning]) / _energy(wet[:, :beginning])) ** np.float32(0.5)
    loudest = np.abs(wet).max()
    heard = np.flatnonzero(np.abs(wet).max(axis=0) > _INAUDIBLE * loudest)
    wet = np.ascontiguousarray(wet[:, : heard[-1] + round(_FADE_SECONDS * rate)])
    return in_16_bits(_finished(wet, min(float(loudest), 0.99), rate))


def in_16_bits(samples: np.ndarray) -> np.ndarray:
    """Samples within -1 to 1 as whole numbers: half the room in memory and on disk, and what is lost lies 90 dB below."""
    return np.round(samples * np.float32(32767)).astype(np.int16)


def _energy(samples: np.ndarray) -> float:
    """The mean of the sides there are."""
    sides = samples.size // samples.shape[-1]
    return float(np.sum(np.square(samples, dtype=np.float64)) / sides)


def forget() -> None:
    """Work every note out again when it is next asked for."""
    _rendered.cache_clear()


@lru_cache(maxsize=256)
def _rendered(voice: str, note: int, rate: int, layer: int) -> np.ndarray:
    if voice == "click":
        samples = _finished(wood(bool(note), rate), 0.95, rate)
    elif voice == "drums" and note in _CYMBALS:
        strike, peak = _CYMBALS[note]
        samples = _finished(strike(rate), peak, rate)
    elif voice == "bass":
        samples = _bass(frequency_hz(note), rate)
    elif voice == "left":
        samples = _finished(piano(note, frequency_hz(note), layer, rate), 0.8, rate)
    elif voice == "right":
        samples = _bar(frequency_hz(note), rate)
    else:
        raise ValueError(
            f"{note} of {voice!r} is no built-in voice; expected click, drums (44, 51), bass, left or right"
        )
    samples.setflags(write=False)
    return samples


def _bass(pitch_hz: float, rate: int) -> np.ndarray:
    """A string plucked at a fifth of its length: partial k has the level sin(pi k / 5) / k (the shape of a plucked string,
    d'Alembert), and the high ones die first. Half of each dies at once, as the finger lets the body ring, the rest lasts. The slap of finger and
    string on wood, noise and 50 ms long, lets small loudspeakers show the onset."""
    frames = round(_BASS_SECONDS * rate)
    numbers = np.arange(1, _BASS_PARTIALS + 1)
    levels = np.abs(np.sin(np.pi * numbers / 5)) / numbers
    lives_s = 1.1 / (1 + 0.28 * (numbers - 1))
    partials = [
        (k, level * share, life_s * length)
        for k, level, life_s in zip(numbers.tolist(), levels.tolist(), lives_s.tolist())
        for share, length in ((0.5, 0.2), (0.5, 1.0))
        if level > 1e-6
    ]
    tone = _attack(_additive(pitch_hz, partials, frames, rate), 0.003, rate)
    loudest = np.abs(tone).max()
    for seconds, life_s, level in ((0.03, 0.004, 0.14), (0.05, 0.014, 0.05)):
        slap = tap(seconds, life_s, rate)
        tone[: len(slap)] += np.float32(level * loudest) * slap
    return _finished(tone, 0.9, rate)


def _bar(pitch_hz: float, rate: int) -> np.ndarray:
    """A struck bar of metal over a resonator: round, and long enough to sing."""
    tone = _additive(pitch_hz, _MELODY_PARTIALS, round(_MELODY_SECONDS * rate), rate)
    return _finished(_attack(tone, 0.003, rate), 0.8, rate)


def _additive(pitch_hz: float, partials: Sequence[tuple[int, float, float]], frames: int, rate: int) -> np.ndarray:
    """The sum of decaying sines (number, level, seconds to 1/e); partials beyond what the rate can carry are left out.

    Each sine stops where it has fallen to a thousandth, which saves most of the work.
    """
    total = np.zeros(frames, np.float32)
    for number, level, life_s in partials:
        if number * pitch_hz < 0.45 * rate:
            heard = min(frames, round(7 * life_s * rate))
            per_second = complex(-1 / life_s, 2 * np.pi * number * pitch_hz)
            total[:heard] += np.float32(level) * powers(per_second / rate, heard).imag
    return total


def _attack(samples: np.ndarray, seconds: float, rate: int) -> np.ndarray:
    frames = round(seconds * rate)
    samples[:frames] *= np.linspace(0, 1, frames, dtype=np.float32)
    return samples


def _finished(samples: np.ndarray, peak: float, rate: int) -> np.ndarray:
    """Scaled to `peak` and faded at the end."""
    frames = min(samples.shape[-1], round(_FADE_SECONDS * rate))
    samples *= np.float32(peak) / np.abs(samples).max()
    samples[..., -frames:] *= np.linspace(1, 0, frames, dtype=np.float32)
    return samples
