"""A player over JACK in front of the whole app in its terminal, with both hands: what is marked, what the left hand loses, what free time waits
for, and how hands together climb, fall back and climb again.

The player goes by what it hears: on each click it strikes the next note of the melody, and with each strike of the demonstrated left hand that
too. A busy machine may play late, so that each way of playing goes on until a pass came out as it must, which a fault in the marks never lets it.
"""

from __future__ import annotations

import heapq
import itertools
import threading
import time

import pytest
from faults.test_devices import mortal  # noqa: F401  a fixture
from whole_app import SONG, WholeApp, wait_until

from companion.practice.reach import GRACE_S
from companion.sound.messages import default_voices

pytestmark = pytest.mark.rig

# The left hand's shells by their keys, and the melody of each bar, C5 E5 G5 and G5 held: on its fourth beat the left hand may strike alone.
C6, G7 = (48, 52), (43, 53)
MELODY = (72, 76, 79, None)
CHART = """title = "Sung"
key = "C"
meter = "4/4"
tempo = 240
feel = "straight"
form = "{form}"

[section.A]
bars = "C6 | G7:3 C6:1"
melody = "c2 e2 g4 | c2 e2 g4"

[shells]
"A.1.1" = "root-third"
"A.2.1" = "root-seventh"
"A.2.2" = "root-third"
"""
SETTINGS = """[playing]
count_in_bars = 0
demonstrate = true
pattern = "four"
bass = "off"

[sound]
mode = "midi"
midi_out = "ear"
api = "jack"
midi_in = ["player"]
"""
NO_GRACE_S = GRACE_S + 0.05
CLICK, LEFT = (default_voices()[part].channel - 1 for part in ("click", "left"))
ACCENT = default_voices()["click"].accent_note


class Player:
    """One who hears the companion and plays along with it, in the thread that hears."""

    def __init__(self, rtmidi) -> None:
        self.keys = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name="player")
        self.keys.open_virtual_port("keys")
        self.plays()
        self._beat, self._sung = 0, MELODY[0]
        self._due: list[tuple[float, int, list[int]]] = []
        self._number = itertools.count()
        self._more = threading.Condition()
        self._ended = False
        self._thread = threading.Thread(target=self._send, daemon=True)
        self._thread.start()
        self.ear = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name="ear")
        self.ear.set_callback(self._hear)
        self.ear.open_virtual_port("ear")

    def plays(self, hands="both", late_s=0.0, higher=0, wrong=-1, without=()) -> None:
        """hands: that play; late_s: the left one; higher: the melody, in semitones; wrong: beat of the bar, from 0, on which it is missed by
        a semitone; without: beats that the left hand leaves out."""
        self._way = hands, late_s, higher, wrong, without

    def _hear(self, event, _=None) -> None:
        hands, late_s, higher, wrong, without = self._way
        (status, *rest), _ = event
        if status == 0x90 | CLICK and rest[1]:
            self._beat = 0 if rest[0] == ACCENT else self._beat + 1
            if hands != "left" and (note := MELODY[self._beat % 4]) is not None:
                self._at(0.0, [0x80, self._sung, 0])
                self._sung = note + higher + (self._beat == wrong)
                self._at(0.0, [0x90, self._sung, 70])
        elif status in (0x80 | LEFT, 0x90 | LEFT) and hands != "right" and self._beat not in without:
            self._at(late_s, [status & 0xF0, *rest])

    def _at(self, late_s: float, message: list[int]) -> None:
        with self._more:
            heapq.heappush(self._due, (time.perf_counter() + late_s, next(self._number), message))
            self._more.notify()

    def _send(self) -> None:
        while not self._ended:
            with self._more:
                wait_s = self._due[0][0] - time.perf_counter() if self._due else None
                if wait_s is None or wait_s > 0:
                    self._more.wait(wait_s)
                    continue
                _, _, message = heapq.heappop(self._due)
            self.keys.send_message(message)

    def strike(self, *keys: int, held_s: float = 0.03) -> None:
        for status, velocity in ((0x90, 70), (0x80, 0)):
            for key in keys:
                self.keys.send_message([status, key, velocity])
            time.sleep(held_s)  # as fingers hold a key

    def leave(self) -> None:
        self._ended = True
        with self._more:
            self._more.notify()
        self._thread.join()
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


def app_with(tmp_path, form: str) -> WholeApp:
    song = tmp_path / "home" / "songs" / f"{SONG}.toml"
    song.parent.mkdir(parents=True)
    song.write_text(CHART.format(form=form), encoding="utf-8")
    return WholeApp(tmp_path, settings=SETTINGS)


def press(app: WholeApp, *steps: tuple[str, str]) -> None:
    """Keys, each with the words that are to be seen then."""
    for keys, words in steps:
        app.press(keys)
        app.wait_for(words)


BOTH_HANDS = (
    ("o", "What else?"),
    ("h", "Which hands"),
    ("b", "First hear it once"),
    (" ", "Heard to the end. Now you play"),
)


def shares(record) -> tuple[float, ...]:
    """How much of the left hand and of the right one was right."""
    return tuple(record.by_hand.get(part, {}).get("share_right", -1.0) for part in ("left", "right"))


def told(records) -> list[tuple[object, ...]]:
    return [
        (
            each.kind,
            each.hands,
            each.pattern,
            len(each.loop),
            each.share_right,
            shares(each),
            each.by_hand.get("together_ms"),
        )
        for each in records
    ]


def wait_for_pass(app: WholeApp, fits) -> None:
    """Until a pass comes out so, of those that end from now on."""
    before = len(app.passes())
    wait_until(
        lambda: any(fits(each) for each in app.passes()[before:]),
        "pass that came out so",
        every_s=0.2,
        also=lambda: f": {told(app.passes()[before:][-8:])}\n{app.screen()}",
    )


def wait_for_rounds(app: WholeApp, shares_right: list[float]) -> None:
    """Until free time has gone round so often; with how much was found at once in each."""

    def rounds() -> list[float]:
        return [each.share_right for each in app.passes() if each.kind == "free"]

    wait_until(
        lambda: len(rounds()) >= len(shares_right),
        "time round",
        every_s=0.2,
        also=lambda: f"{rounds()}\n{app.screen()}",
    )
    assert rounds() == pytest.approx(shares_right)


def test_both_hands_are_marked_and_free_time_waits(player, tmp_path):
    with app_with(tmp_path, "A") as app:
        app.wait_for("The keyboard")  # is there
        press(app, *BOTH_HANDS)
        app.press(" ")
        wait_for_pass(app, lambda each: shares(each) == (1.0, 1.0) and abs(each.by_hand["together_ms"]) < 35)
        player.plays(late_s=0.08)
        wait_for_pass(app, lambda each: 65 < (each.by_hand.get("together_ms") or 0.0) < 95)
        player.plays("left")
        wait_for_pass(app, lambda each: shares(each) == (1.0, 0.0))
        press(app, (" ", "stopped"), ("m", "How do you want"), ("f", "In free time"), (" ", "Chord by chord"))

        player.strike(*C6)  # waits for the melody over it
        player.strike(72)
        player.strike(*C6, 73, held_s=NO_GRACE_S)
        app.wait_for("the melody has C")
        player.strike(*C6, 72)
        player.strike(*G7, 72)
        assert not any(each.kind == "free" for each in app.passes())
        player.strike(*C6)  # alone: the melody is held over it
        wait_for_rounds(app, [2 / 3])
        for keys in ((*C6, 72), (*G7, 72), C6):
            player.strike(*keys)
        app.wait_for("Bar by bar now")
        player.strike(*C6, 72)
        player.strike(79, held_s=NO_GRACE_S)
        app.wait_for("the melody has E")
        for keys in ((76,), (79,), (*G7, 72), (76,), (79,), C6):
            player.strike(*keys)
        wait_for_rounds(app, [2 / 3, 1.0, 6 / 7])
        press(app, (" ", "stopped"))
        app.press("q")
        app.code()
        assert not app.exceptions()
        app.check_silence()


def test_hands_together_climb_fall_back_and_climb_again(player, tmp_path, deep):
    if not deep:
        pytest.skip("two minutes: with --deep")

    def passes() -> list[tuple[str, str, int]]:
        return [(each.hands, each.pattern, len(each.loop)) for each in app.passes() if each.kind == "together"]

    def play_until(found) -> None:
        wait_until(found, "pass", every_s=0.1, also=lambda: f": {told(app.passes()[-12:])}\n{app.screen()}")

    def slip_and_go_alone(hand: str, **way) -> None:
        play_until(lambda: shares(app.passes()[-1]) == (1.0, 1.0))  # so that this is the first pass that fails
        before = len(passes())
        player.plays(**way)
        play_until(lambda: any(each[0] == hand for each in passes()[before:]))
        player.plays()
        play_until(lambda: passes()[-1][0] == "both" and passes()[-2][0] == hand)
        alone = [each[0] for each in passes()[before:]]
        assert alone[alone.index(hand) :][:3] == [hand, hand, "both"]

    with app_with(tmp_path, "A A A A") as app:
        app.wait_for("The keyboard")  # is there
        app.press(" ")
        wait_for_pass(app, lambda each: each.hands == "left" and each.share_right == 1.0)
        press(app, (" ", "stopped"), *BOTH_HANDS)
        app.press(" ")
        for way, right in (
            ({"wrong": 1}, (1.0, 2 / 3)),
            ({"higher": 12}, (1.0, 1.0)),
            ({"hands": "right"}, (0.0, 1.0)),
            ({"without": (0,)}, (1 / 3, 1.0)),  # of three chords two begin there
        ):
            player.plays(**way)
            wait_for_pass(app, lambda each, right=right: shares(each) == pytest.approx(right, abs=0.01))
        app.wait_for("The left hand still takes thought")  # alone it was right
        press(app, (" ", "stopped"))

        press(app, ("m", "How do you want"), ("h", "Hands together: 1 bar"))
        player.plays(wrong=0, without=(0,))
        app.press(" ")
        play_until(lambda: ("both", "whole", 1) in passes())
        player.plays()
        play_until(lambda: ("both", "four", 1) in passes()[passes().index(("both", "whole", 1)) :])
        patterns = [pattern for pattern, _ in itertools.groupby(each[1] for each in passes())]
        assert patterns == ["four", "two", "whole", "two", "four"]
        slip_and_go_alone("left", without=(0,))
        slip_and_go_alone("right", wrong=0)
        play_until(lambda: passes().count(("both", "four", 8)) >= 2)
        assert {size for _, _, size in passes()} == {1, 2, 4, 8}
        app.press("q")
        app.code()
        assert not app.exceptions()
        app.check_silence()
