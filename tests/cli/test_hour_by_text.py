"""A whole hour by text alone: once with the clock turned by hand and a player at the keyboard, once, shortened, by a script through a pipe."""

from __future__ import annotations

import json
import subprocess
import sys
from collections import Counter
from dataclasses import replace

import pytest
from cli.calls import PROGRAM
from cli.lines_desk import TextDesk
from cli.told_shapes import check
from desk import right
from session_songs import SUNG

from companion.chart.reader import parse_chart
from companion.practice.planning.plan import Plan, PlanItem
from companion.session.overview import keep_plan, now_here
from companion.store.log.practice_log import PracticeLog


def of(rows: list[dict], *kinds: str) -> list[dict]:
    return [row for row in rows if row["told"] in kinds]


@pytest.fixture
def hour(paths, settings):
    """A player who hits what is due, at a keyboard; the song is one of the student's own."""
    folder = paths.data.parent / "songs"
    folder.mkdir(parents=True)
    (folder / "eight-bars.toml").write_text(SUNG)
    with PracticeLog.open(paths) as log:
        table = TextDesk(paths, settings, log, hands=right, keyboard=True)
        table.put(parse_chart(SUNG, id="eight-bars"))
        yield table


def test_an_hour_with_a_keyboard_led_by_lines(hour) -> None:
    """Along, from memory, up to tempo, both hands, the next loop, through the keys; a rest is offered on the way, and all is in the log."""
    began_s = hour.desk.now_s
    rows = hour.type(
        *("pattern whole", "count in 0", "tempo 20", "loop A", "start", "wait 2 passes", "stop"),
        *("from memory", "start", "wait end"),
        *("play along", "hands both", "start", "wait 3 passes", "stop", "hands left"),
        *("tempo 60", "up to tempo", "start", "wait 4 passes", "stop"),
        *("play along", "loop whole", "tempo 20", "keys fourths", "start", "wait 11 passes", "stop"),
    )
    minutes = (hour.desk.now_s - began_s) / 60
    assert 25 < minutes < 60
    assert not of(rows, "fault", "asks"), "it listens, so nothing is asked"
    passes = of(rows, "pass")
    assert len(passes) > 20 and all(row["heard"] and row["right"] == 1.0 for row in passes)
    words = " ".join(row["words"] for row in rows)
    assert words.count("From memory: you played the loop twice without a cue.") == 1
    assert len(of(rows, "rest")) == 2, "told while it plays, and once it has stopped"
    assert "Stop when it hurts." in of(rows, "rest")[0]["words"]
    tempos = [row["tempo"] for row in passes if row["way"].startswith("climb")]
    assert tempos[-1] > tempos[0]
    assert "Left hand under the melody" in words
    assert [row["key"] for row in of(rows, "key")][:2] == ["Bb", "Eb"]
    kept = hour.sitting.log.passes("eight-bars")
    assert len(kept) == len(passes) and {record.hands for record in kept} == {"left", "both"}
    assert {state.loop_key for state in hour.sitting.log.states("recall", "eight-bars")} == {"A"}


def test_free_time_is_told_and_answered_key_by_key(hour) -> None:
    from companion.sound.messages import NoteIn

    rows = hour.type("loop 1-1", "free", "start")
    assert [row["words"] for row in of(rows, "waits")][:1] == ["Waits for F6, root-third F3 A3, A 1, bar 1."]
    hour.sitting.did(hour.sitting.conductor.start())
    hour.told()
    for note in (53, 58):
        hour.sitting.did(hour.sitting.conductor.hear(NoteIn(hour.desk.now_s, note, 64, "keys")))
    assert any("third is A" in row["words"] for row in of(hour.told(), "said"))


def test_a_shortened_hour_by_a_script_through_a_pipe(paths) -> None:
    lines = [
        *("count in 0", "loop 1-1", "tempo 400", "today", "from memory", ""),
        *["wait", "ran"] * 3,
        *("wait", "slipped A 1", "wait", "broke off"),
        *["wait", "ran"] * 9,
        *("up to tempo", "start", "wait", "ran", "wait", "ran", "stop"),
        *("play along", "tempo 400", "volume bass 20", "keys fourths", "start", "wait 3 passes", "stop", "keys off"),
        *("key Eb", "undo", "undo", "shell A.1.1 root-sixth", "undo", "hands both", "listen", "start", "wait end"),
        *("calls on", "free", "done 1", "nonsense", "next", "wait 1 second", "stop", "quit"),
    ]
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, "practise", "two-spoons", "--sound", "silent", "--json", "--names", "spoken"],
        input="\n".join(lines) + "\n",
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 1 and not done.stderr, "one line was nonsense"
    rows = check([json.loads(line) for line in done.stdout.splitlines()])
    assert [row["told"] for row in rows[:2]] == ["said", "sound"] and rows[-1]["told"] == "left"
    faults = "\n".join(row["words"] for row in of(rows, "fault"))
    assert "'nonsense' is nothing to be done here" in faults and "Free time waits" in faults
    words = "\n".join(row["words"] for row in rows)
    for sentence in (
        "From memory: you played the loop twice without a cue.",
        "Slipped: A 1.",
        "The bass: 20 per cent.",
        "Through all keys by fourths.",
        "in E flat, 4/4",
        "Taken back: the key is ",
        "Heard to the end.",
        "Item 1, ",
        "D six, root-third D F sharp",
    ):
        assert sentence in words, sentence
    with PracticeLog.open(paths) as log:
        kept = Counter(record.kind for record in log.passes("two-spoons"))
        # What was told is what is kept, whatever this machine had to do meanwhile.
        assert kept == Counter(row["way"] for row in of(rows, "pass"))
        assert kept["fade"] >= 8 and kept["climb"] and kept["play"]
        plan = log.state("", "", "plan")
    assert plan["day"] == now_here().date().isoformat() and plan["items"][0]["done"]


def test_todays_items_are_begun_and_ticked_off_by_what_is_played(hour) -> None:
    """One by its number, the next ones by a line; a rest is one too; at the end what got better, and then nothing is due."""
    log, now = hour.sitting.log, now_here()
    step = PlanItem(
        "step",
        5,
        "Step 1 of 2.",
        "eight-bars",
        "Eight Bars",
        "A",
        (0, 1, 2, 3),
        pattern="whole",
        tempo_bpm=60,
        passes=2,
    )
    items = (replace(step, passes=1), PlanItem("rest", 5, "Rest."), replace(step, words="Step 2 of 2.", tempo_bpm=80))
    keep_plan(log, Plan(now.date().isoformat(), now.isoformat(), 15, items))
    rows = hour.type(
        "today", "today 1", "wait 2 passes", "next", "next", "wait 3 passes", "stop", "today", "next", "today 9"
    )
    assert [(row["number"], row["done"]) for row in of(rows, "item")] == [
        *((1, False), (2, False), (3, False)),
        *((1, True), (2, True), (3, True)),
    ]
    words = [row["words"] for row in of(rows, "said", "rest", "fault")]
    assert words[0].startswith("Step 1 of 2.") and "Item 1 is done." in words
    assert any("Rest about five minutes" in each for each in words) and any("Step 2 of 2." in each for each in words)
    assert "Nothing is due any more: all of today's plan is done. Enough for today." in words
    assert any("passes, " in each or "for the first time" in each for each in words), "what got better"
    assert words[-1] == "Today's plan has no item 9: expected 1 to 3."
    assert {record.loop_name for record in log.passes("eight-bars")} == {"A"}
