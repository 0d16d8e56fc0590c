"""The benchmarks are run by hand, so nothing but this tells when a name that one of them imports has moved."""

from __future__ import annotations

import runpy
import sys
from pathlib import Path

import pytest

BENCH = Path(__file__).parent / "bench"


@pytest.mark.parametrize("name", sorted(path.name for path in BENCH.glob("*.py")))
def test_a_benchmark_finds_all_that_it_imports(name, monkeypatch):
    monkeypatch.setattr(sys, "path", [str(BENCH), *sys.path])  # as Python puts a script's folder first
    assert runpy.run_path(str(BENCH / name), run_name="imported")["__doc__"]
