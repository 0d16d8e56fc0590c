"""Learning a piano from its notes E2 to E4, played upwards one after another, each about a second.

Raises PianoError, one sentence, where notes are missing or others were struck.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from companion.errors import PianoError
from companion.hands.hand import pitch_name
from companion.sound.listening.attacks import Flux, peaks
from companion.sound.listening.piano import HIGHEST, LOWEST, MOST_PARTIALS, NOTES, Piano, made, measured
from companion.sound.listening.spectra import AFTER_S, RATE, WINDOW, Array, frequency_hz, partials_hz, spectrum

SHORTEST_S = 0.35  # between two notes
FARTHEST_CENTS = 35.0  # off the others, else it is another key
_LONG_S = 0.45  # of a note, to hear its partials exactly
_LONG_FFT = 1 << 15
_LONG_HZ = RATE / _LONG_FFT
_WEAK = 0.1  # an attack weaker than this share of the usual one is a noise; a semitone above a note that is still held comes up little
_BEFORE_S = 0.012


@dataclass(frozen=True, slots=True, eq=False)
class ScaleNote:
    """A note of the scale as it was heard. midi: the nearest key once all are tuned as the others; cents: against that key on 440 Hz."""

    onset_s: float
    midi: int
    cents: float
    inharmonicity: float
    amplitudes: Array
    template: Array
    level: float


def learn(sound: Array, rate: int = RATE, name: str = "") -> Piano:
    """sound: mono at RATE. Raises PianoError, telling which notes are missing and which were struck instead."""
    notes = heard_notes(sound, rate)
    by_key: dict[int, ScaleNote] = {}
    for note in notes:
        before = by_key.get(note.midi)
        if before is None or note.level > before.level:
            by_key[note.midi] = note
    missing = [key for key in NOTES if key not in by_key]
    if missing:
        raise PianoError(_what_is_missing(missing, notes))
    return piano_of([by_key[key] for key in NOTES], room_noise(sound, notes[0].onset_s), name)


def piano_of(notes: Sequence[ScaleNote], noise: Array, name: str = "") -> Piano:
    """notes: one for each of NOTES, in turn."""
    return Piano(
        name,
        np.array([note.cents for note in notes], dtype=np.float32),
        np.array([note.inharmonicity for note in notes], dtype=np.float32),
        np.stack([note.amplitudes for note in notes]),
        np.stack([note.template for note in notes]),
        np.array([note.level for note in notes], dtype=np.float32),
        noise,
    )


def heard_notes(sound: Array, rate: int = RATE) -> list[ScaleNote]:
    """Every note of a scale in turn. Raises PianoError where there is none."""
    if rate != RATE:
        raise ValueError(f"sound at {rate} Hz; expected {RATE}")
    sound = np.asarray(sound, dtype=np.float32)
    onsets = _onsets(sound)
    found = [(onset_s, *_pitch(sound, onset_s)) for onset_s in onsets]
    found = [note for note in found if note[1] > 0]
    if not found:
        raise PianoError(
            "no notes of a piano are to be heard; expected E2 to E4, one after another, each about a second"
        )
    floats = np.array([69.0 + 12.0 * np.log2(f0_hz / 440.0) for _, f0_hz, _ in found])
    # The piano as a whole may be flat or sharp by any amount: the middle of all notes says by how much.
    angle = np.angle(np.mean(np.exp(2j * np.pi * floats)))
    off = float(angle / (2 * np.pi))
    keys = np.rint(floats - off).astype(int)
    off = float(np.median(floats - keys))
    notes = []
    for (onset_s, f0_hz, stiff), exact, key in zip(found, floats, keys):
        if abs(exact - key - off) * 100.0 <= FARTHEST_CENTS:
            notes.append(_note(sound, onset_s, f0_hz, stiff, int(key), float(exact - key) * 100.0))
    return notes


def room_noise(sound: Array, until_s: float) -> Array:
    """The spectrum of the room before the first note; where that is too short, the quietest of what follows."""
    end = int((until_s - 0.03) * RATE)
    steps = (
        range(0, max(1, end - WINDOW), WINDOW // 2)
        if end > 2 * WINDOW
        else range(0, max(1, len(sound) - WINDOW), WINDOW)
    )
    spectra = np.stack([spectrum(sound[at : at + WINDOW]) for at in steps])
    share = 50 if end > 2 * WINDOW else 5
    return np.maximum(np.percentile(spectra, share, axis=0), 1e-6).astype(np.float32)


def _what_is_missing(missing: Sequence[int], notes: Sequence[ScaleNote]) -> str:
    names = ", ".join(pitch_name(key) for key in missing[:8]) + (" and more" if len(missing) > 8 else "")
    heard = {note.midi for note in notes}
    others = sorted(heard - set(NOTES))
    instead = f" (heard too: {', '.join(pitch_name(key) for key in others[:8])})" if others else ""
    were = "was" if len(missing) == 1 else "were"
    return (
        f"of the scale {names} {were} not heard{instead}; expected {pitch_name(LOWEST)} to {pitch_name(HIGHEST)} upwards, "
        "every key, each about a second"
    )


def _onsets(sound: Array) -> list[float]:
    """Attacks at least SHORTEST_S apart, the stronger of two that are nearer."""
    found: list[tuple[float, float]] = []
    flux = Flux(0.0)
    step = RATE
    for at in range(0, len(sound) + step, step):
        flux.hear(sound[at : at + step])
        found += [
            peak
            for peak in peaks(*flux.rises(max(0.0, at / RATE - 1.0), flux.until_s), 50)
            if all(abs(peak[0] - other[0]) > 0.003 for other in found)
        ]
    usual = float(np.median(sorted((height for _, height in found), reverse=True)[: len(NOTES)])) if found else 0.0
    kept: list[tuple[float, float]] = []
    for peak in sorted(found, key=lambda peak: -peak[1]):
        if peak[1] >= _WEAK * usual and all(abs(peak[0] - other[0]) >= SHORTEST_S for other in kept):
            kept.append(peak)
    return sorted(onset_s for onset_s, _ in kept)


def _pitch(sound: Array, onset_s: float) -> tuple[float, float]:
    """(fundamental of the string without stiffness in Hz, B); (0, 0) for what is no note. The fundamental is the one at whose partials most stands out,
    less what stands out half-way between them, which tells a note from the one an octave lower."""
    start = int((onset_s + 0.03) * RATE)
    held = sound[start : start + int(_LONG_S * RATE)]
    if len(held) < 0.15 * RATE:
        return 0.0, 0.0
    size = np.abs(np.fft.rfft(held * np.hanning(len(held)), _LONG_FFT))
    size = size[: int(4000 / _LONG_HZ)]
    floor = np.median(size[int(60 / _LONG_HZ) :]) + 1e-9
    out = np.log1p(size / (4.0 * floor))
    wide = np.max(np.lib.stride_tricks.sliding_window_view(np.pad(out, 3), 7), axis=1)
    grid = frequency_hz(LOWEST - 6) * 2.0 ** (np.arange(0, 12 * (HIGHEST - LOWEST + 13), 1) / 144.0)
    numbers = np.arange(1, 13)
    weight = 0.86**numbers
    stretch = numbers * np.sqrt(1.0 + 2.5e-4 * numbers**2)
    on = _at(wide, grid[:, None] * stretch) @ weight
    between = _at(wide, grid[:, None] * (stretch - 0.5)) @ weight
    score = on - 0.8 * between
    best = int(np.argmax(score))
    if on[best] < 1.0:
        return 0.0, 0.0
    return _fitted(size, float(grid[best]))


def _at(values: NDArray[np.float64], hz: NDArray[np.float64]) -> NDArray[np.float64]:
    """Values at frequencies."""
    there: NDArray[np.float64] = values[np.minimum(np.rint(hz / _LONG_HZ).astype(int), len(values) - 1)]
    return there


def _fitted(size: NDArray[np.float64], f0_hz: float) -> tuple[float, float]:
    """Fundamental and B by the partials' exact places: (f_k / k)^2 is a straight line over k^2."""
    stiff = 2.5e-4
    for reach in (0.025, 0.015, 0.010):
        numbers, squares, weights = [], [], []
        for k in range(1, 15):
            due_hz = k * f0_hz * np.sqrt(1.0 + stiff * k * k)
            low, high = int(due_hz * (1 - reach) / _LONG_HZ), int(due_hz * (1 + reach) / _LONG_HZ) + 2
            if high + 1 >= len(size):
                break
            place = low + int(np.argmax(size[low:high]))
            a, b, c = np.log(size[place - 1 : place + 2] + 1e-12)
            bend = a - 2 * b + c
            exact = place + (0.5 * (a - c) / bend if bend < 0 else 0.0)
            numbers.append(float(k * k))
            squares.append((exact * _LONG_HZ / k) ** 2)
            weights.append(float(np.sqrt(size[place])) * k)
        if len(numbers) < 3:
            break
        slope, base = np.polyfit(numbers, squares, 1, w=np.array(weights))
        if base <= 0:
            break
        f0_hz, stiff = float(np.sqrt(base)), float(np.clip(slope / base, 0.0, 2e-3))
    return f0_hz, stiff


def _note(sound: Array, onset_s: float, f0_hz: float, stiff: float, key: int, cents: float) -> ScaleNote:
    at = round(onset_s * RATE)
    after = spectrum(sound[at + int(AFTER_S * RATE) :])
    end = max(0, at - int(_BEFORE_S * RATE))
    before = spectrum(sound[max(0, end - WINDOW) : end])
    clean = np.maximum(after - before, 0.0)
    where_hz = partials_hz(f0_hz, stiff)
    near = made(where_hz, np.ones(MOST_PARTIALS * 2, dtype=np.float32))
    # Away from its own partials what is heard is the hammer, the room and the note before.
    clean = clean * np.minimum(1.0, 0.15 + near / near.max() * 4.0)
    template = clean + 1e-6 * clean.max() + 1e-12
    return ScaleNote(
        onset_s,
        key,
        cents,
        stiff,
        measured(clean, where_hz),
        (template / template.sum()).astype(np.float32),
        float(clean.sum()),
    )
