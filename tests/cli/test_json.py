"""`--json` of every command that tells something: read as a program reads it (RFC 8259), with exactly the keys that its help names."""

from __future__ import annotations

import argparse
import importlib
import json
from dataclasses import fields, replace

import pytest
from cli.calls import companion
from cli.told_shapes import check
from store.passes import PASS

from companion.cli.main import COMMANDS
from companion.store.log.practice_log import PracticeLog

DRAWN = ("stand",)  # the app

ITEM = "number head kind minutes words song_id title loop_name loop drill pattern hands tempo_bpm passes done key layer listens_first since done_at"
REPORT = "song title made_at hands chords names has_lesson steps"
OF_HANDS = "hands standing best target settled minutes news bars changes how days"


@pytest.mark.parametrize("name", [name for name in COMMANDS if name not in DRAWN])
def test_every_command_that_tells_something_tells_it_as_json(name) -> None:
    parser = argparse.ArgumentParser()
    importlib.import_module(COMMANDS[name][0]).configure(parser)
    assert any("--json" in action.option_strings for action in parser._actions)


def read(command: str, *arguments: object, code: int = 0):
    """What it prints, every key of which its help names."""
    said = companion(command, *arguments, "--json", code=code)
    assert not said.stderr, "JSON and nothing else"
    found = json.loads(said.stdout)
    words = companion(command, "--help").stdout
    assert not [key for key in every_key(found) if f'"{key}"' not in words]
    return found


def every_key(data: object) -> set[str]:
    if isinstance(data, dict):
        return set(data).union(*(every_key(value) for value in data.values()))
    return set().union(*(every_key(value) for value in data)) if isinstance(data, list) else set()


def keys(row: dict) -> str:
    return " ".join(row)


NO_SONG = [
    *(("shells",), ("chords",), ("melody",), ("swing",), ("arrange",), ("perform",), ("report",), ("play",), ("practise",)),
    *(("export", "x.svg"), ("send", "x.zip"), ("mark", "x.mid")),
]  # fmt: skip


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        *(((command, "no-such-song", *more), 1) for command, *more in NO_SONG),
        (("shells", "--chords", "Dm7 | H7"), 1),
        (("receive", "no-such-file.zip"), 1),
        (("export", "two-spoons", "x.nothing"), 1),
        (("today", "--minutes", "0"), 2),
        (("songs", "--order", "colour"), 2),
        (("play", "two-spoons", "--tempo", "fast"), 2),
        (("nonsense",), 2),
    ],
)
def test_what_is_at_fault_is_json_too(arguments, code, tmp_path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    said = companion(*arguments, "--json", code=code)
    told_beside = said.stderr.strip().splitlines()[-1]
    if arguments[0] in ("play", "practise"):
        last = check([json.loads(line) for line in said.stdout.splitlines()])[-1]
        assert last["told"] == "fault"
        sentence = last["words"]
    else:
        found = json.loads(said.stdout)
        assert keys(found) == "fault"
        sentence = found["fault"]
        assert arguments[0] not in COMMANDS or '{"fault": ' in companion(arguments[0], "--help").stdout
    assert sentence and told_beside.endswith(sentence), "a person reads the same"
    assert sentence not in companion(*arguments, code=code).stdout, "a person reads it once"


def test_check(tmp_path) -> None:
    bad, empty = tmp_path / "bad.toml", tmp_path / "empty"
    head = 'title = "T"\nkey = "C"\nmeter = "4/4"\ntempo = 100\nform = "A"\n[section.A]\n'
    bad.write_text(head + 'bars = "C6 | Hm7"\n')
    empty.mkdir()
    (tmp_path / "good.toml").write_text(head + 'bars = "C6 | G7"\n')
    files = read("check", tmp_path / "good.toml", bad, empty, code=1)["files"]
    assert {keys(row) for row in files} == {"path good title key meter form bars faults"}
    by_path = {row["path"]: row for row in files}
    assert by_path[str(tmp_path / "good.toml")] == {
        "path": str(tmp_path / "good.toml"),
        "good": True,
        "title": "T",
        "key": "C",
        "meter": "4/4",
        "form": "A",
        "bars": 2,
        "faults": [],
    }
    (fault,) = by_path[str(bad)]["faults"]
    assert keys(fault) == "line section bar message" and (fault["line"], fault["section"], fault["bar"]) == (7, "A", 2)
    assert not by_path[str(empty)]["good"] and "no chart file" in by_path[str(empty)]["faults"][0]["message"]


def test_import(tmp_path) -> None:
    sheet, other = tmp_path / "sheet.abc", tmp_path / "other.abc"
    sheet.write_text('X:1\nT:Small Sheet\nM:4/4\nL:1/4\nK:F\n"F6" A4 | "C7" G4 |]\n')
    found = read("import", sheet, other, code=1)
    assert keys(found) == "charts faults"
    assert [keys(row) for row in found["charts"]] == ["file chart title notes"]
    assert [(row["file"], row["title"]) for row in found["charts"]] == [(str(sheet), "Small Sheet")]
    assert [keys(row) for row in found["faults"]] == ["file message"]


def test_export_send_and_receive(tmp_path) -> None:
    assert read("export", "two-spoons", tmp_path / "x.txt") == {"files": [str(tmp_path / "x.txt")]}
    assert read("send", "two-spoons", tmp_path / "x.zip") == {"file": str(tmp_path / "x.zip")}
    got = read("receive", tmp_path / "x.zip")
    assert keys(got) == "chart id title steps pins own" and got["id"] == "two-spoons-2" and got["steps"] == 8


def test_report(tmp_path) -> None:
    report = read("report", "two-spoons")
    assert keys(report) == REPORT and [keys(hand) for hand in report["hands"]] == [OF_HANDS]
    bars = report["hands"][0]["bars"]
    assert len(bars) == 16 and {keys(bar) for bar in bars} == {"section bar symbols memory tempo slips tries costly"}
    assert {keys(step) for step in report["steps"]} == {"number words done clean"}
    assert read("report", "two-spoons", "--html", tmp_path / "x.html") == {"file": str(tmp_path / "x.html")}


def test_today() -> None:
    plan = read("today")
    assert keys(plan) == "day made_at minutes items better" and plan["better"] == ""
    assert {keys(item) for item in plan["items"]} == {ITEM}
    assert [item["number"] for item in plan["items"]] == list(range(1, len(plan["items"]) + 1))
    assert sum(item["minutes"] for item in plan["items"]) == plan["minutes"]


def test_log(paths) -> None:
    hand = {"share_right": 0.9, "offset_ms": 5.0, "spread_ms": 9.0}
    with PracticeLog.open(paths) as log:
        log.add_pass(
            replace(PASS, hands="both", by_hand={"left": hand, "right": hand, "layer": "melody", "together_ms": 4.0})
        )
    (row,) = read("log")
    assert row["id"] == PASS.id and set(row) == {field.name for field in fields(PASS)} and row["chords"]


def test_arrange() -> None:
    """A whole tune: its bars, and each stroke of both hands."""
    arranged = read("arrange", "two-spoons", "--once", "--ornaments", "slide")
    assert keys(arranged) == "bars"
    assert {keys(bar) for bar in arranged["bars"]} == {"section occurrence bar tempo symbol left right"}
    strokes = [stroke for bar in arranged["bars"] for stroke in bar["right"]]
    assert {keys(stroke) for stroke in strokes} == {"beat beats midi fingers why melody ornament"}
    assert {stroke["ornament"] for stroke in strokes} == {None, "slide"}


def test_where_and_devices(companion_home) -> None:
    rows = read("where")
    assert {keys(row) for row in rows} == {"what path there"} and str(companion_home) in rows[0]["path"]
    found = read("devices")
    assert (
        keys(found)
        == "library fault systems outputs inputs audio audio_by unanswered output says soundfont soundfont_fault"
    )
    assert found["output"] in ("builtin", "midi", "silent") and len(found["says"]) == 2


def test_what_a_song_is_made_of(tmp_path) -> None:
    assert keys(read("shells", "two-spoons")) == "movement cost phrases chords"
    assert keys(read("chords", "two-spoons")) == "hand inversion chords"
    assert keys(read("melody", "two-spoons")) == "notes"
    assert keys(read("swing", "two-spoons")) == "song key feel version seed bars changed sections"
    assert {keys(row) for row in read("songs")} == {
        "id title key meter tempo feel form bars changes_a_minute shells start_here"
    }
    companion("export", "two-spoons", tmp_path / "x.mid", "--parts", "left,melody")
    marked = read("mark", "two-spoons", tmp_path / "x.mid", "--hands", "both")
    assert (
        keys(marked)
        == "song key semitones tempo pattern click start_s passes chords events figures words ornaments says swing heard"
    )
