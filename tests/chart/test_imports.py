"""The room stays pure: reading charts needs no screen, port, device, array or database."""

from __future__ import annotations

import subprocess
import sys

HEAVY = (
    "textual",
    "mido",
    "rtmidi",
    "rtmidi2",
    "miniaudio",
    "numpy",
    "sqlite3",
    "companion.hands",
    "companion.groove",
)


def test_nothing_heavy_is_imported():
    code = (
        "import sys, companion.chart.reader, companion.chart.writer, companion.chart.transpose\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules])"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"
