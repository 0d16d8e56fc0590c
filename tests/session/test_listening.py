"""Listening to a loop once before it is practised, on the way that the app takes: with the real player on a clock turned by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from desk import Conducted, nothing, put, right
from session_songs import FOUR

from companion.chart.lesson import Lesson, Step
from companion.chart.reader import parse_chart
from companion.practice.planning.plan import PlanItem
from companion.session.changes import Said
from companion.session.overview import lesson_of_song, todays_plan
from companion.session.plan_items import start_item
from companion.session.practice import NOW_YOU
from companion.sound.messages import Load, Stop

NOW = datetime(2026, 1, 5, 18, 0, tzinfo=UTC)
SONG = FOUR.replace('bars = "F6 | D7 | Gm7 | C7"', 'bars = "F6 | D7 | Gm7 | C7"\nmelody = "c4 A4 | ^F8 | B4 A4 | G8"')
ITEM = PlanItem("step", 2, "Step 1", "x", "Eight Bars", "whole form", (0, 1, 2, 3), "listen", tempo_bpm=120.0, passes=1)


@pytest.fixture
def table(settings, log):
    def make(hands=nothing, keyboard=False) -> Conducted:
        table = Conducted(put(SONG, settings), log, settings)
        table.conductor.sources.key_heard = keyboard
        table.desk.hands = hands
        return table

    return make


def heard(log) -> list:
    return [(state.song_id, state.loop_key, state.value) for state in log.states("heard")]


@pytest.mark.parametrize("keyboard", [False, True])
def test_it_sounds_once_with_shells_and_melody_and_asks_nothing(table, log, keyboard) -> None:
    table = table(right if keyboard else nothing, keyboard)
    table.do(start_item(table.conductor, ITEM))
    loads = [message for _, message in table.desk.asked(Load)]
    assert {"left", "right"} <= set(loads[-1].arrangement.parts)
    assert table.conductor.state.stand.demonstrate, "the screen says that the shells sound"
    assert not table.conductor.stand.demonstrate, "the student's own choice stays"
    table.desk.run(until=lambda: not table.conductor.playing)
    assert table.desk.turns == 1 and not table.conductor.asking
    assert heard(log) == [(table.conductor.stand.original.id, "0-3", [0, 1, 2, 3])]
    assert log.passes() == [], "to listen is no pass, whatever was played along"


def test_what_was_broken_off_was_not_heard(table, log) -> None:
    table = table()
    table.do(table.conductor.practise("listen"))
    table.do(table.conductor.start())
    table.desk.run(until=lambda: len(table.desk.lines) == 3)
    table.do(table.conductor.stop())
    assert table.desk.asked(Stop) and heard(log) == []


@pytest.mark.parametrize("kind", ["play", "fade"])
def test_what_it_was_heard_for_comes_next(table, log, kind) -> None:
    table = table(right, True)
    table.do(table.conductor.practise(kind))
    table.do(table.conductor.practise("listen"))
    table.do(table.conductor.start())
    table.desk.run(until=lambda: not table.conductor.playing)
    assert table.conductor.kind == kind and len(heard(log)) == 1
    table.do(table.conductor.start())
    table.desk.run(until=lambda: bool(log.passes()))
    assert len(heard(log)) == 1, "it is not heard again, but played"
    assert table.changes.count(Said(NOW_YOU)) == 1


@pytest.mark.parametrize("then_asks", [False, True])
def test_playing_along_comes_next_and_asks_where_that_is_wanted(table, log, then_asks) -> None:
    table = table()
    table.do(table.conductor.practise("listen", then_asks=then_asks))
    table.do(table.conductor.start())
    table.desk.run(until=lambda: not table.conductor.playing)
    table.do(table.conductor.start())
    table.desk.run(until=lambda: table.desk.turns == 3)
    assert (table.conductor.state.waits > 0) == then_asks


def test_what_was_not_heard_to_its_end_is_heard_again(table) -> None:
    table = table(right, True)
    table.do(table.conductor.practise("listen"))
    table.do(table.conductor.start())
    table.desk.run(until=lambda: len(table.desk.lines) == 2)
    table.do(table.conductor.stop())
    assert table.conductor.kind == "listen"


def test_a_key_pressed_while_its_last_bar_is_played_out_does_not_make_one_hear_it_again(table, log) -> None:
    table = table(right, True)
    table.do(table.conductor.practise("listen"))
    table.do(table.conductor.start())
    table.desk.run(until=lambda: table.conductor.practice.heard_out)
    assert table.conductor.playing and Said(NOW_YOU) not in table.changes
    table.do(table.conductor.stop())
    assert table.conductor.kind == "play" and len(heard(log)) == 1


def test_from_the_middle_on_what_is_left_is_played_and_then_all_of_it(table, log) -> None:
    table = table()
    table.do(table.conductor.practise("listen"))
    table.do(table.conductor.start(first_bar=2))
    table.desk.run(until=lambda: len(table.desk.lines) == 3)
    assert heard(log) == [], "two bars are not the loop"
    table.desk.run(until=lambda: not table.conductor.playing)
    assert len(table.desk.lines) == 6 and len(heard(log)) == 1


def test_the_step_is_ticked_off_in_the_lesson_and_on_the_day(table, log) -> None:
    table = table()
    step = Step("", "left", "four", 120.0, listen=True)
    song = replace(parse_chart(SONG, id=table.conductor.stand.original.id), lesson=Lesson(steps=(step,)))
    plan = todays_plan(log, [song], 20, NOW)
    [item] = [item for item in plan.items if item.kind == "step"]
    assert (item.drill, item.tempo_bpm, item.loop) == ("listen", 120.0, (0, 1, 2, 3))
    assert not lesson_of_song(log, song)[0].done
    table.do(start_item(table.conductor, item))
    table.desk.run(until=lambda: not table.conductor.playing)
    assert lesson_of_song(log, song)[0].done
    again = todays_plan(log, [song], None, NOW)
    assert [item.done for item in again.items if item.kind == "step"] == [True]


def test_a_damaged_memory_of_it_is_none(table, log) -> None:
    song = replace(parse_chart(SONG, id="x"), lesson=Lesson(steps=(Step("", "left", "four", 120.0, listen=True),)))
    for value in ("0-3", {"a": 1}, [0, "b"], 7):
        log.put_state("x", "0-3", "heard", value)
        assert not lesson_of_song(log, song)[0].done
