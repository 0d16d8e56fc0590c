"""Drawing needs no terminal library, and the app's start waits for no sound, array or database library."""

import subprocess
import sys

import pytest


@pytest.mark.parametrize(
    ("module", "unwanted"),
    [
        ("companion.tui.draw.now", ("textual", "numpy", "mido", "sqlite3")),
        ("companion.tui.draw.chart", ("textual", "numpy", "mido", "sqlite3")),
        ("companion.tui.actions", ("textual", "numpy", "mido", "sqlite3")),
        ("companion.session.stand_changes", ("textual", "numpy", "mido", "sqlite3")),
        ("companion.tui.app", ("numpy", "mido", "rtmidi", "miniaudio", "sqlite3")),
        # Nor for what a song on the stand needs: a third more time until the song list is there.
        ("companion.tui.app", ("companion.session.stand", "companion.session.drill", "companion.session.conductor")),
        ("companion.tui.screens.songs", ("companion.session.stand", "companion.tui.draw.view")),
    ],
)
def test_a_module_leaves_heavy_libraries_alone(module, unwanted):
    program = f"import sys, {module}; print([name for name in {unwanted!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
