"""From figures to odds: was this note newly struck; is this the strike that was due; was anything struck at all.

Quadratic logistic regressions, their weights in weights.toml, made by tests/bench/listening_train.py from sampled pianos.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from companion.sound.listening.decompose import MASKED, Attack

Figures = NDArray[np.float64]
_WEIGHTS = Path(__file__).with_name("weights.toml")
_MOST = 4.0  # standardised figures beyond this say no more


@dataclass(frozen=True, slots=True, eq=False)
class Odds:
    """A logistic regression on figures, their squares and products. mean, scale: (figure); weights: of 1, the figures, and the
    products of each two, the upper triangle row by row."""

    mean: Figures
    scale: Figures
    weights: Figures

    def log_odds(self, figures: Figures) -> Figures:
        """(case, figure) -> (case)."""
        odds: Figures = expanded((figures - self.mean) / self.scale) @ self.weights
        return odds


def expanded(figures: Figures) -> Figures:
    """(case, figure) -> (case, 1 + figures + products)."""
    figures = np.clip(figures, -_MOST, _MOST)
    rows, columns = np.triu_indices(figures.shape[1])
    return np.concatenate([np.ones((len(figures), 1)), figures, figures[:, rows] * figures[:, columns]], axis=1)


@cache
def odds(name: str, path: Path = _WEIGHTS) -> Odds:
    """name: "note", "strike" or "struck". path: of the weights."""
    with path.open("rb") as file:
        table: dict[str, Any] = tomllib.load(file)[name]
    return Odds(*(np.array(table[key], dtype=np.float64) for key in ("mean", "scale", "weights")))


def probability(log_odds: float) -> float:
    """0 to 1."""
    return float(1.0 / (1.0 + np.exp(-np.clip(log_odds, -30.0, 30.0))))


def strike_figures(attack: Attack, notes: Figures, due: tuple[int, ...], also: tuple[int, ...]) -> Figures:
    """What the second regressions go by. notes: the log odds of each candidate. The right hand's own notes, and what shares their
    partials, are no sign against the left hand."""
    lowest = attack.notes[0]
    mine = np.sort(np.array([notes[note - lowest] for note in due]))
    excused = set(due) | {key + step for key in also for step in (0, -12, 12)}
    top = max(due) + 13
    others = np.sort([value for note, value in zip(attack.notes, notes) if note not in excused and note <= top])[::-1]
    by_note = dict(zip(attack.notes, attack.features))
    share = np.logaddexp.reduce([by_note[note][0] for note in due])
    figures = [
        mine[0],
        mine[-1],
        others[0],
        others[1],
        np.log(attack.flux + 1e-3),
        attack.energy_rise,
        np.log(attack.misfit + 1e-4),
        share,
        max(by_note[note][MASKED] for note in due),
    ]
    return np.asarray(np.clip(np.array(figures), -12.0, 12.0))
