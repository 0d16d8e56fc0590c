"""A stretch of practising, from the real player's reports and simulated hands to what is logged and played next.

The player, its clock turned by hand, is that of the sound process; so the bar lines, tempi and Finished here are the true ones.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from desk import BEGAN, nothing, off, play, put, right, rolled, slips, wrong
from session_songs import EIGHT, FOUR

from companion.practice.drills import climbing, fading, recall
from companion.practice.drills.fading import FULL
from companion.session.drill import DrillSettings, new_drill
from companion.sound.messages import Finished, Stop

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
    desk = practise(nothing, "fade", stops=True)
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
    assert played[0] == 72 and played[1] > 72 and played[2] > played[1] and played[2] > played[3] < played[4]
    for (sent_s, _), start in zip(desk.tempos, desk.starts()[1:], strict=True):
        assert sent_s < start.due_s


def test_the_climb_is_the_ramps_own(practise, log) -> None:
    desk = play(practise(slips((1, 0), (4, 2), how=nothing), "climb", keyboard=True), 7)
    state = climbing.start(72, 120)
    for turn, record in enumerate(log.passes()):
        assert record.tempo_bpm == climbing.next_pass(state).tempo_bpm and record.clean == (turn not in (1, 4))
        state = climbing.after_pass(state, record.clean, record.started_at[:10])
    assert desk.practice.drill.climb == state
    assert climbing.from_json(log.state("a-song", "0-3", "climb", "left")) == state
    assert float(log.state("a-song", "0-3", "working_bpm", "left")) == pytest.approx(state.working_bpm, abs=0.01)


def test_a_climb_ends_at_the_target_with_its_last_bar_played_out(practise, log) -> None:
    desk = practise(right, "climb", keyboard=True, wishes=DrillSettings(start_share=1.0))
    desk.send(desk.practice.begin())
    desk.run()
    assert desk.practice.drill.finished and len(log.passes()) == climbing.GENTLE_HOLD
    ((stopped_s, _),) = desk.asked(Stop)
    last = desk.lines[-1]
    assert stopped_s == pytest.approx(last.due_s + 2.0, abs=0.05) and len(desk.lines) == 4 * climbing.GENTLE_HOLD
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
    little = [record for record in records if record.cues <= recall.FROM_MEMORY.most_help]
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
