"""A drill on a loop: what it plans, what counts as clean, and that it is taken up from the log where it was left."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from desk import put
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from session_songs import EIGHT, FOUR

from companion.errors import LogError
from companion.practice.drills import climbing, fading
from companion.practice.drills.fading import FULL, Cue
from companion.practice.model import PassRecord
from companion.session.drill import (
    KINDS,
    LATEST_PASSES,
    DrillSettings,
    bar_strengths,
    drill_settings,
    new_drill,
    take_up,
)
from companion.session.memory import keep_pass
from companion.session.outcome import Outcome, PlayedPass, make_record
from companion.session.stand import TEMPO_LIMITS
from companion.store.log.practice_log import PracticeLog

NONE = frozenset()


@pytest.fixture
def stand(settings):
    return put(EIGHT, settings)


def record(stand, slipped=(), *, loop=range(8), cues=1.0, source="heard", fact="ran") -> PassRecord:
    played = PlayedPass(datetime(2026, 1, 5, tzinfo=UTC), 16.0, tuple(loop), 120.0, "fade", round=1, cues=cues)
    return make_record(stand, played, Outcome(source, fact, 1.0, frozenset(slipped)), clean=True)


def test_every_kind_has_its_parts(stand) -> None:
    parts = {kind: new_drill(stand, kind, DrillSettings()) for kind in KINDS}
    assert {kind for kind, drill in parts.items() if drill.fade} == {
        *("symbols", "fade", "fade+climb"),
        *("symbols-only", "dark"),
    }
    assert {kind for kind, drill in parts.items() if drill.is_one_pass} == {"symbols-only", "dark"}
    assert {kind for kind, drill in parts.items() if drill.hides_symbols} == {"fade", "fade+climb", "dark"}
    assert parts["symbols-only"].cue(0) == Cue.SYMBOL
    assert {kind for kind, drill in parts.items() if drill.climb} == {"climb", "fade+climb"}
    assert [kind for kind, drill in parts.items() if drill.is_dark] == ["dark"]
    assert not any(drill.finished for drill in parts.values())
    with pytest.raises(ValueError, match="play, symbols, fade, climb"):
        new_drill(stand, "sideways", DrillSettings())


def test_the_settings_say_how_it_is_drilled(stand, settings) -> None:
    practice = replace(settings.practice, pass_share=0.7, fade="cues", climb="gliding", start_share=0.5, stretch=True)
    drill = new_drill(stand, "fade+climb", drill_settings(replace(settings, practice=practice)))
    assert (drill.fade.pass_share, drill.fade.way) == (0.7, "cues")
    assert (drill.climb.rule, drill.climb.start_bpm, drill.climb.stretches) == ("gliding", 60, 0)


def test_all_is_shown_of_a_bar_that_is_not_drilled(stand) -> None:
    drill = new_drill(stand.with_loop((4, 5, 6, 7), "B"), "dark", DrillSettings())
    assert drill.cue(0) is FULL and drill.cue(5) is Cue.PLACE
    assert (drill.cues((0, 1)), drill.cues((4, 5)), drill.cues((0, 4))) == (1.0, 0.0, 0.5)
    assert new_drill(stand, "climb", DrillSettings()).cues(range(8)) == 1.0
    assert drill.peek(0) == drill and drill.peek(5).fade.peeked == {5}


@given(st.lists(st.tuples(st.frozensets(st.integers(0, 7), max_size=2), st.sampled_from((1.0, 0.9, 0.5))), max_size=15))
@hypothesis_settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_cues_are_the_mean_of_the_bars(stand, passes) -> None:
    drill = new_drill(stand, "fade", DrillSettings())
    for slipped, share in passes:
        drill = drill.after(slipped, share)
    for loop in (range(8), (2, 3), (7,)):
        assert drill.cues(loop) == pytest.approx(sum(drill.cue(index) for index in loop) / (5 * len(loop)))


def test_a_plan_stays_within_what_can_be_played(stand) -> None:
    slow = new_drill(stand.with_tempo(20), "climb", DrillSettings(start_share=0.2))
    assert slow.climb.tempo_bpm == 4 and slow.next_pass.tempo_bpm == TEMPO_LIMITS[0]
    fast = new_drill(stand.with_tempo(400), "climb", DrillSettings(start_share=1.0, stretch=True)).after(NONE, 1.0)
    assert fast.next_pass.tempo_bpm == pytest.approx(424)


def test_a_probe_takes_the_last_two_bars_or_a_shorter_loop_whole(stand) -> None:
    for loop, bars in (((0, 1, 2, 3), (2, 3)), ((5,), (5,)), ((5, 6), (5, 6))):
        drill = new_drill(stand.with_loop(loop, "these"), "climb", DrillSettings())
        drill = replace(drill, climb=replace(drill.climb, since_probe=climbing.PROBE_EVERY))
        assert drill.next_pass.probe and drill.next_pass.loop == bars and drill.next_pass.tempo_bpm == 120
        assert not drill.after(NONE, 1.0).next_pass.probe and drill.after(NONE, 1.0).next_pass.loop == loop


def test_clean_is_what_the_student_set(stand) -> None:
    for kind in ("play", "fade", "climb"):
        drill = new_drill(stand, kind, DrillSettings(pass_share=0.9))
        assert drill.is_clean(NONE, 0.9) and not drill.is_clean(NONE, 0.89)
    assert not new_drill(stand, "fade", DrillSettings(pass_share=0.9)).peek(0).is_clean(NONE, 1.0)


# --- what the log knows of the bars


def test_a_bar_is_known_by_its_latest_passes(stand) -> None:
    assert bar_strengths([], range(8)) == dict.fromkeys(range(8), 0.0)
    passes = [record(stand, {2}) for _ in range(3)]
    strengths = bar_strengths(passes, range(8))
    assert strengths[2] == 0 and strengths[0] == pytest.approx(1.5 / 2.5)
    by_heart = bar_strengths([record(stand, cues=0.0) for _ in range(3)], (0,))[0]
    assert by_heart == pytest.approx(3 / 4)
    forgotten = [record(stand, {0}) for _ in range(20)] + [record(stand) for _ in range(LATEST_PASSES)]
    assert bar_strengths(forgotten, (0,)) == bar_strengths(forgotten[20:], (0,))


def test_playing_along_unheard_tells_nothing_of_the_bars(stand) -> None:
    assert bar_strengths([record(stand, source="told", fact="")] * 5, (0,)) == {0: 0.0}
    assert bar_strengths([record(stand, source="told", fact="ran")] * 5, (0,))[0] > 0.5


def test_best_known_bars_lose_cues_first(stand) -> None:
    passes = [record(stand, {1, 2, 3, 5, 6}) for _ in range(6)]
    drill = new_drill(stand, "fade", DrillSettings(), passes).after(NONE, 1.0)
    assert {index for index in range(8) if drill.cue(index) < FULL} <= {7, 1, 2, 3, 5, 6} and drill.cue(7) < FULL


# --- taken up from the log


def kept(stand, drill, log) -> None:
    """A pass into the log, with the drill as it left it."""
    keep_pass(log, record(stand), drill, stand, datetime(2026, 1, 5, tzinfo=UTC))


def test_what_is_taken_up_is_what_was_left(settings) -> None:
    stand = put(FOUR, settings)
    steps = [(NONE, 1.0), (frozenset({1}), 0.75), (NONE, 0.9), (frozenset({0, 2}), 0.5), (NONE, 1.0)] * 3
    with PracticeLog.in_memory() as log:
        for kind in ("fade", "climb", "fade+climb"):
            drill = new_drill(stand, kind, DrillSettings())
            for slipped, share in steps:
                drill = drill.after(slipped, share)
                if drill.finished:
                    break
                kept(stand, drill, log)
                again, words = take_up(stand, kind, DrillSettings(), log)
                assert (
                    words == ""
                    and (again.fade, again.climb) == (drill.fade, drill.climb)
                    and again.next_pass == drill.next_pass
                )


def test_a_drill_that_is_over_is_not_taken_up_but_its_tempo_is(settings) -> None:
    stand = put(FOUR, settings)
    with PracticeLog.in_memory() as log:
        drill = new_drill(stand, "fade+climb", DrillSettings())
        while not drill.finished:
            drill = drill.after(NONE, 1.0)
            kept(stand, drill, log)
        assert log.states("fade") == log.states("climb") == []
        again, _ = take_up(stand, "fade+climb", DrillSettings(), log)
        assert again.fade.round == 1 and again.cues(range(4)) == 1.0
        assert again.climb.tempo_bpm == 120 and not again.finished


def test_of_two_parts_the_finished_one_waits_for_the_other(settings) -> None:
    stand = put(FOUR, settings)
    with PracticeLog.in_memory() as log:
        climb = new_drill(stand, "climb", DrillSettings(start_share=1.0))
        for _ in range(climbing.GENTLE_HOLD):
            climb = climb.after(NONE, 1.0)
        drill = replace(new_drill(stand, "fade+climb", DrillSettings()).after(NONE, 1.0), climb=climb.climb)
        assert drill.climb.finished and not drill.finished
        kept(stand, drill, log)
        again, _ = take_up(stand, "fade+climb", DrillSettings(), log)
        assert again.climb == drill.climb and again.fade == drill.fade
        assert not take_up(stand, "climb", DrillSettings(), log)[0].climb.finished


@pytest.mark.parametrize(
    "other",
    [
        {"stand": lambda stand: stand.with_loop((1, 2, 3), "these")},
        {"text": FOUR.replace("section.A", "section.Verse").replace('"A"', '"Verse"'), "tempo": 100},
    ],
    ids=["another loop", "the song was changed"],
)
def test_another_drill_begins_anew(settings, other) -> None:
    stand = put(FOUR, settings)
    with PracticeLog.in_memory() as log:
        drill = new_drill(stand, "fade+climb", DrillSettings(start_share=0.9))
        for _ in range(5):
            drill = drill.after(NONE, 1.0)
        kept(stand, drill, log)
        stand = put(other.get("text", FOUR), settings).with_tempo(other.get("tempo", 120))
        again, words = take_up(
            other.get("stand", lambda s: s)(stand), "fade+climb", other.get("wishes", DrillSettings()), log
        )
        assert words == "" and again.fade.passes == 0 and again.climb.history == ()


def test_another_way_of_fading_begins_anew_and_a_climb_goes_on_by_another_rule(settings) -> None:
    """As do the climbs of older companions, which knew no gentle rule; what a lesson says comes before the settings."""
    stand = put(FOUR, settings)
    with PracticeLog.in_memory() as log:
        drill = new_drill(stand, "fade+climb", DrillSettings(start_share=0.9, rule="strict"))
        for _ in range(5):
            drill = drill.after(NONE, 1.0)
        kept(stand, drill, log)
        again, words = take_up(stand, "fade+climb", DrillSettings(way="cues"), log)
        assert words == "" and again.fade.passes == 0
        assert again.climb.rule == "gentle" and again.climb.tempo_bpm == drill.climb.tempo_bpm
        assert again.climb.history == drill.climb.history != ()
        taught = put(FOUR + '[lesson]\nclimb = "runs"\n', settings)
        assert take_up(taught, "fade+climb", DrillSettings(), log)[0].climb.rule == "runs"


def test_new_wishes_hold_for_a_drill_that_goes_on(settings) -> None:
    stand = put(FOUR, settings)
    with PracticeLog.in_memory() as log:
        kept(stand, new_drill(stand, "fade+climb", DrillSettings()).after(NONE, 1.0), log)
        drill, _ = take_up(stand, "fade+climb", DrillSettings(pass_share=0.6, aim=0.75, stretch=True), log)
    assert (drill.fade.pass_share, drill.climb.aim, drill.climb.stretches) == (0.6, 0.75, 0)
    assert drill.fade.passes + len(drill.climb.history) == 1


@pytest.mark.parametrize("damaged", ["", "{", "[]", '{"bars": []}', 7, {"a": 1}])
def test_a_damaged_drill_is_said_and_begins_anew(settings, damaged) -> None:
    stand = put(FOUR, settings)
    with PracticeLog.in_memory() as log:
        log.put_state("a-song", "0-3", "fade", damaged, "left")
        drill, words = take_up(stand, "fade", DrillSettings(), log)
        assert drill == new_drill(stand, "fade", DrillSettings()) and words.endswith("The drill begins anew.")
        log.put_state("a-song", "0-3", "working_bpm", {"a": 1}, "left")
        assert take_up(stand, "climb", DrillSettings(), log)[1]


def test_a_log_that_cannot_be_read_is_said(settings) -> None:
    class Shut:
        def state(self, *key):
            raise LogError("The log is shut.")

    drill, words = take_up(put(FOUR, settings), "fade", DrillSettings(), Shut())
    assert drill.fade is not None and words == "The log is shut. The drill begins anew."


def test_the_saved_texts_are_those_of_fading_and_climbing(settings) -> None:
    stand = put(FOUR, settings)
    drill = new_drill(stand, "fade+climb", DrillSettings()).after(NONE, 1.0)
    with PracticeLog.in_memory() as log:
        kept(stand, drill, log)
        assert fading.from_json(log.state("a-song", "0-3", "fade", "left")) == drill.fade
        assert climbing.from_json(log.state("a-song", "0-3", "climb", "left")) == drill.climb
