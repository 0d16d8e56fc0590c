"""A tune performed over JACK in the app: recorded, marked, kept, heard again. The player strikes what it hears, as soon as it hears it."""

from __future__ import annotations

import mido
import pytest
from faults.test_devices import mortal  # noqa: F401  a fixture
from faults.test_led_over_jack import Player, player  # noqa: F401  player: a fixture
from whole_app import SONG, WholeApp, wait_until

pytestmark = pytest.mark.rig

CHART = """title = "Four by Four"
key = "Bb"
meter = "4/4"
tempo = 300
form = "A"
[section.A]
bars = "Cm7 | F7 | Bbmaj7 | G7"
"""
SETTINGS = """[playing]
count_in_bars = 1
demonstrate = true
pattern = "four"
bass = "off"

[sound]
mode = "midi"
midi_out = "ear"
api = "jack"
midi_in = ["player"]
"""


def test_a_tune_is_performed_marked_and_heard_again(player, tmp_path):  # noqa: F811
    song = tmp_path / "home" / "songs" / f"{SONG}.toml"
    song.parent.mkdir(parents=True)
    song.write_text(CHART, encoding="utf-8")
    folder = tmp_path / "home" / "data" / "performances" / SONG
    with WholeApp(tmp_path, settings=SETTINGS) as app:
        app.wait_for("The keyboard")  # is there
        app.press("o")
        app.wait_for("What else?")
        app.press("g")
        app.wait_for("Nothing was performed yet. Space counts in.")
        app.press(" ")
        app.wait_for("performing")
        app.wait_for("A bar 4")
        app.wait_for("Left hand, Bb, tempo 300")
        app.wait_for("of 4 right.")  # how many, on a busy machine nobody knows: the player hears them late
        (path,) = folder.glob("*.mid")
        struck = [message for message in mido.MidiFile(path) if message.type == "note_on" and message.velocity]
        keys = sum(message.channel == 0 for message in struck)
        assert 16 <= keys <= 32  # four shells of two keys, four to the bar, but for what a busy JACK server loses
        assert sum(message.channel == 9 for message in struck) >= 19  # the count-in's beats and the tune's
        before = player.heard
        app.press("\r")
        app.wait_for("hearing it again")
        app.wait_for("stopped")
        wait_until(lambda: player.heard >= before + keys // 2, "keys heard again")
        app.press("w")
        app.wait_for("of 4 chords right (")
        app.press("\x1b")
        app.wait_for("1 performance kept")
        app.press("\x1b")
        app.wait_for("four to the bar")
        app.press("q")
        app.code()
        assert not app.exceptions()
        app.check_silence()
