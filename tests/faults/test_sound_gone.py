"""The sound process is killed while a pass is played."""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path

import pytest
from whole_app import PASS_S, WholeApp, wait_until

from companion.sound.link import RESTARTS

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="looks into /proc")


def test_killed_it_comes_again_until_it_was_killed_too_often(tmp_path: Path):
    """Once: said, started again, the pass marked as broken, and practising goes on. Again and again: it stays off and says so."""
    with WholeApp(tmp_path) as app:
        app.wait_for("stopped")
        app.press(" ")
        app.wait_for_passes(1)
        time.sleep(PASS_S / 3)
        whole, sound = app.passes(), app.sound_pid()
        os.kill(sound, signal.SIGKILL)
        app.wait_for("The sound stopped unexpectedly and was started again.")
        app.wait_for("Broken off: this pass does not count.")
        assert app.passes() == whole
        assert [record.clean for record in app.broken()] == [False]
        app.sound_pid(other_than=sound)
        app.press(" ")
        app.wait_for_passes(len(whole) + 1)
        app.press(" ")
        app.wait_for("stopped")
        for _ in range(RESTARTS):
            os.kill(sound := app.sound_pid(other_than=sound), signal.SIGKILL)
            time.sleep(0.3)
        app.wait_for("The sound keeps stopping and stays off now.")
        wait_until(lambda: not app.has_sound(), "end of the sound process")
        app.press("  ")
        app.wait_for("The sound stays off. Leave with F10 and start again.")
        played = app.passes()
        app.press("q")
        assert app.code() == 0
        app.check_terminal()
        assert app.passes() == played
