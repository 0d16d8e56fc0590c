"""The songs of ours, read once for all tests that look at each of them; none is ever changed. What is dear is tried with some of a grid, spread
over all of it, and with the whole grid only by `--deep`."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from hypothesis import settings

from companion.chart.reader import read_chart

PATHS = sorted((Path(__file__).parents[1] / "songs").glob("*.toml"))
SONGS = [read_chart(path) for path in PATHS]


def spread(grid: Sequence, every: int, first: int = 0) -> list:
    """For `parametrize`: of the grid every so many-th, from `first` on; all of it with `--deep`."""
    return list(grid if settings.get_current_profile_name() == "deep" else grid[first::every])
