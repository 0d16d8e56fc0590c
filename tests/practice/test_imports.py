"""The room stays pure: knowing how practice stands needs no screen, port, device or database."""

from __future__ import annotations

import subprocess
import sys

HEAVY = (
    "textual",
    "mido",
    "rtmidi",
    "rtmidi2",
    "miniaudio",
    "sqlite3",
    "fsrs",
    "plotille",
    "companion.sound",
    "companion.store",
)


def test_nothing_heavy_is_imported():
    code = (
        "import sys, companion.practice.planning.today, companion.practice.planning.plan, companion.practice.planning.progress, companion.practice.planning.lessons\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules])"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"
