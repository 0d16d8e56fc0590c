"""The whole program loads where Python has none of Unix's own modules, as on Windows; and its processes run nothing
but itself."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from companion.export.apart import export_apart
from companion.export.options import ExportOptions
from companion.session.stand import Stand
from companion.store.library import find_song

REPOSITORY = Path(__file__).parent.parent.parent
# Python's library reference, "Unix-specific services" and those it says are available on Unix alone.
UNIX_ONLY = ("termios", "fcntl", "resource", "pty", "tty", "pwd", "grp", "curses", "readline", "syslog")
# Loaded on Unix alone, where the app asks for its driver.
OF_UNIX = ("companion.tui.terminal",)

# Python's own modules that are loaded first meet their need of those another way on Windows.
LOAD = f"""
import asyncio, multiprocessing.spawn, shutil, subprocess, sys, tempfile
sys.modules.update(dict.fromkeys({UNIX_ONLY!r}))
import importlib, pkgutil, companion
for module in pkgutil.walk_packages(companion.__path__, "companion."):
    if module.name not in {OF_UNIX!r}:
        importlib.import_module(module.name)
        print(module.name)
"""


def test_every_module_loads_without_those_of_unix():
    environ = os.environ | {"PYTHONPATH": str(REPOSITORY)}
    done = subprocess.run(
        [sys.executable, "-c", LOAD], env=environ, capture_output=True, encoding="utf-8", timeout=120, check=False
    )
    assert done.returncode == 0, done.stderr
    there = {
        path.relative_to(REPOSITORY).with_suffix("").as_posix().replace("/", ".")
        for path in (REPOSITORY / "companion").rglob("*.py")
    }
    loaded = set(done.stdout.split()) | set(OF_UNIX) | {"companion"}
    assert {name.removesuffix(".__init__") for name in there} <= loaded


def test_an_export_runs_no_file_of_the_folder_one_stands_in(tmp_path, monkeypatch, paths, settings):
    """Its process begins with `-c`, which would find these before its own library's."""
    for name in ("pickle", "tempfile", "companion"):
        (tmp_path / f"{name}.py").write_text("import os; os.mkdir('was-run')", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("PYTHONSAFEPATH", raising=False)
    stand = Stand.put(find_song("two-spoons", paths, settings), settings, {})
    [written] = export_apart(stand, tmp_path / "sheet.txt", ExportOptions(), settings)
    assert written.stat().st_size > 100 and not (tmp_path / "was-run").exists()
