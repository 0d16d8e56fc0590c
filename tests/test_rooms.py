"""The shape of the project, held by a machine."""

from __future__ import annotations

import ast
import os
import shutil
import subprocess
import sys
from graphlib import TopologicalSorter
from pathlib import Path

import grimp
import pytest

REPOSITORY = Path(__file__).parent.parent
HEAVY = (
    "textual",
    "mido",
    "rtmidi",
    "rtmidi2",
    "miniaudio",
    "numpy",
    "sqlite3",
    "pydub",
    "fsrs",
    "plotille",
    "multiprocessing",
)
PURE_MODULES = (
    "companion.errors",
    "companion.theory.symbols",
    "companion.chart.reader",
    "companion.chart.writer",
    "companion.chart.transpose",
    "companion.hands.left.solver",
    "companion.groove.timeline",
    "companion.practice.planning.today",
    "companion.practice.planning.progress",
)
MOST_LINES = 400  # of a file in companion/
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "companion", "tests", "songs", "config"}


def test_rooms_use_only_the_rooms_they_may() -> None:
    linter = Path(sys.executable).with_name("lint-imports")
    command = [str(linter)] if linter.exists() else [shutil.which("lint-imports") or "lint-imports"]
    done = subprocess.run([*command, "--no-cache"], cwd=REPOSITORY, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_no_files_import_each_other_in_a_circle() -> None:
    """Imports for types and those inside of functions count too."""
    graph = grimp.build_graph("companion", exclude_type_checking_imports=False, cache_dir=None)
    imports = {module: graph.find_modules_directly_imported_by(module) for module in graph.modules}
    assert len(imports) > 200
    TopologicalSorter(imports).prepare()  # raises CycleError, which names the circle


def test_nothing_but_the_conductor_and_its_practice_tells_the_sound_process_what_to_do() -> None:
    """What it can be told is made in session/ alone: one writer, who knows what is played."""
    orders = {"Load", "Play", "Stop", "SetTempo", "SetVolume", "Sample", "Configure"}
    texts = {path: path.read_text(encoding="utf-8") for path in (REPOSITORY / "companion").rglob("*.py")}
    made = {
        path.relative_to(REPOSITORY / "companion").parts[0]
        for path, text in texts.items()
        if any(f"{order}(" in text for order in orders)  # what names none needs no parser
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in orders
    }
    assert made == {"session", "sound"}


def test_no_file_is_too_long_to_be_read_at_once() -> None:
    lines = {
        path: len(path.read_text(encoding="utf-8").splitlines()) for path in (REPOSITORY / "companion").rglob("*.py")
    }
    assert {path: count for path, count in lines.items() if count > MOST_LINES} == {}


@pytest.mark.timeout(400)
@pytest.mark.xdist_group("gates")  # one after the other: each takes every core that it gets
@pytest.mark.parametrize("command", ["mypy", "ruff check", "ruff format --check"])
def test_types_rules_and_format(command: str) -> None:
    if (
        command == "mypy" and not (REPOSITORY / ".mypy_cache").exists()
    ):  # of a fresh checkout none is written: a quarter of the time
        command += f" --no-incremental --cache-dir {os.devnull}"
    done = subprocess.run(
        [sys.executable, "-m", *command.split()], cwd=REPOSITORY, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("module", PURE_MODULES)
def test_pure_rooms_load_nothing_heavy(module: str) -> None:
    program = f"import sys, {module}; print([m for m in {HEAVY!r} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_top_level_is_as_fixed() -> None:
    if not (REPOSITORY / ".git").exists():
        pytest.skip("not a checkout")
    names = subprocess.run(
        ["git", "ls-tree", "--name-only", "HEAD"], cwd=REPOSITORY, capture_output=True, text=True, check=True
    )
    assert {name for name in names.stdout.split() if not name.startswith(".")} == TOP_LEVEL
