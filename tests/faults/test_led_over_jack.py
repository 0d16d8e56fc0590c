"""A scripted player over JACK leads the whole app in its terminal: no key of the computer is pressed."""

from __future__ import annotations

import csv
import time
from itertools import pairwise

import pytest
from faults.test_devices import kill, log, mortal  # noqa: F401  fixtures
from whole_app import WholeApp, wait_until

pytestmark = pytest.mark.rig

SETTINGS = """[playing]
count_in_bars = 0
demonstrate = true

[sound]
mode = "silent"
api = "jack"
midi_in = ["player"]

[leading]
start-stop = "key C8"
slower = "control 67"
next-loop = "program 5"
stop = "control 80"
"""
KEY, SOFT_PEDAL, PROGRAM, SWITCH = (
    [[0x90, 108, 80], [0x80, 108, 0]],
    [[0xB0, 67, 127], [0xB0, 67, 0]],
    [[0xC0, 4]],
    [[0xB0, 80, 127]],
)


def clicks(app: WholeApp) -> list[float]:
    """When they were due."""
    if not app.trace.exists():
        return []
    with app.trace.open(newline="") as file:
        rows = list(csv.DictReader(file))
    return [float(row["due_s"]) for row in rows if row["what"] == "note_on" and row["channel"] == "10"]


def test_a_player_starts_goes_slower_takes_the_next_loop_and_stops(mortal, tmp_path):  # noqa: F811
    rtmidi = pytest.importorskip("rtmidi", reason="this Python has no python-rtmidi, so no MIDI through JACK")
    mortal()
    player = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name="player")
    player.open_virtual_port("keys")

    def press(messages):
        for message in messages:
            player.send_message(message)
            time.sleep(0.02)

    try:
        with WholeApp(tmp_path, settings=SETTINGS) as app:
            app.wait_for("The keyboard")  # is there
            press(KEY)
            wait_until(lambda: len(clicks(app)) > 8, "clicks")
            for tempo_bpm in (295, 290):
                press(SOFT_PEDAL)
                app.wait_for(f"{tempo_bpm} now")
            press(PROGRAM)
            app.wait_for("the loop is A")
            told = len(clicks(app))
            wait_until(lambda: len(clicks(app)) > told + 8, "clicks of the next loop")
            press(SWITCH)
            app.wait_for("stopped")
            app.press("q")
            app.code()
            due = clicks(app)
            gaps = [after - before for before, after in pairwise(due)]
            assert gaps[0] == pytest.approx(60 / 300, abs=0.001) and gaps[-1] == pytest.approx(60 / 290, abs=0.001)
            assert not app.exceptions()
            app.check_silence()
    finally:
        player.delete()
