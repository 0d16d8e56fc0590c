"""The room stays pure: importing it loads no screen, port, array or database."""

from __future__ import annotations

import subprocess
import sys

import pytest

HEAVY = {"textual", "mido", "rtmidi", "rtmidi2", "miniaudio", "numpy", "sqlite3", "multiprocessing", "difflib"}


@pytest.mark.parametrize("module", ["symbols", "qualities", "chord", "key", "meter", "pitch"])
def test_theory_loads_nothing_heavy(module):
    code = f"import sys, companion.theory.{module}; print(*sorted(set(sys.modules)))"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert f"companion.theory.{module}" in loaded
    assert HEAVY.isdisjoint(loaded)
