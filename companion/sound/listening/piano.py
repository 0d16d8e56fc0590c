"""What is known of a piano in its place: how each note is tuned, how stiff its string is, what its attack looks like and how loud it is.

Notes from LOWEST to HIGHEST were played once (see scale.py); what lies beyond is made from the partials of the nearest of them.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from companion.errors import PianoError
from companion.sound.listening.spectra import BINS_HZ, Array, frequency_hz, lines, partials_hz, places

LOWEST, HIGHEST = 40, 64  # E2 to E4
NOTES = tuple(range(LOWEST, HIGHEST + 1))
MOST_PARTIALS = 24
# Partials of the attack and B of a piano never heard: the middle of four sampled pianos in three rooms (LOOKED_AT in tests/pianos_sampled.py), at five keys.
_USUAL = {
    40: (0.269, 0.213, 0.112, 0.092, 0.064, 0.030, 0.028, 0.018, 0.018, 0.018, 0.010, 0.008, 0.006, 0.006, 0.006),
    46: (0.220, 0.260, 0.147, 0.081, 0.040, 0.035, 0.026, 0.015, 0.016, 0.020, 0.016, 0.014, 0.010, 0.008, 0.006),
    52: (0.404, 0.300, 0.070, 0.034, 0.022, 0.018, 0.022, 0.018, 0.014, 0.014, 0.008, 0.006, 0.004, 0.003, 0.002),
    58: (0.476, 0.203, 0.060, 0.030, 0.024, 0.022, 0.028, 0.026, 0.020, 0.016, 0.008, 0.004, 0.002, 0.001, 0.001),
    64: (0.501, 0.187, 0.055, 0.055, 0.060, 0.045, 0.030, 0.020, 0.012, 0.008, 0.004, 0.002, 0.001, 0.001, 0.001),
}
_USUAL_B = (7e-5, 9e-5, 1.6e-4, 2.7e-4, 3.8e-4)
_VERSION = 1
_ARRAYS = ("cents", "inharmonicity", "amplitudes", "templates", "levels", "noise")


@dataclass(frozen=True, slots=True, eq=False)
class Piano:
    """name: the student's. cents: of each of NOTES against equal temperament on 440 Hz; inharmonicity: B of its string; amplitudes:
    (note, partial), their sum 1; templates: (note, bin) the spectrum of an attack, its sum 1; levels: the sum of the spectrum when it was
    learned; noise: (bin) the spectrum of the room. learned: False for the general one, which stands for a piano never heard."""

    name: str
    cents: Array
    inharmonicity: Array
    amplitudes: Array
    templates: Array
    levels: Array
    noise: Array
    learned: bool = True

    def template(self, note: int) -> Array:
        """The spectrum of an attack of a note, its sum 1."""
        if LOWEST <= note <= HIGHEST:
            return np.asarray(self.templates[note - LOWEST], dtype=np.float32)
        near = min(max(note, LOWEST), HIGHEST) - LOWEST
        return made(self.partials_hz(note), self.amplitudes[near])

    def matrix(self, notes: Iterable[int]) -> Array:
        """(bin, note)."""
        return np.stack([self.template(note) for note in notes], axis=1)

    def f0_hz(self, note: int) -> float:
        """The fundamental a string without stiffness would have."""
        near = min(max(note, LOWEST), HIGHEST) - LOWEST
        return frequency_hz(note, float(self.cents[near]))

    def partials_hz(self, note: int) -> NDArray[np.float64]:
        """Where its partials lie."""
        near = min(max(note, LOWEST), HIGHEST) - LOWEST
        return partials_hz(self.f0_hz(note), float(self.inharmonicity[near]))

    def level(self, note: int) -> float:
        """How loud it was when it was learned."""
        return float(self.levels[min(max(note, LOWEST), HIGHEST) - LOWEST])

    @property
    def tuning_cents(self) -> float:
        """The middle of all notes' tuning."""
        return float(np.median(self.cents))


def made(frequencies_hz: NDArray[np.float64], amplitudes: Array) -> Array:
    """A template of partials alone, its sum 1. amplitudes: by partial; fewer or more than there are partials will do."""
    count = min(len(frequencies_hz), len(amplitudes))
    drawn = lines(frequencies_hz[:count], np.asarray(amplitudes[:count], dtype=np.float64))
    drawn += 1e-6 * drawn.max() + 1e-12
    return np.asarray(drawn / drawn.sum(), dtype=np.float32)


def measured(spectrum: Array, frequencies_hz: NDArray[np.float64]) -> Array:
    """Amplitudes of partials in a spectrum, at most MOST_PARTIALS, their sum 1."""
    found = np.zeros(MOST_PARTIALS, dtype=np.float32)
    at = places(frequencies_hz[:MOST_PARTIALS])
    for number, place in enumerate(at):
        found[number] = spectrum[max(0, place - 1) : place + 2].max()
    return np.asarray(found / max(float(found.sum()), 1e-12), dtype=np.float32)


def general_piano(cents: float = 0.0) -> Piano:
    """A piano that was never heard, by _USUAL. cents: how far all of it lies from 440 Hz."""
    keys = list(_USUAL)
    table = np.log(np.array(list(_USUAL.values())))
    inharmonicity = np.exp(np.interp(NOTES, keys, np.log(_USUAL_B))).astype(np.float32)
    amplitudes = np.zeros((len(NOTES), MOST_PARTIALS), dtype=np.float32)
    for partial in range(table.shape[1]):
        amplitudes[:, partial] = np.exp(np.interp(NOTES, keys, table[:, partial]))
    templates = np.empty((len(NOTES), len(BINS_HZ)), dtype=np.float32)
    for place, note in enumerate(NOTES):
        templates[place] = made(partials_hz(frequency_hz(note, cents), float(inharmonicity[place])), amplitudes[place])
    count = len(NOTES)
    return Piano(
        "any piano",
        np.full(count, cents, dtype=np.float32),
        inharmonicity,
        amplitudes,
        templates,
        np.ones(count, dtype=np.float32),
        np.full(len(BINS_HZ), 1e-5, dtype=np.float32),
        learned=False,
    )


# --- kept


def to_bytes(piano: Piano) -> bytes:
    """What is kept of a piano: figures, no sound. An uncompressed NumPy archive."""
    into = io.BytesIO()
    arrays: dict[str, Any] = {name: getattr(piano, name) for name in _ARRAYS}
    said = {"version": np.array(_VERSION), "name": np.array(piano.name), "learned": np.array(piano.learned)}
    np.savez(into, allow_pickle=False, **arrays, **said)
    return into.getvalue()


def from_bytes(data: bytes, where: str) -> Piano:
    """Raises PianoError, one sentence, for what was not written by `to_bytes`."""
    count, bins = len(NOTES), len(BINS_HZ)
    shapes = dict(zip(_ARRAYS, ((count,), (count,), (count, MOST_PARTIALS), (count, bins), (count,), (bins,))))
    try:
        with np.load(io.BytesIO(data), allow_pickle=False) as kept:
            if int(kept["version"]) > _VERSION:
                raise PianoError(
                    f"{where}: was kept by a newer companion; learn the piano anew, or update the companion"
                )
            arrays = {name: np.asarray(kept[name], dtype=np.float32) for name in _ARRAYS}
            name, learned = str(kept["name"]), bool(kept["learned"])
    except PianoError:
        raise
    except Exception as error:  # a broken archive fails in many ways
        raise PianoError(f"{where}: is not a piano that the companion has learned; learn it anew") from error
    if any(arrays[key].shape != shape or not np.isfinite(arrays[key]).all() for key, shape in shapes.items()):
        raise PianoError(f"{where}: is not a piano that the companion has learned; learn it anew")
    return Piano(name=name, learned=learned, **arrays)
