"""Any song in any key from every command that plays, shows, marks or exports one; and one loop through all keys."""

from __future__ import annotations

import argparse
import contextlib
import importlib
import io

import pytest
from recording_output import RecordingOutput

from companion.chart.reader import song_from_line
from companion.cli.main import COMMANDS
from companion.cli.play import _play
from companion.session.keys import KEYS, key_order
from companion.session.stand import Stand
from companion.sound.messages import BeatReport, Ready, default_voices
from companion.sound.player import Player

ABOUT_THE_LOG = ("log", "report", "send")  # they tell of passes that were played, each in its own key


def arguments_of(name: str) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser()
    importlib.import_module(COMMANDS[name][0]).configure(parser)
    return parser


@pytest.mark.parametrize("name", [name for name in COMMANDS if name not in ABOUT_THE_LOG])
def test_every_command_that_takes_a_song_takes_a_key(name):
    actions = arguments_of(name)._actions
    if any(action.dest == "song" for action in actions):
        (key,) = [action for action in actions if "--key" in action.option_strings]
        assert key.type("Eb").name == "Eb"


class PlayerLink:
    """The real player in place of a sound process, on a clock that goes on while the command sleeps."""

    alive = True

    def __init__(self, passes: int) -> None:
        self.now_s = 100.0
        self.played: list[str] = []
        self._passes = passes  # after which it is the student's ctrl-c that ends it
        self._sound = Player(RecordingOutput(self.clock, 0.0), default_voices(), clock=self.clock)

    def clock(self) -> float:
        return self.now_s

    def sleep(self, seconds: float) -> None:
        self.now_s += max(seconds, 0.0005)

    def send(self, message: object) -> None:
        self._sound.handle(message)

    def poll(self) -> list[object]:
        self._sound.advance()
        self._sound.prepare()
        reports = list(self._sound.take_reports())
        for report in reports:
            if isinstance(report, BeatReport) and report.pulse == 0 and report.turn >= 0:
                if report.turn == self._passes:
                    raise KeyboardInterrupt
                chords = self._sound._bar.arrangement.bars[report.position].chords
                self.played += [chord.chord.symbol for chord in chords]
        return reports


@pytest.mark.parametrize("line", ["Dm7 | G7", "C6"], ids=["two bars", "one bar"])
@pytest.mark.parametrize("passes", [1, 2, 0], ids=["once", "twice", "for ever"])
def test_play_goes_through_all_keys_and_says_the_next_one_a_pass_ahead(settings, line, passes, monkeypatch):
    stand = Stand.put(song_from_line(line), settings).with_tempo(240).change(count_in_bars=1)
    keys = key_order(stand.key, "fourths")
    turns = passes * KEYS or 14
    link, out = PlayerLink(turns), io.StringIO()
    monkeypatch.setattr("companion.cli.play.time.sleep", link.sleep)
    monkeypatch.setattr("companion.cli.play.time.perf_counter", link.clock)
    with contextlib.suppress(KeyboardInterrupt):
        _play(link, stand, passes, "fourths", Ready("silent", "Silent.", False), settings, out)
    wanted = []
    for turn in range(turns):
        there = stand.with_key(keys[turn // (passes or 1) % KEYS])
        wanted += [placed.chord.symbol for bar in there.bars for placed in bar.chords]
    assert link.played == wanted
    lines = [text for text in out.getvalue().splitlines()[2:] if text != "count-in"]
    told = [at for at, text in enumerate(lines) if text.startswith("next key: ")]
    assert len(told) == (turns if passes == 0 else KEYS - 1)
    assert lines[told[0]] == ("next key: F" if line == "C6" else "next key: G minor")
    assert f"chorus {passes or 1}  A bar 1" in lines[told[0] - 1], "as the last pass in a key begins"
