"""Any song in any key from every command that plays, shows, marks or exports one; and one loop through all keys."""

from __future__ import annotations

import argparse
import importlib
import json

import pytest
from cli.lines_desk import TextDesk
from cli.told_shapes import check

from companion.chart.reader import song_from_line
from companion.cli.main import COMMANDS
from companion.cli.play import make_sitting, play
from companion.session.keys import KEYS, key_order
from companion.store.library import find_song
from companion.store.log.practice_log import PracticeLog
from companion.store.own_stand import load_stand
from companion.store.settings import load_settings

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


@pytest.mark.parametrize("line", ["Dm7 | G7", "C6"], ids=["two bars", "one bar"])
@pytest.mark.parametrize("passes", [1, 2, 0], ids=["once", "twice", "for ever"])
def test_play_goes_through_all_keys_and_says_the_next_one_a_pass_ahead(paths, settings, line, passes, capsys):
    options = play_options("--chords", line, "--choruses", str(passes), "--keys", "fourths", "--tempo", "240", "--json")
    with PracticeLog.in_memory() as log:
        make = lambda link, clock: make_sitting(paths, settings, link, log, options, clock)
        table = TextDesk(paths, settings, log, make=make, most=None if passes else 14)
        table.put(song_from_line(line))
        play(table.sitting, table, options)
        assert table.sitting.over == (0 if passes else 130)
    rows = check([json.loads(row) for row in capsys.readouterr().out.splitlines()])
    stand = table.sitting.conductor.stand.with_key(table.sitting.conductor.stand.original.key)
    keys, turns = key_order(stand.key, "fourths"), passes * KEYS or 14
    bars = [row for row in rows if row["told"] == "bar"]
    wanted = []
    for turn in range(turns):
        there = stand.with_key(keys[turn // (passes or 1) % KEYS])
        wanted += [placed.chord.symbol for bar in there.bars for placed in bar.chords]
    assert [chord["symbol"] for row in bars for chord in row["chords"]][: len(wanted)] == wanted
    told = [at for at, row in enumerate(rows) if row["told"] == "key"]
    assert len(told) >= turns if passes == 0 else len(told) == KEYS - 1
    assert rows[told[0]]["words"] == ("Next key: F." if line == "C6" else "Next key: G minor.")
    before = rows[told[0] - 1]
    assert (before["told"], before["pass"], before["number"]) == ("bar", passes or 1, 1), (
        "as the last pass in a key begins"
    )
    assert not paths.settings.exists() and not paths.own.exists(), "a line of chords is no song"


def play_options(*line: str) -> argparse.Namespace:
    parser = argparse.ArgumentParser()
    importlib.import_module("companion.cli.play").configure(parser)
    return parser.parse_args(line)


def test_what_play_plays_is_remembered_as_in_the_app(paths, settings, capsys):
    """Passes in the log, and how the song was left; a click asked for on the command line is for this once."""
    with PracticeLog.open(paths) as log:
        for line, tempo in ((["--tempo", "200", "--loop", "1-4", "--click", "bar"], 200), ([], 200), (["--anew"], 120)):
            options = play_options("two-spoons", *line)
            make = lambda link, clock, options=options: make_sitting(paths, settings, link, log, options, clock)
            table = TextDesk(paths, settings, log, make=make)
            song = find_song("two-spoons", paths, settings)
            table.sitting.put(song, as_left=not options.anew)
            play(table.sitting, table, options)
            assert table.sitting.over == 0
            table.sitting.student.close()
            assert f"tempo {tempo}" in capsys.readouterr().out
        kept = [(record.loop_name, record.tempo_bpm, record.kind) for record in log.passes("two-spoons")]
    assert kept == [("bars 1 to 4", 200, "play"), ("bars 1 to 4", 200, "play"), ("whole form", 120, "play")]
    assert "click" not in paths.settings.read_text() and load_settings(paths).last_song == "two-spoons"
    assert load_stand(paths, "two-spoons").tempo_bpm is None, "it was left as it is written"
