"""The whole program loads where Python has none of Unix's own modules, as on Windows."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

REPOSITORY = Path(__file__).parent.parent.parent
# Python's library reference, "Unix-specific services" and those it says are available on Unix alone.
UNIX_ONLY = ("termios", "fcntl", "resource", "pty", "tty", "pwd", "grp", "curses", "readline", "syslog")
# Loaded on Unix alone, where the app asks for its driver.
OF_UNIX = ("companion.tui.terminal",)

LOAD = f"""
import asyncio, multiprocessing.spawn, shutil, subprocess, sys, tempfile  # these meet their own need another way on Windows
sys.modules.update(dict.fromkeys({UNIX_ONLY!r}))
import importlib, pkgutil, companion
for module in pkgutil.walk_packages(companion.__path__, "companion."):
    if module.name not in {OF_UNIX!r}:
        importlib.import_module(module.name)
        print(module.name)
"""


def test_every_module_loads_without_those_of_unix():
    environ = os.environ | {"PYTHONPATH": str(REPOSITORY)}
    done = subprocess.run([sys.executable, "-c", LOAD], env=environ, capture_output=True, encoding="utf-8", timeout=120)
    assert done.returncode == 0, done.stderr
    there = {path.relative_to(REPOSITORY).with_suffix("").as_posix().replace("/", ".") for path in (REPOSITORY / "companion").rglob("*.py")}
    loaded = set(done.stdout.split()) | set(OF_UNIX) | {"companion"}
    assert {name.removesuffix(".__init__") for name in there} <= loaded
