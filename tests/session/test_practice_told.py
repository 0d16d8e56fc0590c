"""Passes without a keyboard, which the student tells of; passes that do not count; rests."""

from __future__ import annotations

import pytest
from desk import BEGAN, nothing, play, right
from session_songs import EIGHT

from companion.groove.model import Click
from companion.practice.drills.fading import FULL
from companion.practice.planning.totals import FROM_SYMBOLS
from companion.session.drill import DrillSettings
from companion.session.ledger import NOTHING_HEARD
from companion.session.minutes import Minutes
from companion.sound.messages import Finished, Play

# --- the student's word


def test_where_it_is_to_stop_for_the_word_one_pass_is_played_asked_about_and_the_next_one_begun(practise, log) -> None:
    desk = practise(nothing, "climb", stops=True)
    desk.send(desk.practice.begin())
    desk.run()
    assert desk.asked(Play)[0][1].turns == 1 and desk.practice.asking and not log.passes()
    began_s = desk.starts()[0].due_s
    desk.now_s += 600  # the student takes their time
    desk.send(desk.practice.answer())
    (record,) = log.passes()
    assert (record.source, record.fact, record.share_right, record.clean) == ("told", "ran", 1.0, True)
    assert (desk.clock().fromisoformat(record.started_at) - BEGAN).total_seconds() == pytest.approx(began_s, abs=0.001)
    assert record.chords == () and record.offset_ms is None
    assert not desk.practice.asking and desk.asked(Play)[-1][1].tempo_bpm > 72
    desk.run()
    assert desk.practice.asking
    desk.send(desk.practice.answer(broke_off=True))
    assert [(record.clean, record.fact) for record in log.passes()] == [(True, "ran"), (False, "broke off")]
    assert desk.asked(Play)[-1][1].tempo_bpm < desk.asked(Play)[-2][1].tempo_bpm


def test_bars_that_slipped_are_told_with_the_answer(practise, log) -> None:
    desk = practise(nothing, "fade", stops=True)
    desk.send(desk.practice.begin())
    for slipped in ((), (2, 99)):
        desk.run()
        before = desk.practice.drill
        desk.send(desk.practice.answer(slipped))
    record = log.passes()[-1]
    assert record.slipped == (2,) and record.fact == "slipped" and record.share_right == 0.75 and not record.clean
    assert desk.practice.drill.cue(2) == min(FULL, before.cue(2) + 1)


def test_a_drill_told_to_the_end_ends(practise, log) -> None:
    desk = practise(nothing, "fade", wishes=DrillSettings(way="cues"), stops=True)
    desk.send(desk.practice.begin())
    for _ in range(30):
        desk.run()
        desk.send(desk.practice.answer())
        if desk.practice.drill.finished:
            break
    assert desk.practice.drill.finished and not desk.practice.asking and desk.practice.closes_s is None
    assert not desk.sound.playing and {state.loop_key for state in log.states("recall")} == {"A"}


def test_a_drill_told_to_its_end_from_symbols_is_remembered_as_that(practise, log) -> None:
    desk = practise(nothing, "symbols", EIGHT, stops=True)
    desk.send(desk.practice.begin())
    for _ in range(30):
        desk.run()
        if desk.practice.drill.finished:
            break
        assert log.state("a-song", "0-7", "fade", "left") is None, "the drill from memory stands elsewhere"
        desk.send(desk.practice.answer())
    records = log.passes()
    assert desk.practice.drill.finished and [record.cues for record in records[-2:]] == [0.6, 0.6]
    assert log.state("a-song", "0-7", "symbols", "left") is None, "nothing is kept of a drill that is over"
    assert log.states("recall") == [] and {state.loop_key for state in log.states("recall-symbols")} == {"A", "B"}
    assert [way.way.by_heart for way in log.tallies("a-song")].count(FROM_SYMBOLS) == 1


def test_an_answer_without_a_question_changes_nothing(practise, log) -> None:
    desk = practise(nothing, "fade")
    assert desk.practice.answer() == [] and not log.passes()


def test_a_keyboard_first_heard_in_a_told_pass_goes_on_by_itself(practise, log) -> None:
    desk = practise(right, "climb", stops=True)
    desk.send(desk.practice.begin())
    desk.run(until=lambda: desk.turns == 4)
    assert [message.turns for _, message in desk.asked(Play)] == [1, 0]
    assert [record.source for record in log.passes()] == ["heard"] * 3 and not desk.practice.asking
    assert [record.tempo_bpm for record in log.passes()] == sorted({record.tempo_bpm for record in log.passes()})


def test_a_key_after_the_last_strike_or_in_the_count_in_does_not_make_a_told_pass_a_heard_one(practise, log) -> None:
    desk = practise(nothing, "climb", stops=True)
    desk.press(50, 0.4)
    desk.press(50, 3.33 * 5 - 0.5)  # in the last bar, long after its only strike
    desk.send(desk.practice.begin())
    desk.run()
    assert desk.practice.keyboard and desk.practice.asking and not log.passes()
    desk.send(desk.practice.answer())
    assert desk.asked(Play)[-1][1].turns == 0


def test_playing_along_without_a_keyboard_is_logged_for_its_minutes_only(practise, log) -> None:
    desk = play(practise(nothing, "play"), 3)
    assert [(record.source, record.fact, record.clean) for record in log.passes()] == [("told", "", False)] * 3
    assert not desk.practice.asking and log.states("recall") == []


# --- what does not count


def test_nothing_heard_does_not_count_and_is_said_until_something_is(practise, log) -> None:
    hands = lambda moment: right(moment) if moment.turn in (0, 3) else []
    desk = practise(hands, "climb", keyboard=True)
    desk.send(desk.practice.begin())
    desk.run(until=lambda: desk.turns == 2)
    before = desk.practice.drill
    desk.run(until=lambda: desk.turns == 4)
    assert len(log.passes()) == 1 and desk.practice.drill == before
    assert desk.practice.say == NOTHING_HEARD
    desk.run(until=lambda: desk.turns == 5)
    assert len(log.passes()) == 2 and desk.practice.say == ""


@pytest.mark.parametrize("hands", [right, nothing])
@pytest.mark.parametrize("bar", [1, 2, 4])
def test_stopped_in_the_middle_nothing_counts_and_nothing_starts_by_itself(practise, log, hands, bar) -> None:
    desk = practise(hands, "climb", keyboard=hands is right)
    before = desk.practice.drill
    desk.send(desk.practice.begin())
    desk.run(until=lambda: len(desk.lines) == bar)
    desk.run(0.1)
    desk.send(desk.practice.stop())
    desk.run()
    assert not log.passes() and log.states() == [] and desk.practice.drill == before
    assert not desk.practice.asking and len(desk.asked(Play)) == 1 and not desk.sound.playing


def test_stopped_after_some_passes_it_stays_stopped_and_begins_again_when_asked(practise, log) -> None:
    desk = play(practise(right, "climb"), 3)
    desk.send(desk.practice.stop())
    desk.run()
    assert not desk.sound.playing and len(log.passes()) == 3
    turns = desk.turns
    desk.send(desk.practice.begin())
    desk.run(until=lambda: desk.turns == turns + 2)
    assert len(log.passes()) == 4


def test_a_sound_that_broke_off_asks_nothing_and_counts_nothing(practise, log) -> None:
    for bar in (2, 4):
        desk = practise(nothing, "climb", stops=True)
        desk.send(desk.practice.begin())
        desk.run(until=lambda desk=desk, bar=bar: len(desk.lines) == bar)
        desk.run(0.9)
        desk.hear(Finished(desk.now_s))
        assert not desk.practice.asking and desk.practice.closes_s is None and not log.passes()
    desk = play(practise(right, "climb"), 2)
    plays = len(desk.asked(Play))
    desk.run(1.0)
    desk.hear(Finished(desk.now_s))
    assert len(desk.asked(Play)) == plays and len(log.passes()) == 2 and desk.practice.live is None


def test_a_change_on_the_stand_spoils_the_pass_and_the_next_whole_one_counts(practise, log) -> None:
    desk = practise(right, "climb", keyboard=True)
    desk.send(desk.practice.begin())
    desk.run(until=lambda: len(desk.lines) == 2)
    before = desk.practice.drill
    desk.send(desk.practice.change_stand(desk.practice.stand.change(pattern="four", click=Click("off"))))
    desk.run(until=lambda: desk.turns == 2)
    assert not log.passes() and desk.practice.drill == before and desk.is_gapless()
    desk.run(until=lambda: desk.turns == 3)
    (record,) = log.passes()
    assert (record.pattern, record.share_right, record.tempo_bpm) == ("four", 1.0, 72)


@pytest.mark.parametrize(("after_s", "keys"), [(0.2, ["F", "Ab"]), (0.5, ["F", "F", "Ab"])], ids=["spoilt", "closed"])
def test_a_change_in_the_last_bar_counts_from_the_next_bar_line(practise, log, after_s, keys) -> None:
    desk = practise(right, "play", keyboard=True, loop=(1,))
    desk.send(desk.practice.begin())
    desk.run(until=lambda: desk.turns == 2)
    desk.run(after_s)
    desk.send(desk.practice.change_stand(desk.practice.stand.with_key("Ab")))
    desk.run(until=lambda: desk.turns == 4)
    assert [record.key for record in log.passes()] == keys
    assert all(record.share_right == 1.0 for record in log.passes())
    assert {record.chords[0]["symbol"] for record in log.passes()} == {"D7", "F7"}


def test_a_told_pass_spoilt_by_a_change_is_played_again(practise, log) -> None:
    desk = practise(nothing, "fade", stops=True)
    desk.send(desk.practice.begin())
    desk.run(until=lambda: len(desk.lines) == 2)
    desk.send(desk.practice.change_stand(desk.practice.stand.change(pattern="two")))
    desk.run()
    assert desk.practice.asking and len(desk.asked(Play)) == 2 and desk.turns == 2
    desk.send(desk.practice.answer())
    assert log.passes()[0].pattern == "two"


@pytest.mark.parametrize("tempo_bpm", [80, 170])
def test_a_tempo_taken_in_the_middle_loses_no_pass_and_is_marked_truly(practise, log, tempo_bpm) -> None:
    desk = practise(right, "play", keyboard=True, changes={"pattern": "four"})
    desk.send(desk.practice.begin())
    for bars in (2, 8):
        desk.run(until=lambda bars=bars: len(desk.lines) == bars)
        desk.run(0.6)
        desk.send(desk.practice.change_tempo(tempo_bpm))
        tempo_bpm = 120
    desk.run(until=lambda: desk.turns == 4)
    assert [(record.share_right, record.extra) for record in log.passes()] == [(1.0, 0)] * 3


# --- rest


def test_a_rest_is_due_after_25_minutes_and_a_pause_resets_it(practise) -> None:
    minutes = Minutes()
    desk = practise(right, "play", EIGHT, keyboard=True, minutes=minutes)  # 16 seconds a pass
    desk.send(desk.practice.begin())
    desk.run(until=lambda: desk.turns == 94)
    assert not minutes.rest_is_due  # 93 passes: 24.8 minutes
    desk.run(until=lambda: desk.turns == 95)
    assert minutes.rest_is_due
    desk.send(desk.practice.stop())
    desk.run()
    desk.now_s += 301
    play(desk, desk.turns + 1)
    assert not minutes.rest_is_due


def test_a_short_pause_is_no_rest(practise) -> None:
    minutes = Minutes()
    desk = practise(right, "play", EIGHT, keyboard=True, minutes=minutes)
    play(desk, 93)
    desk.send(desk.practice.stop())
    desk.run()
    desk.now_s += 200
    play(desk, desk.turns + 1)
    assert minutes.rest_is_due
    minutes.rested()
    assert not minutes.rest_is_due
