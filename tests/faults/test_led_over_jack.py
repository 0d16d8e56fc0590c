"""A scripted player over JACK leads a whole hour in the app, made short: no key of the computer is pressed before it leaves.

The player strikes what it hears, as soon as it hears it, and so learns from memory and climbs like one who knows the shells.
"""

from __future__ import annotations

import time
from collections import Counter

import pytest
from faults.test_devices import kill, log, mortal  # noqa: F401  fixtures
from whole_app import SONG, WholeApp, wait_until

from companion.sound.messages import default_voices

pytestmark = pytest.mark.rig

CHART = """title = "Two by Two"
key = "Bb"
meter = "3/4"
tempo = 300
form = "A B"
[section.A]
bars = "Cm7 | F7"
[section.B]
bars = "Bbmaj7 | G7"
"""
SETTINGS = """[playing]
count_in_bars = 0
demonstrate = true
pattern = "whole"
bass = "off"

[practice]
fade = "sections"

[sound]
mode = "midi"
midi_out = "ear"
api = "jack"
midi_in = ["player"]

[leading]
start-stop = "key C8"
next-way = "key B7"
repeat = "key A0"
faster = "control 66"
slower = "control 67"
next-loop = "program 5"
stop = "control 80"
"""


def key(note: int) -> list[list[int]]:
    return [[0x90, note, 80], [0x80, note, 0]]


def pedal(number: int) -> list[list[int]]:
    return [[0xB0, number, 127], [0xB0, number, 0]]


START, NEXT_WAY, REPEAT, FASTER, SLOWER, NEXT_LOOP, STOP = (
    *(key(108), key(107), key(21)),
    *(pedal(66), pedal(67), [[0xC0, 4]], pedal(80)),
)


class Player:
    """One who hears the left hand and strikes it too, in the thread that hears."""

    def __init__(self, rtmidi) -> None:
        self.keys = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name="player")
        self.keys.open_virtual_port("keys")
        self.heard = 0  # strikes of the left hand
        self.ear = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name="ear")
        left = default_voices()["left"].channel - 1

        def strike(event, _=None) -> None:
            (status, *rest), _ = event
            if status in (0x80 | left, 0x90 | left):
                self.heard += status == 0x90 | left and rest[1] > 0
                self.keys.send_message([status & 0xF0, *rest])

        self.ear.set_callback(strike)
        self.ear.open_virtual_port("ear")

    def press(self, messages: list[list[int]]) -> None:
        for message in messages:
            self.keys.send_message(message)
            time.sleep(0.02)  # as a foot does; nothing waits for it

    def leave(self) -> None:
        for port in (self.keys, self.ear):
            port.close_port()
            port.delete()


@pytest.fixture
def player(mortal):  # noqa: F811
    rtmidi = pytest.importorskip("rtmidi", reason="this Python has no python-rtmidi, so no MIDI through JACK")
    mortal()
    player = Player(rtmidi)
    yield player
    player.leave()


def kinds(app: WholeApp) -> Counter[str]:
    return Counter(record.kind for record in app.passes())


def test_an_hour_is_led_from_the_piano(player, tmp_path, deep):
    """Along, slower and faster, again from the first bar, the next loop, from memory to its end, up to tempo, the next loop in that
    way, and the end."""
    song = tmp_path / "home" / "songs" / f"{SONG}.toml"
    song.parent.mkdir(parents=True)
    song.write_text(CHART, encoding="utf-8")
    with WholeApp(tmp_path, settings=SETTINGS) as app:
        app.wait_for("The keyboard")  # is there

        def lead(messages, words: str) -> None:
            player.press(messages)
            app.wait_for(words)

        player.press(START)
        app.wait_for_passes(1)
        lead(SLOWER, "295 now")
        lead(FASTER, "300 now")
        player.press(REPEAT)
        lead(NEXT_LOOP, "the loop is A")
        lead(NEXT_WAY, "key B7: from memory")
        app.wait_for("you played the loop twice without a cue")
        lead(NEXT_WAY, "key B7: up to tempo")
        player.press(START)
        climbed = kinds(app)["climb"]
        wait_until(lambda: kinds(app)["climb"] >= climbed + (12 if deep else 2), "passes of the climb", every_s=0.2)
        lead(NEXT_LOOP, "the loop is B")
        wait_until(
            lambda: [each for each in app.passes() if (each.kind, each.loop_name) == ("climb", "B")],
            "a pass of B",
            every_s=0.2,
        )
        player.press(STOP)
        app.wait_for("stopped")
        app.press("q")
        app.code()
        records = app.passes()
        assert {record.source for record in records} == {"heard"}
        assert {(record.kind, record.loop_name) for record in records} >= {
            ("play", "whole form"), ("fade", "A"), ("climb", "A"), ("climb", "B"),
        }  # fmt: skip
        assert not any(set(record.slipped) for record in records if record.kind == "fade" and record.clean)
        assert not app.exceptions()
        app.check_silence()
