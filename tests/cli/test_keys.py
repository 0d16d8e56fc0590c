"""Any song in any key from every command that plays, shows, marks or exports one; and one loop through all keys."""

from __future__ import annotations

import argparse
import importlib
import io

import pytest

from companion.chart.reader import song_from_line
from companion.cli.main import COMMANDS
from companion.cli.play import _Pages, _play
from companion.session.keys import KEYS, KeyWalk, key_order
from companion.session.stand import Stand
from companion.sound.messages import BeatReport, Finished, Load, Play, Ready

ABOUT_THE_LOG = ("log", "report")  # they tell of passes that were played, each in its own key


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


class ToldLink:
    """A sound process that plays at once what it is told, bar by bar, and obeys Load at the next bar line."""

    alive = True

    def __init__(self) -> None:
        self.played: list[str] = []
        self._arrangement = None
        self._left: list[BeatReport | Finished] = []

    def send(self, message: object) -> None:
        if isinstance(message, Load):
            self._arrangement = message.arrangement
        elif isinstance(message, Play):
            bars = self._arrangement.bars
            self._left = [
                BeatReport(0.0, turn, at, bars[at].index, 0, 4, message.tempo_bpm)
                for turn in range(message.turns or 30)
                for at in range(len(bars))
            ] + [Finished(0.0)]

    def poll(self) -> list[object]:
        report = self._left.pop(0)
        if isinstance(report, BeatReport):
            self.played += [chord.chord.symbol for chord in self._arrangement.bars[report.position].chords]
        return [report]


@pytest.mark.parametrize("line", ["Dm7 | G7", "C6"], ids=["two bars", "one bar"])
@pytest.mark.parametrize("passes", [1, 2, 0], ids=["once", "twice", "for ever"])
def test_play_goes_through_all_keys_and_says_the_next_one_a_pass_ahead(settings, line, passes, monkeypatch):
    monkeypatch.setattr("companion.cli.play.time.sleep", lambda seconds: None)
    stand = Stand.put(song_from_line(line), settings)
    keys = key_order(stand.key, "fourths")
    link, out = ToldLink(), io.StringIO()
    _play(link, _Pages(stand, KeyWalk(keys, passes or 1)), passes, Ready("silent", "Silent.", False), out)
    turns = passes * KEYS or 30
    wanted = []
    for turn in range(turns):
        there = stand.with_key(keys[turn // (passes or 1) % KEYS])
        wanted += [placed.chord.symbol for bar in there.bars for placed in bar.chords]
    assert link.played == wanted
    lines = out.getvalue().splitlines()[2:]
    said = [at for at, text in enumerate(lines) if text.startswith("next key: ")]
    assert len(said) == (turns if passes == 0 else KEYS - 1)
    assert lines[said[0]] == ("next key: F" if line == "C6" else "next key: G minor")
    assert all(f"chorus {passes or 1}  A bar 1" in lines[at - 1] for at in said[:1]), "as the last pass in a key begins"
