"""The songs of ours, read once for all tests that look at each of them; none is ever changed. What is dear is tried with some of a grid, spread
over all of it, and with the whole grid only by `--deep`."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from companion.chart.reader import read_chart

PATHS = sorted((Path(__file__).parents[1] / "songs").glob("*.toml"))
SONGS = [read_chart(path) for path in PATHS]


def spread(grid: Sequence, every: int, first: int = 0) -> list:
    """For `parametrize`: of the grid every so many-th, from `first` on; the others only with `--deep`."""
    return spread_rows([(each,) for each in grid], every, first)


def spread_rows(grid: Sequence[tuple], every: int, first: int = 0) -> list:
    """The same of a grid with a value for each of several names in a row."""
    chosen = range(first, len(grid), every)
    return [pytest.param(*row, marks=[pytest.mark.deep] * (place not in chosen)) for place, row in enumerate(grid)]
