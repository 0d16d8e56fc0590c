"""The drills stay light and pure: loading them loads no screen, port, array, database or spaced-recall library."""

from __future__ import annotations

import subprocess
import sys

import pytest

HEAVY = {"textual", "mido", "rtmidi", "rtmidi2", "miniaudio", "numpy", "sqlite3", "multiprocessing", "fsrs"}


@pytest.mark.parametrize("module", ["fading", "climbing", "recall", "together", "rest"])
def test_practice_loads_nothing_heavy(module):
    code = f"import sys, companion.practice.drills.{module}; print(*sorted(set(sys.modules)))"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert f"companion.practice.drills.{module}" in loaded
    assert HEAVY.isdisjoint(loaded)
