"""What practising leaves in the log, and when: records, marks while a pass is played, passes that a fault cut off."""

from __future__ import annotations

import json
import sys
from collections import Counter
from dataclasses import asdict, replace

import pytest
from desk import Desk, nothing, play, put, right, slips, verdicts, wrong
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from session_songs import EIGHT, FOUR

from companion.errors import LogError
from companion.session.drill import DrillSettings, new_drill
from companion.session.practice import KEYBOARD_GONE, Practice
from companion.sound.messages import Finished, KeyboardGone
from companion.store.log.practice_log import PracticeLog

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
    desk = play(
        practise(slips((0, 1), how=wrong), text=EIGHT, keyboard=True, changes={"pattern": "four"}, looks=True), 1
    )
    shown = first_pass(desk)
    counts = [marks.figures.chords for marks in shown]
    assert counts == sorted(counts) and set(counts) == set(range(10))
    assert [chord.verdict for chord in shown[-2].chords[:3]] == ["right", "wrong", "right"]


def test_marks_so_far_of_a_long_loop_are_those_of_the_whole(practise, settings) -> None:
    text = EIGHT.replace('"A B"', '"A B A B A B A B A B"')
    hands = slips(*((0, index) for index in (0, 3, 7, 8, 15, 16, 21, 30, 39)), how=wrong)
    desk = play(practise(hands, text=text, keyboard=True, changes={"pattern": "four"}, looks=True), 1)
    so_far, whole = first_pass(desk)[-2:]
    assert len(whole.chords) == 45 and len(so_far.chords) >= 43
    assert so_far.chords == whole.chords[: len(so_far.chords)]
    assert so_far.figures.right == sum(chord.is_right for chord in so_far.chords)
    assert so_far.figures.chords == len(so_far.chords) and so_far.extra == whole.extra[: len(so_far.extra)]


def calls_of_a_pass(practise, bars: int) -> int:
    """How many functions are called while a pass of so many bars is heard and looked at."""
    text = EIGHT.replace('"A B"', '"' + " ".join(["A", "B"] * (bars // 8)) + '"')
    desk = practise(right, "fade", text, keyboard=True)
    hear, tick = desk.practice.hear, desk.practice.tick
    counts = Counter()

    def counted(function):
        def call(argument):
            sys.setprofile(lambda frame, event, arg: counts.update([event]) if event in ("call", "c_call") else None)
            try:
                return (function(argument), desk.practice.live)[0]
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
        "looks": draw(st.booleans()),
        "lead_s": draw(st.sampled_from((0.0, 0.08))),
        # Of each chord in each pass: right, wrong or left out.
        "ways": draw(st.lists(st.sampled_from("rrrrwm"), min_size=7, max_size=23)),
        "passes": draw(st.integers(1, 5)),
    }


@given(stretches())
@hypothesis_settings(max_examples=16, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
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
        desk = Desk(
            practice,
            hands,
            latency_s=latency_ms / 1000,
            lead_s=stretch["lead_s"],
            ticks=stretch["ticks"],
            looks=stretch["looks"],
        )
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


@pytest.mark.parametrize("pulse", [0, 1, 2])
def test_a_sound_process_that_hangs_in_the_last_bar_of_a_pass_breaks_it(practise, log, pulse) -> None:
    """The app's clock runs on while the process is deaf to keys: what it never told of cannot be marked as missing."""
    desk = play(practise(right, "climb", changes={"pattern": "four"}), 1)
    desk.run(until=lambda: desk.turns == 2)
    desk.run(until=lambda: len(desk.lines) % len(desk.practice.stand.loop) == 0)
    beat_s = 60.0 / desk.lines[-1].tempo_bpm
    desk.run(beat_s * (pulse + 0.5))
    drill, whole = desk.practice.drill, log.passes()
    desk.send(desk.practice.tick(desk.now_s + 4 * beat_s))
    assert desk.practice.closes_s is None and desk.practice.drill == drill and log.passes() == whole
    desk.hear(Finished(desk.now_s + 4 * beat_s))
    assert desk.practice.broken is not None and desk.practice.drill == drill
    assert log.passes(broken=True) == [*whole, desk.practice.broken]


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
