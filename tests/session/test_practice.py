"""A stretch of practising, from the real player's reports and simulated hands to what is logged and played next.

The player, its clock turned by hand, is that of the sound process; so the bar lines, tempi and Finished here are the true ones.
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from dataclasses import asdict, replace

import pytest
from desk import BEGAN, Desk, nothing, off, put, right, rolled, slips, wrong
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from session_songs import EIGHT, FOUR

from companion.errors import LogError
from companion.groove.model import Click
from companion.practice.drills import climbing, fading, recall
from companion.practice.drills.fading import FULL
from companion.session.drill import DrillSettings, new_drill
from companion.session.minutes import Minutes
from companion.session.passes import ANSWERS
from companion.session.practice import KEYBOARD_GONE, NOTHING_HEARD, Practice
from companion.sound.messages import Finished, KeyboardGone, Play, Stop
from companion.store.log.practice_log import PracticeLog


@pytest.fixture
def log():
    with PracticeLog.in_memory() as log:
        yield log


@pytest.fixture
def practise(settings, log):
    """A desk with everything on it; nothing plays yet."""

    def make(
        hands=right, kind="play", text=FOUR, *, loop=None, wishes=None, drill=None, stand=None, log=log, **options
    ):
        stand = stand or put(text, settings, **options.pop("changes", {}))
        if loop:
            stand = stand.with_loop(loop, "these")
        desk_options = {
            name: options.pop(name) for name in ("latency_s", "lead_s", "ticks", "before_s") if name in options
        }
        practice = Practice(
            stand, drill or new_drill(stand, kind, wishes or DrillSettings()), log, now=lambda: desk.clock(), **options
        )
        desk = Desk(practice, hands, **desk_options)
        return desk

    return make


def play(desk: Desk, passes: int) -> Desk:
    """Begin, and play until so many passes are over and the next one has begun."""
    desk.send(desk.practice.begin())
    desk.run(until=lambda: desk.turns > passes or desk.practice.asking)
    return desk


def verdicts(record) -> Counter:
    return Counter(chord["verdict"] for chord in record.chords)


# --- one pass is marked truly


@pytest.mark.parametrize("pattern", ["whole", "four", "charleston", "late-charleston", "two"])
@pytest.mark.parametrize("tempo_bpm", [40, 120, 200, 300])
def test_right_hands_are_right_at_every_tempo_and_pattern(practise, log, settings, pattern, tempo_bpm) -> None:
    stand = put(EIGHT, settings, pattern=pattern).with_tempo(tempo_bpm)
    play(practise(stand=stand, keyboard=True), 3)
    records = log.passes()
    assert [record.share_right for record in records] == [1.0] * 3
    assert all(record.extra == 0 and not record.slipped and record.clean for record in records)
    assert all(abs(record.offset_ms) < 0.1 and record.tempo_bpm == tempo_bpm for record in records)


@pytest.mark.parametrize(
    ("hands", "verdict"),
    [(wrong, "wrong"), (off(0.12), "late"), (off(-0.12), "early"), (nothing, "missing"), (rolled, "right")],
)
def test_each_slip_is_called_by_its_name_and_only_there(practise, log, hands, verdict) -> None:
    play(practise(slips((0, 1), (1, 3), how=hands)), 2)
    for record, index in zip(log.passes(), (1, 3), strict=True):
        assert [(chord["index"], chord["verdict"]) for chord in record.chords] == [
            (i, verdict if i == index else "right") for i in range(4)
        ]
        assert record.slipped == ((index,) if verdict != "right" else ())


@pytest.mark.parametrize("latency_ms", [-60, 30, 120, 400])
def test_constant_latency_is_taken_off(practise, log, latency_ms) -> None:
    play(practise(latency_s=latency_ms / 1000, latency_ms=latency_ms, keyboard=True, changes={"pattern": "four"}), 3)
    assert [(record.share_right, record.extra) for record in log.passes()] == [(1.0, 0)] * 3
    assert all(abs(record.offset_ms) < 0.1 for record in log.passes())


def test_every_press_belongs_to_one_pass(practise, log, settings) -> None:
    """At a fast tempo the last strike of a pass lies within the widest window of the next downbeat."""
    stand = put(FOUR, settings, pattern="four").with_tempo(240)
    for hands in (off(0.03), off(-0.03)):
        play(practise(hands, stand=stand, keyboard=True), 4)
    assert [record.extra for record in log.passes()] == [0] * 8


def test_early_for_the_downbeat_counts_for_the_pass_that_begins_there(practise, log) -> None:
    hands = lambda moment: off(-0.04)(moment) if moment.expected.group.index == 0 else right(moment)
    play(practise(hands, keyboard=True), 3)
    assert [record.share_right for record in log.passes()] == [1.0] * 3
    assert all(
        record.chords[0]["offset_ms"] == pytest.approx(-40, abs=0.2) and record.extra == 0 for record in log.passes()
    )


def test_noodling_in_the_count_in_is_no_part_of_the_pass(practise, log) -> None:
    desk = practise()
    for after_s in (0.3, 0.7, 1.1, 1.5):
        desk.press(60, after_s)
    play(desk, 1)
    assert [(record.share_right, record.extra) for record in log.passes()] == [(1.0, 0)]


def test_extra_keys_are_counted(practise, log) -> None:
    hands = lambda moment: [*right(moment), *([(0.9, 57)] if moment.expected.group.index == 1 else [])]
    play(practise(hands), 1)
    assert log.passes()[0].extra == 1


@pytest.mark.parametrize(("disturbed", "clean"), [(4, True), (5, False)])
@pytest.mark.parametrize("kind", ["fade", "climb"])
def test_more_than_one_strike_in_four_disturbed_is_no_clean_pass(practise, log, kind, disturbed, clean) -> None:
    """Sixteen strikes, every chord right, a key beside it struck along with some: the drill goes on, or it does not."""

    def hands(moment):
        place = 4 * moment.expected.group.index + moment.expected.number
        along = [(0.0, moment.expected.notes[0] - 1)] if place < disturbed else []
        return [*right(moment), *along]

    desk = play(practise(hands, kind, keyboard=True, changes={"pattern": "four"}), 1)
    (record,) = log.passes()
    assert (record.share_right, record.extra, record.clean) == (1.0, disturbed, clean)
    if kind == "fade":
        assert (desk.practice.drill.round > 1) == clean


# --- pass after pass


@pytest.mark.parametrize("loop", [(0,), (3,), (2, 3), (4, 5, 6, 7), tuple(range(8))])
@pytest.mark.parametrize("ticks", [True, False], ids=["ticked", "beats only"])
def test_no_pass_is_lost_whatever_the_loop(practise, log, loop, ticks) -> None:
    desk = play(practise(text=EIGHT, loop=loop, ticks=ticks), 5)
    records = log.passes()
    assert [record.loop for record in records] == [loop] * 5
    assert [record.share_right for record in records] == [1.0] * 5
    assert desk.is_gapless()
    for record, start in zip(records, desk.starts(), strict=False):
        began_s = (desk.clock().fromisoformat(record.started_at) - BEGAN).total_seconds()
        assert began_s == pytest.approx(start.due_s, abs=0.001)
        assert record.duration_s == pytest.approx(2 * len(loop), abs=0.001)


def test_begun_in_the_middle_the_first_whole_pass_counts(practise, log) -> None:
    desk = practise(keyboard=True)
    desk.send(desk.practice.begin(first_bar=2))
    desk.run(until=lambda: desk.turns == 3)
    assert [(line.position, line.index) for line in desk.lines[:3]] == [(2, 2), (3, 3), (0, 0)]
    assert [record.share_right for record in log.passes()] == [1.0, 1.0]


def test_a_told_pass_begun_in_the_middle_is_followed_by_a_whole_one(practise) -> None:
    desk = practise(nothing, "fade")
    desk.send(desk.practice.begin(first_bar=2))
    desk.run()
    assert desk.practice.asking and [line.position for line in desk.lines] == [2, 3, 0, 1, 2, 3]


@pytest.mark.parametrize("lead_s", [0.0, 0.08])
@pytest.mark.parametrize("pattern", ["whole", "four", "charleston"])
def test_a_new_tempo_begins_at_the_bar_line_without_a_gap(practise, log, pattern, lead_s) -> None:
    hands = slips((2, 1), (2, 2), how=wrong)
    desk = play(practise(hands, "climb", keyboard=True, lead_s=lead_s, changes={"pattern": pattern}), 6)
    assert desk.is_gapless()
    played = [record.tempo_bpm for record in log.passes()]
    assert [start.tempo_bpm for start in desk.starts()][:6] == played
    assert all(len({line.tempo_bpm for line in desk.lines[first : first + 4]}) == 1 for first in range(0, 24, 4))
    assert played[0] == 72 and played[1] > 72 and played[2] > played[1] > played[3] and played[4] > played[3]
    for (sent_s, _), start in zip(desk.tempos, desk.starts()[1:], strict=True):
        assert sent_s < start.due_s


def test_the_climb_is_the_ramps_own(practise, log) -> None:
    desk = play(practise(slips((1, 0), (4, 2), how=nothing), "climb", keyboard=True), 7)
    state = climbing.start(72, 120)
    for turn, record in enumerate(log.passes()):
        assert record.tempo_bpm == climbing.next_pass(state).tempo_bpm and record.clean == (turn not in (1, 4))
        state = climbing.after_pass(state, record.clean)
    assert desk.practice.drill.climb == state
    assert climbing.from_json(log.state("a-song", "0-3", "climb", "left")) == state
    assert float(log.state("a-song", "0-3", "working_bpm", "left")) == pytest.approx(state.working_bpm, abs=0.01)


def test_a_climb_ends_at_the_target_with_its_last_bar_played_out(practise, log) -> None:
    desk = practise(right, "climb", keyboard=True, wishes=DrillSettings(start_share=1.0))
    desk.send(desk.practice.begin())
    desk.run()
    assert desk.practice.drill.finished and len(log.passes()) == climbing.HOLD_PASSES
    ((stopped_s, _),) = desk.asked(Stop)
    last = desk.lines[-1]
    assert stopped_s == pytest.approx(last.due_s + 2.0, abs=0.05) and len(desk.lines) == 12
    assert not desk.sound.playing and isinstance(desk.reports[-1], Finished)


def test_a_probe_plays_the_last_two_bars_at_the_target_and_leads_back_to_the_start(practise, log, settings) -> None:
    stand = put(EIGHT, settings)
    drill = new_drill(stand, "climb", DrillSettings())
    drill = replace(drill, climb=replace(drill.climb, since_probe=climbing.PROBE_EVERY))
    desk = practise(right, stand=stand, drill=drill, keyboard=True)
    assert desk.practice.drill.next_pass.probe and desk.practice.drill.next_pass.loop == (6, 7)
    play(desk, 3)
    first, second, third = log.passes()[:3]
    assert (first.loop, first.tempo_bpm, first.loop_name, first.sections) == ((6, 7), 120, "bars 7 to 8", ())
    assert (first.kind, second.kind) == ("climb+probe", "climb")
    assert (second.loop, second.tempo_bpm, second.sections) == (tuple(range(8)), 72, ("A", "B"))
    assert [line.index for line in desk.lines[:11]] == [6, 7, *range(8), 0] and desk.is_gapless()
    assert third.tempo_bpm > 72


@pytest.mark.parametrize("lead_s", [0.0, 0.08])
def test_a_probe_in_the_middle_of_a_climb_follows_and_is_followed_without_a_jump(
    practise, log, settings, lead_s
) -> None:
    stand = put(EIGHT, settings)
    drill = new_drill(stand, "climb", DrillSettings(start_share=0.5))
    drill = replace(drill, climb=replace(drill.climb, since_probe=climbing.PROBE_EVERY - 2))
    desk = play(practise(slips((0, 0), (1, 0)), stand=stand, drill=drill, keyboard=True, lead_s=lead_s), 4)
    assert [len(record.loop) for record in log.passes()] == [8, 8, 2, 8]
    assert [line.index for line in desk.lines[:27]] == [*range(8), *range(8), 6, 7, *range(8), 0]
    assert desk.is_gapless() and log.passes()[2].share_right == 1.0


@pytest.mark.parametrize("lead_s", [0.0, 0.08])
def test_a_probe_that_could_only_be_planned_on_the_bar_line_loses_nothing_but_time(
    practise, log, settings, lead_s
) -> None:
    """The app was busy: the player begins the old loop once more, and the new one at the bar line after."""
    stand = put(EIGHT, settings, pattern="four")
    drill = new_drill(stand, "climb", DrillSettings())
    drill = replace(drill, climb=replace(drill.climb, since_probe=climbing.PROBE_EVERY - 1))
    desk = practise(right, stand=stand, drill=drill, keyboard=True, lead_s=lead_s, ticks=False)
    desk.send(desk.practice.begin())
    desk.run(until=lambda: log.count() == 4)
    assert [(len(record.loop), record.share_right, record.extra) for record in log.passes()] == [
        (8, 1.0, 0),
        (2, 1.0, 0),
        (8, 1.0, 0),
        (8, 1.0, 0),
    ]
    assert desk.is_gapless()


def test_a_late_strike_at_the_end_of_a_fast_probe_is_not_heard_again_in_the_slow_pass_after_it(
    practise, log, settings
) -> None:
    stand = put(EIGHT, settings, pattern="four").with_tempo(240)
    drill = new_drill(stand, "climb", DrillSettings(start_share=0.4))
    drill = replace(drill, climb=replace(drill.climb, since_probe=climbing.PROBE_EVERY))
    hands = lambda moment: off(0.09 if moment.turn == 0 else 0.0)(moment)
    play(practise(hands, stand=stand, drill=drill, keyboard=True, before_s=0.1), 2)
    assert [(len(record.loop), record.extra) for record in log.passes()] == [(2, 0), (8, 0)]


# --- fading


def test_fading_gives_back_exactly_the_slipped_bars(practise, log) -> None:
    hands = slips((2, 3), (4, 1), (4, 2), how=wrong)
    desk = practise(hands, "fade", keyboard=True, wishes=DrillSettings(pass_share=0.7))
    desk.send(desk.practice.begin())
    slipped = {2: {3}, 4: {1, 2}}
    for turn in range(6):
        before = desk.practice.drill.fade
        desk.run(until=lambda turn=turn: desk.turns > turn + 1)
        after = desk.practice.drill.fade
        assert after == fading.after_pass(before, frozenset(slipped.get(turn, ())), 1 - len(slipped.get(turn, ())) / 4)
        for index in range(4):
            if index in slipped.get(turn, ()):
                assert fading.level(after, index) == min(FULL, fading.level(before, index) + 1)
            else:
                assert fading.level(after, index) <= fading.level(before, index)
        assert fading.from_json(log.state("a-song", "0-3", "fade", "left")) == after
    assert [set(record.slipped) for record in log.passes()] == [slipped.get(turn, set()) for turn in range(6)]


def test_a_drill_played_right_ends_from_memory_and_brings_the_sections_into_recall(practise, log) -> None:
    desk = practise(right, "fade", EIGHT, keyboard=True)
    desk.send(desk.practice.begin())
    desk.run()
    records = log.passes()
    assert desk.practice.drill.finished and not desk.sound.playing
    assert [record.cues for record in records[-2:]] == [0.0, 0.0]
    little = [record for record in records if record.cues <= recall.MOST_HELP]
    cards = {state.loop_key: recall.from_json(state.value) for state in log.states("recall")}
    assert set(cards) == {"A", "B"} and not any(card.is_new for card in cards.values())
    assert 2 <= len(little) < len(records)


def test_a_read_pass_is_no_recall(practise, log) -> None:
    play(practise(right, "fade", EIGHT, keyboard=True), 2)
    play(practise(right, "climb", EIGHT, keyboard=True), 2)
    play(practise(right, "play", EIGHT, keyboard=True), 2)
    assert log.states("recall") == []


def test_a_peek_is_a_slip_of_that_bar(practise, log) -> None:
    desk = practise(right, "fade", keyboard=True, wishes=DrillSettings(way="cues"))
    play(desk, 2)
    before = desk.practice.drill
    desk.practice.peek(2)
    desk.run(until=lambda: desk.turns > 3)
    assert log.passes()[-1].slipped == (2,) and not log.passes()[-1].clean
    assert desk.practice.drill.cue(2) == before.cue(2) + 1


def test_fading_and_climb_move_one_at_a_time_and_each_says_why(practise, log) -> None:
    desk = practise(slips((3, 1), how=wrong), "fade+climb", keyboard=True)
    desk.send(desk.practice.begin())
    for turn in range(7):
        before = desk.practice.drill
        desk.run(until=lambda turn=turn: desk.turns > turn + 1)
        after = desk.practice.drill
        assert after.reason and after.reason in desk.practice.result.lines
        moved_tempo = after.climb != before.climb
        lost_cues = any(after.cue(i) < before.cue(i) for i in range(4))
        assert moved_tempo + lost_cues <= 1
    assert {"fade", "climb"} <= {state.kind for state in log.states()}


def test_in_the_dark_one_pass_is_played_and_a_fading_drill_in_progress_stays(practise, log, settings) -> None:
    fade = play(practise(right, "fade", keyboard=True), 2).practice.drill.fade
    kept = log.state("a-song", "0-3", "fade", "left")
    desk = practise(slips((0, 2), how=wrong), "dark", keyboard=True)
    assert desk.practice.drill.is_dark
    desk.send(desk.practice.begin())
    desk.run()
    record = desk.practice.result.record
    assert (
        log.count() == 3
        and desk.practice.drill.finished
        and (record.kind, record.cues, record.slipped) == ("dark", 0.0, (2,))
    )
    assert log.state("a-song", "0-3", "fade", "left") == kept == fading.to_json(fade)


# --- the student's word


def test_without_a_keyboard_one_pass_is_played_asked_about_and_the_next_one_begun(practise, log) -> None:
    desk = practise(nothing, "climb")
    desk.send(desk.practice.begin())
    desk.run()
    assert desk.asked(Play)[0][1].turns == 1 and desk.practice.asking and not log.passes()
    began_s = desk.starts()[0].due_s
    desk.now_s += 600  # the student takes their time
    desk.send(desk.practice.answer("1"))
    (record,) = log.passes()
    assert (record.source, record.answer, record.share_right, record.clean) == ("told", "It ran by itself", 1.0, True)
    assert (desk.clock().fromisoformat(record.started_at) - BEGAN).total_seconds() == pytest.approx(began_s, abs=0.001)
    assert record.chords == () and record.offset_ms is None
    assert not desk.practice.asking and desk.asked(Play)[-1][1].tempo_bpm > 72
    desk.run()
    assert desk.practice.asking
    desk.send(desk.practice.answer("4"))
    assert [record.clean for record in log.passes()] == [True, False]
    assert desk.asked(Play)[-1][1].tempo_bpm < desk.asked(Play)[-2][1].tempo_bpm


def test_bars_that_slipped_are_told_with_the_answer(practise, log) -> None:
    desk = practise(nothing, "fade")
    desk.send(desk.practice.begin())
    for slipped in ((), (2, 99)):
        desk.run()
        before = desk.practice.drill
        desk.send(desk.practice.answer("2", slipped))
    record = log.passes()[-1]
    assert record.slipped == (2,) and record.share_right == 0.75 and not record.clean
    assert desk.practice.drill.cue(2) == min(FULL, before.cue(2) + 1)


def test_a_drill_told_to_the_end_ends(practise, log) -> None:
    desk = practise(nothing, "fade", wishes=DrillSettings(way="cues"))
    desk.send(desk.practice.begin())
    for _ in range(30):
        desk.run()
        desk.send(desk.practice.answer("1"))
        if desk.practice.drill.finished:
            break
    assert desk.practice.drill.finished and not desk.practice.asking and desk.practice.closes_s is None
    assert not desk.sound.playing and {state.loop_key for state in log.states("recall")} == {"A"}


def test_an_answer_without_a_question_changes_nothing(practise, log) -> None:
    desk = practise(nothing, "fade")
    assert desk.practice.answer("1") == [] and not log.passes()
    assert [answer.key for answer in ANSWERS] == ["1", "2", "3", "4"]


def test_a_keyboard_first_heard_in_a_told_pass_goes_on_by_itself(practise, log) -> None:
    desk = practise(right, "climb")
    desk.send(desk.practice.begin())
    desk.run(until=lambda: desk.turns == 4)
    assert [message.turns for _, message in desk.asked(Play)] == [1, 0]
    assert [record.source for record in log.passes()] == ["heard"] * 3 and not desk.practice.asking
    assert [record.tempo_bpm for record in log.passes()] == sorted({record.tempo_bpm for record in log.passes()})


def test_a_key_after_the_last_strike_or_in_the_count_in_does_not_make_a_told_pass_a_heard_one(practise, log) -> None:
    desk = practise(nothing, "climb")
    desk.press(50, 0.4)
    desk.press(50, 3.33 * 5 - 0.5)  # in the last bar, long after its only strike
    desk.send(desk.practice.begin())
    desk.run()
    assert desk.practice.keyboard and desk.practice.asking and not log.passes()
    desk.send(desk.practice.answer("2"))
    assert desk.asked(Play)[-1][1].turns == 0


def test_playing_along_without_a_keyboard_is_logged_for_its_minutes_only(practise, log) -> None:
    desk = play(practise(nothing, "play"), 3)
    assert [(record.source, record.answer, record.clean) for record in log.passes()] == [("told", "", False)] * 3
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
        desk = practise(nothing, "climb")
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
    desk = practise(nothing, "fade")
    desk.send(desk.practice.begin())
    desk.run(until=lambda: len(desk.lines) == 2)
    desk.send(desk.practice.change_stand(desk.practice.stand.change(pattern="two")))
    desk.run()
    assert desk.practice.asking and len(desk.asked(Play)) == 2 and desk.turns == 2
    desk.send(desk.practice.answer("1"))
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


# --- the log


def test_records_are_whole_and_json_safe(practise, log) -> None:
    desk = play(practise(slips((1, 2), how=wrong), "fade+climb", EIGHT, keyboard=True), 3)
    for record in log.passes():
        assert json.loads(json.dumps(asdict(record), allow_nan=False))["loop"] == list(range(8))
        assert record.song_id == "a-song" and record.title == "Eight Bars" and record.key == "F"
        assert (record.target_bpm, record.pattern, record.hands, record.kind) == (120, "whole", "left", "fade+climb")
        assert record.sections == ("A", "B") and record.loop_name == "whole form" and record.source == "heard"
        assert [(c["index"], c["section"], c["bar"], c["chord"]) for c in record.chords] == [
            (i, "AB"[i // 4], i % 4 + 1, n) for i in range(8) for n in range(1 + (i == 6))
        ]
        assert all(set(c) >= {"symbol", "verdict", "offset_ms", "played"} for c in record.chords)
        assert record.share_right == verdicts(record)["right"] / 9
        assert None not in (record.offset_ms, record.spread_ms, record.evenness_ms)
    assert len({record.id for record in log.passes()}) == 3
    assert desk.practice.result.record == replace(log.passes()[-1], id=desk.practice.result.record.id)


def test_a_drill_goes_on_from_the_log_as_if_it_had_never_been_left(practise, log, settings) -> None:
    from companion.session.drill import take_up

    hands = slips((1, 2), (3, 0), (6, 1), how=wrong)
    whole = play(practise(hands, "fade+climb", keyboard=True, log=PracticeLog.in_memory()), 9).practice.drill
    stand, turns = put(FOUR, settings), 0
    for passes in (2, 3, 4):
        drill, words = take_up(stand, "fade+climb", DrillSettings(), log)
        assert words == ""
        desk = practise(lambda m, t=turns: hands(replace(m, turn=m.turn + t)), stand=stand, drill=drill, keyboard=True)
        turns += passes
        play(desk, passes)
        desk.practice.stop()
    assert (desk.practice.drill.fade, desk.practice.drill.climb) == (whole.fade, whole.climb)


class FullDisk:
    """A log that cannot be written."""

    def write(self, *_):
        raise LogError("The disk is full.")

    add_pass = state = write


def test_a_log_that_cannot_be_written_is_said_and_practice_goes_on(practise) -> None:
    desk = play(practise(right, "fade", keyboard=True, log=FullDisk()), 3)
    assert desk.practice.say == "The disk is full." and desk.practice.drill.fade.passes == 3


# --- while it is played


def first_pass(desk: Desk) -> list:
    """What was shown during the only pass that is over, its marks last."""
    return desk.shown[: desk.shown.index(desk.practice.result.marks) + 1]


def test_marks_grow_bar_by_bar_and_end_as_the_pass_does(practise, log) -> None:
    desk = play(practise(slips((0, 1), how=wrong), text=EIGHT, keyboard=True, changes={"pattern": "four"}), 1)
    shown = first_pass(desk)
    counts = [marks.figures.chords for marks in shown]
    assert counts == sorted(counts) and set(counts) == set(range(10))
    assert [chord.verdict for chord in shown[-2].chords[:3]] == ["right", "wrong", "right"]


def test_marks_so_far_of_a_long_loop_are_those_of_the_whole(practise, settings) -> None:
    text = EIGHT.replace('"A B"', '"A B A B A B A B A B"')
    hands = slips(*((0, index) for index in (0, 3, 7, 8, 15, 16, 21, 30, 39)), how=wrong)
    desk = play(practise(hands, text=text, keyboard=True, changes={"pattern": "four"}), 1)
    so_far, whole = first_pass(desk)[-2:]
    assert len(whole.chords) == 45 and len(so_far.chords) >= 43
    assert so_far.chords == whole.chords[: len(so_far.chords)]
    assert so_far.figures.right == sum(chord.is_right for chord in so_far.chords)
    assert so_far.figures.chords == len(so_far.chords) and so_far.extra == whole.extra[: len(so_far.extra)]


def calls_of_a_pass(practise, bars: int) -> int:
    """How many functions are called while a pass of so many bars is heard."""
    text = EIGHT.replace('"A B"', '"' + " ".join(["A", "B"] * (bars // 8)) + '"')
    desk = practise(right, "fade", text, keyboard=True)
    hear, tick = desk.practice.hear, desk.practice.tick
    counts = Counter()

    def counted(function):
        def call(argument):
            sys.setprofile(lambda frame, event, arg: counts.update([event]) if event in ("call", "c_call") else None)
            try:
                return function(argument)
            finally:
                sys.setprofile(None)

        return call

    desk.practice.hear, desk.practice.tick = counted(hear), counted(tick)
    play(desk, 1)
    return counts["call"] + counts["c_call"]


def test_a_pass_of_four_times_the_bars_takes_no_more_than_four_times_the_work(practise) -> None:
    calls_of_a_pass(practise, 8)  # what is loaded on first use
    short, long = calls_of_a_pass(practise, 32), calls_of_a_pass(practise, 128)
    assert long < 4.6 * short


# --- whatever is played


@st.composite
def stretches(draw):
    bars = draw(st.integers(1, 5))
    symbols = st.sampled_from(("F6", "D7", "Gm7", "C7", "A7 D7", "Bbmaj7", "N.C.", "Em7b5 A7"))
    text = (
        EIGHT.split("[section.A]")[0]
        .replace('"A B"', '"A"')
        .replace("4/4", draw(st.sampled_from(("4/4", "3/4", "6/8"))))
    )
    text += '[section.A]\nbars = "F6 | ' + " | ".join(draw(symbols) for _ in range(bars)) + '"\n'
    first = draw(st.integers(0, bars))
    last = draw(st.integers(first, bars))
    return {
        "text": text,
        "loop": tuple(range(first, last + 1)),
        "tempo_bpm": draw(st.sampled_from((50, 90, 120, 160, 200))),
        "pattern": draw(st.sampled_from(("whole", "four", "charleston"))),
        "kind": draw(st.sampled_from(("play", "fade", "climb", "fade+climb"))),
        "latency_ms": draw(st.sampled_from((0, 20, 45))),
        "ticks": draw(st.booleans()),
        "lead_s": draw(st.sampled_from((0.0, 0.08))),
        # Of each chord in each pass: right, wrong or left out.
        "ways": draw(st.lists(st.sampled_from("rrrrwm"), min_size=7, max_size=23)),
        "passes": draw(st.integers(1, 5)),
    }


@given(stretches())
@hypothesis_settings(max_examples=120, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
def test_as_many_records_as_passes_heard_each_with_its_true_share(settings, stretch) -> None:
    stand = put(stretch["text"], settings, pattern=stretch["pattern"]).with_tempo(stretch["tempo_bpm"])
    stand = stand.with_loop(stretch["loop"], "these")
    ways, intents = stretch["ways"], {}

    def hands(moment):
        place = (moment.turn, moment.expected.group.index, moment.expected.group.chord)
        way = intents.setdefault(place, ways[hash(place) % len(ways)])
        return {"r": right, "w": wrong, "m": nothing}[way](moment)

    with PracticeLog.in_memory() as log:
        drill = new_drill(stand, stretch["kind"], DrillSettings())
        latency_ms = stretch["latency_ms"]
        practice = Practice(stand, drill, log, now=lambda: desk.clock(), latency_ms=latency_ms, keyboard=True)
        desk = Desk(practice, hands, latency_s=latency_ms / 1000, lead_s=stretch["lead_s"], ticks=stretch["ticks"])
        desk.send(practice.begin())
        desk.run(seconds=900, until=lambda: desk.turns > stretch["passes"])
        heard = []
        for turn in range(min(desk.turns, stretch["passes"] if desk.sound.playing else desk.turns)):
            of_turn = [way for (its, *_), way in intents.items() if its == turn]
            if set(of_turn) - {"m"}:
                heard.append(of_turn.count("r") / len(of_turn))
        records = log.passes()
        assert [record.share_right for record in records] == pytest.approx(heard)
        assert all(record.extra == 0 for record in records)
        assert desk.is_gapless()
        assert practice.drill.finished or desk.sound.playing


# --- a pass that a fault cuts off


def test_a_pass_in_which_the_sound_dies_is_marked_as_broken_and_moves_nothing(practise, log) -> None:
    desk = play(practise(right, "climb"), 1)
    begun = desk.turns
    desk.run(until=lambda: desk.turns == begun + 1)
    desk.run(1.0)
    drill, whole = desk.practice.drill, log.passes()
    desk.hear(Finished(desk.now_s))
    broken = desk.practice.broken
    assert broken.broken and not broken.clean and broken.share_right == 0 and 0 < broken.duration_s <= 1.0
    assert log.passes(broken=True) == [*whole, broken] and log.passes() == whole
    assert desk.practice.drill == drill and [day.passes for day in log.day_totals()] == [len(whole)]
    desk.send(desk.practice.begin())
    assert desk.practice.broken is None


def test_a_pass_in_which_the_keyboard_went_is_marked_as_broken_and_moves_nothing(practise, log) -> None:
    """As when the sound stands still; the music plays on, and what is played once the keyboard is back counts."""
    playing = [True]
    desk = play(practise(lambda moment: right(moment) if playing else [], "climb"), 1)
    begun = desk.turns
    desk.run(until=lambda: desk.turns == begun + 1)
    desk.run(1.0)
    drill, whole = desk.practice.drill, log.passes()
    desk.hear(KeyboardGone("another"))
    assert desk.practice.broken is None
    desk.hear(KeyboardGone("keys"))
    broken = desk.practice.broken
    assert broken.broken and not broken.clean and desk.practice.say == KEYBOARD_GONE
    playing.clear()
    desk.run(until=lambda: desk.turns == begun + 3)
    assert log.passes(broken=True) == [*whole, broken] and log.passes() == whole and desk.practice.drill == drill
    playing.append(True)
    desk.run(until=lambda: len(log.passes()) == len(whole) + 2)  # the keyboard came back in the middle of the first
    assert log.passes()[-1].share_right == 1.0 and not log.passes()[-1].broken


def test_a_pass_stopped_by_the_student_is_not_broken(practise, log) -> None:
    desk = practise(right, "climb")
    desk.send(desk.practice.begin())
    desk.run(until=lambda: len(desk.lines) == 2)
    desk.send(desk.practice.stop())
    desk.run(1.0)
    assert desk.practice.broken is None and log.passes(broken=True) == []


@pytest.mark.parametrize("keyboard", [True, False])
@pytest.mark.parametrize("bar", [1, 3])
def test_a_pass_in_which_time_stood_still_is_marked_as_broken_and_the_next_counts(practise, log, keyboard, bar) -> None:
    """As when a computer sleeps: the player then goes on where it was (SLIP_S)."""
    desk = practise(right if keyboard else nothing, keyboard=keyboard)
    desk.send(desk.practice.begin())
    desk.run(until=lambda: len(desk.lines) == bar)
    desk.now_s += 60.0
    desk.run(until=lambda: bool(desk.practice.say))
    assert "does not count" in desk.practice.say
    desk.run(until=lambda: len(log.passes()) == 1)
    assert [record.broken for record in log.passes(broken=True)] == [True, False]
    assert log.passes(broken=True)[0].duration_s < 10


# --- what waits for what


def test_the_next_tempo_is_told_before_the_log_is_written(practise, log) -> None:
    """However slow the disk, the sound process has the tempo of the next pass first."""
    order: list[str] = []

    class Slow:
        def __getattr__(self, name):
            return getattr(log, name)

        def write(self, entry) -> None:
            order.append("written")
            log.write(entry)

    desk = practise(right, "climb", keyboard=True, log=Slow())
    handle = desk.sound.handle
    desk.sound.handle = lambda message: (order.append(type(message).__name__), handle(message))
    play(desk, 3)
    assert order == ["Load", "Play", *["SetTempo", "written"] * 3]
