"""The songs of ours, read once for all tests that look at each of them; none is ever changed."""

from __future__ import annotations

from pathlib import Path

from companion.chart.reader import read_chart

PATHS = sorted((Path(__file__).parents[1] / "songs").glob("*.toml"))
SONGS = [read_chart(path) for path in PATHS]
