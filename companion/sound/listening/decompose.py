"""What was struck at an attack: the spectrum after it taken apart into what still rang, the room's noise and the notes of the piano, all at least 0
(multiplicative updates for the Kullback-Leibler divergence: D. D. Lee and H. S. Seung, "Algorithms for non-negative matrix factorization", NIPS 2000; with the
notes that may come known beforehand as in S. Ewert and M. Mueller, ICASSP 2012), and figures by which a note that was struck is told from one that was not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from companion.sound.listening.piano import Piano
from companion.sound.listening.spectra import Array, places

UPDATES, UPDATES_WITHOUT = 50, 16
MOST_RING = 1.15  # what rang before may at most be so much louder after: strings die away, but beats swell
_TINY = np.float32(1e-9)
_PARTIALS = 10
FEATURES = (
    "share",
    "level",
    "gain",
    "rise",
    "least_rise",
    "above_noise",
    "neighbours",
    "octave_below",
    "octave_above",
    "misfit",
    "attack",
    "energy_rise",
    "ring",
    "height",
    "twelfth",
    "first_rise",
    "odd_rise",
    "masked",
)
MASKED = FEATURES.index("masked")


@dataclass(frozen=True, slots=True, eq=False)
class Attack:
    """An attack taken apart. notes: the candidates; features: (note, feature) as FEATURES says; weights: (note) how much of each; parts: (bin, note) of the
    spectrum; flux: how strong it was; energy_rise: natural log of the energy after against before."""

    onset_s: float
    notes: tuple[int, ...]
    features: NDArray[np.float64]
    weights: Array
    spectrum: Array
    explained: Array
    flux: float
    energy_rise: float
    misfit: float


class Decomposer:
    """The templates of one piano for the notes that may come, from `lowest` to `highest`."""

    def __init__(self, piano: Piano, lowest: int, highest: int) -> None:
        self.piano = piano
        self.notes = tuple(range(lowest, highest + 1))
        self.templates = piano.matrix(self.notes)
        self._levels = np.array([piano.level(note) for note in self.notes], dtype=np.float32)
        # (note, partial) bins; a note with fewer partials in reach has its last one again, and _there says so.
        bins = [places(piano.partials_hz(note)[:_PARTIALS]) for note in self.notes]
        self._counts = np.array([len(each) for each in bins])
        self._partials = np.stack([np.pad(each, (0, _PARTIALS - len(each)), mode="edge") for each in bins])
        self._there = np.arange(_PARTIALS) < self._counts[:, None]
        self.loudness = 1.0  # of what is heard against when the piano was learned

    def adapt(self, attack: Attack, struck: tuple[int, ...], share: float) -> None:
        """Move the templates of notes that surely were struck by a share towards how they were heard."""
        for note in struck:
            place = self.notes.index(note)
            part = attack.weights[place] * self.templates[:, place]
            heard = attack.spectrum * part / np.maximum(attack.explained, _TINY)
            total = float(heard.sum())
            if total > 0:
                self.templates[:, place] = (1.0 - share) * self.templates[:, place] + share * heard / total

    def take_apart(self, onset_s: float, after: Array, before: Array, noise: Array, flux: float) -> Attack:
        """after, before, noise: (bin) magnitudes."""
        base = np.stack([before, noise], axis=1) + _TINY
        columns = np.concatenate([self.templates, base], axis=1)
        total = float(after.sum())
        start = np.full(columns.shape[1], 0.5 * total / len(self.notes), dtype=np.float32)
        start[-2:] = (0.7, 1.0)
        weights = _fit(columns, after, start[:, None], UPDATES)[:, 0]
        explained = columns @ weights + _TINY
        misfit = _divergence(after, explained)
        # Left out one by one: what stands out of the mixture, and whatever else is of weight.
        likely = np.argsort(weights[:-2])[::-1][:10]
        without = np.repeat(weights[:, None], len(likely), axis=1)
        without[likely, np.arange(len(likely))] = 0.0
        without = _fit(columns, after, np.maximum(without, 1e-7 * (without > 0)), UPDATES_WITHOUT)
        rest = columns @ without + _TINY
        gains = np.zeros(len(self.notes))
        for number, place in enumerate(likely):
            gains[place] = max(0.0, _divergence(after, rest[:, number]) - misfit)
        energy_rise = float(np.log((np.square(after).sum() + 1e-12) / (np.square(before).sum() + 1e-12)))
        features = self._features(after, before, noise, weights, gains, misfit / max(total, 1e-9), flux, energy_rise)
        return Attack(
            onset_s, self.notes, features, weights[:-2], after, explained, flux, energy_rise, misfit / max(total, 1e-9)
        )

    def _features(
        self,
        after: Array,
        before: Array,
        noise: Array,
        weights: Array,
        gains: NDArray[np.float64],
        misfit: float,
        flux: float,
        energy_rise: float,
    ) -> NDArray[np.float64]:
        heard = np.asarray(weights[:-2], dtype=np.float64)
        total = float(after.sum()) + 1e-9
        padded = np.concatenate([np.zeros(19), heard, np.zeros(19)]) / total
        at = np.arange(len(heard)) + 19
        mine = _log(padded[at])
        rises = self._rises(after, before, noise)
        figures = (
            mine,
            np.log(heard / (self._levels * self.loudness) + 1e-3),
            np.log(gains / total + 1e-5),
            *rises[:3],
            _log(np.maximum(padded[at - 1], padded[at + 1])) - mine,
            _log(padded[at - 12]) - mine,
            _log(padded[at + 12]) - mine,
            np.full(len(heard), np.log(misfit + 1e-4)),
            np.full(len(heard), np.log(flux + 1e-3)),
            np.full(len(heard), energy_rise),
            np.full(len(heard), float(weights[-2])),
            (np.array(self.notes) - 52.0) / 12.0,
            _log(np.maximum(padded[at - 19], padded[at + 19])) - mine,
            *rises[3:5],
            np.log(rises[5] / (self._levels * self.loudness) + 1e-3),
        )
        return np.stack(figures, axis=1)

    def _rises(self, after: Array, before: Array, noise: Array) -> tuple[NDArray[np.float64], ...]:
        """By note, in natural logs: how much its partials came up, the lower half of its first five, how far they are above noise, and what an octave
        above has not: the first partial, and the third and fifth. And, no log, how loud what rang before is there against the note's own template."""
        at, there = self._partials, self._there
        own = np.where(there, self.templates[at, np.arange(len(at))[:, None]], 0.0)
        sharp = own / own.sum(axis=1, keepdims=True)
        up = np.log((after[at] + noise[at]) / (before[at] + noise[at] + _TINY)).astype(np.float64)
        above = np.log(after[at] / (noise[at] + _TINY) + 1.0)
        five = np.sort(np.where(there, up, np.inf)[:, :5], axis=1)
        half = np.maximum(1, np.minimum(5, self._counts) // 2)
        least = np.where(np.arange(5) < half[:, None], five, 0.0).sum(axis=1) / half
        odd = np.where(self._counts > 4, 0.5 * (up[:, 2] + up[:, 4]), np.where(self._counts > 2, up[:, 2], up[:, 0]))
        masked = (sharp * before[at]).sum(axis=1) / ((sharp * own).sum(axis=1) + _TINY)
        return (sharp * up).sum(axis=1), least, (sharp * above).sum(axis=1), up[:, 0], odd, masked


def _fit(columns: Array, heard: Array, weights: Array, updates: int) -> Array:
    """Multiplicative updates of (column, problem); the last column but one never rises above MOST_RING."""
    sums = columns.sum(axis=0)[:, None] + _TINY
    turned = np.ascontiguousarray(columns.T)
    heard = heard[:, None]
    for _ in range(updates):
        weights = weights * (turned @ (heard / (columns @ weights + _TINY))) / sums
        np.minimum(weights[-2], MOST_RING, out=weights[-2])
    return np.asarray(weights, dtype=np.float32)


def _log(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Of shares; what is next to nothing is as good as nothing."""
    logs: NDArray[np.float64] = np.log(values + 1e-4)
    return logs


def _divergence(heard: Array, explained: Array) -> float:
    """Generalised Kullback-Leibler divergence."""
    ratio = (heard + _TINY) / explained
    return float((heard * np.log(ratio)).sum() - heard.sum() + explained.sum())
