"""One pass as it is collected: which presses are its own, when it closes, what is due; and its line in the log."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import asdict, replace
from datetime import UTC, datetime

import pytest
from desk import put
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from session_songs import EIGHT, FOUR

from companion.chart.loops import loop_key
from companion.groove.timeline import timeline
from companion.practice.marking.expected import expected_strikes, steady_starts
from companion.practice.marking.marks import mark_pass
from companion.practice.model import VERDICTS, Press
from companion.practice.reach import left_hand_ceiling
from companion.session.outcome import Outcome, PlayedPass, make_record, sections_in
from companion.session.passes import CUT_S, TRAVEL_S, PassEar, shell_options

TEMPI = (40.0, 72.5, 120.0, 200.0, 260.0)


def ear_of(stand, tempo_bpm=120.0, latency_s=0.0, bars=None, **options) -> PassEar:
    """An ear on a stand with its bars begun."""
    arrangement = stand.arrangement()
    ear = PassEar(stand, arrangement, latency_s, **options)
    start_s = 10.0
    for bar in arrangement.bars[:bars]:
        ear.bar_began(start_s, tempo_bpm)
        start_s += bar.meter.pulses * 60 / tempo_bpm
    return ear


@pytest.mark.parametrize("pattern", ["four", "two", "whole", "charleston", "late-charleston"])
def test_what_is_due_is_what_is_demonstrated(settings, pattern) -> None:
    """The groove's own timeline, which the player is held against, is the reference."""
    stand = put(EIGHT, settings, pattern=pattern, demonstrate=True, count_in_bars=0)
    whole = timeline(stand.arrangement(), [120])
    shells = [event for event in whole.events if event.part == "left"]
    sounded = sorted(
        zip(whole.seconds(tuple(event.tick for event in shells)), (event.note for event in shells), strict=True)
    )
    due = sorted(
        (mark.expected.due_s - 10.0, note)
        for chord in ear_of(stand).marks().chords
        for mark in chord.strikes
        for note in mark.expected.notes
    )
    assert [note for _, note in due] == [note for _, note in sounded]
    assert [due_s for due_s, _ in due] == pytest.approx([time_s for time_s, _ in sounded], abs=0.001)


@pytest.mark.parametrize("tempo_bpm", TEMPI)
@pytest.mark.parametrize("latency_s", [-0.2, 0.0, 0.05, 0.5])
def test_a_pass_closes_after_its_last_strike_and_before_its_end(settings, tempo_bpm, latency_s) -> None:
    stand = put(EIGHT, settings, pattern="four")
    assert ear_of(stand, tempo_bpm, latency_s, bars=7).closes_s is None
    ear = ear_of(stand, tempo_bpm, latency_s)
    assert ear.is_whole and ear.end_s == pytest.approx(10 + 8 * 4 * 60 / tempo_bpm)
    last = ear.marks().chords[-1].strikes[-1].expected
    assert ear.closes_s == pytest.approx(
        min(last.due_s + last.window_s + latency_s + TRAVEL_S, ear.end_s - CUT_S), abs=0.001
    )


def test_a_loop_without_chords_closes_before_its_end(settings) -> None:
    ear = ear_of(put(FOUR.replace("F6 | D7 | Gm7 | C7", "N.C. | N.C."), settings))
    assert ear.closes_s == ear.end_s - CUT_S and ear.marks().chords == ()
    ear.press(11.0, 60, 64)
    assert ear.marks().figures.extra == 1


def test_a_press_before_the_first_window_or_after_the_last_is_not_of_this_pass(settings) -> None:
    ear = ear_of(put(FOUR, settings), latency_s=0.1)  # strikes at 10, 12, 14 and 16, windows of 0.2 s
    for time_s in (9.6, 9.79, 9.81, 13.0, 16.19, 16.38):  # 9.79 would be a push, if it was the chord
        ear.press(time_s + 0.1, 60, 64)
    assert [press.time_s for press in ear.presses] == pytest.approx([9.79, 9.81, 13.0, 16.19])
    assert 9.79 not in [round(key.time_s, 3) for key in ear.marks().extra]


def test_the_first_chord_pushed_before_the_bar_line_is_of_this_pass(settings) -> None:
    """By half a beat, which is before its window opens; a key beside it is not."""
    ear = ear_of(put(FOUR, settings), latency_s=0.1)
    first = ear.marks().chords[0].strikes[0].expected
    for note in (*first.notes, 40):
        ear.press((9.75 if note != 40 else 9.65) + 0.1, note, 64)
    marks = ear.marks()
    assert (marks.chords[0].verdict, marks.chords[0].reason) == ("early", "push") and not marks.extra
    assert marks.chords[0].offset_ms == pytest.approx(-250.0)


def test_how_long_keys_stay_down_reaches_the_marks(settings) -> None:
    ear = ear_of(put(FOUR, settings), latency_s=0.1)
    low, high = ear.marks().chords[0].strikes[0].expected.notes
    ear.press(9.9, low, 0)  # of a key that was down before
    ear.press(10.1, low, 64)
    ear.press(10.1, high, 64)
    ear.press(10.4, low, 0)
    assert [press.held_s for press in ear.marks().chords[0].strikes[0].keys] == [pytest.approx(0.3), None]


def test_what_the_pass_before_took_is_not_taken_again(settings) -> None:
    ear = ear_of(put(FOUR, settings), after_s=9.9)
    for time_s in (9.85, 9.9, 9.95):
        ear.press(time_s, 53, 64)
    assert [press.time_s for press in ear.presses] == [9.95]


@pytest.mark.parametrize(
    "starts",
    [
        [(10.0, 120.0), (12.0, 60.0), (16.0, 60.0), (20.0, 200.0)],
        [(10.0, 120.0), (12.0, 120.0), (17.5, 120.0), (20.0, 200.0)],
    ],
    ids=["other tempi", "a computer that slept"],
)
def test_bars_that_begin_at_another_time_or_tempo_are_followed(settings, starts) -> None:
    stand = put(FOUR, settings, pattern="four")
    ear = PassEar(stand, stand.arrangement(), 0.0)
    for start_s, tempo_bpm in starts:
        ear.bar_began(start_s, tempo_bpm)
    expected = [mark.expected for chord in ear.marks().chords for mark in chord.strikes]
    assert tuple(expected) == expected_strikes(stand.arrangement(), starts, shell_options(stand))
    assert ear.end_s == pytest.approx(21.2) and ear.tempo_bpm == 200


@given(st.data())
@hypothesis_settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
def test_whatever_is_pressed_the_marks_are_those_of_the_whole(settings, data) -> None:
    """Live marks are the marks of all presses up to then, also where a late chord leads on to the next for a whole chorus."""
    stand = put(EIGHT, settings, pattern=data.draw(st.sampled_from(("four", "whole", "charleston"))))
    arrangement = stand.arrangement()
    ear = PassEar(stand, arrangement, 0.0, own_offset_ms=data.draw(st.sampled_from((None, 0.0))))
    ceiling = left_hand_ceiling(arrangement.bars)
    starts = [(10.0 + 2 * number, 120.0) for number in range(len(arrangement.bars))]
    expected = expected_strikes(arrangement, starts, shell_options(stand))
    offsets = st.sampled_from((0.0, 0.0, 0.0, 0.1, -0.1, 0.149, 0.19, 0.3, -0.25))
    presses = sorted(
        (strike.due_s + data.draw(offsets), note + data.draw(st.sampled_from((0, 0, 0, 0, 1, 12))))
        for strike in expected
        for note in strike.notes
        if data.draw(st.integers(0, 9))
    )
    presses = [press for press in presses if 9.8 < press[0] <= expected[-1].due_s + expected[-1].window_s]
    waiting = iter(presses)
    coming = next(waiting, None)
    for start_s, tempo_bpm in starts:
        ear.bar_began(start_s, tempo_bpm)
        for pulse in range(4):
            until_s = start_s + pulse * 0.5
            while coming is not None and coming[0] <= until_s:
                ear.press(*coming, 64)
                coming = next(waiting, None)
            heard = [Press(*press) for press in presses if press[0] <= until_s]
            options = {"own_offset_ms": ear.own_offset_ms, "from_s": 9.7, "ceiling": ceiling}
            assert ear.marks(until_s) == mark_pass(expected, heard, until_s=until_s, **options)
    while coming is not None:
        ear.press(*coming, 64)
        coming = next(waiting, None)
    assert ear.marks() == mark_pass(expected, [Press(*press) for press in presses], **options)


# --- the line in the log


@pytest.mark.parametrize(
    ("loop", "key"), [((0, 1, 2), "0-2"), ((5,), "5-5"), ((0, 2), "0,2"), ((3, 2), "3,2"), (range(4, 8), "4-7")]
)
def test_a_loop_has_one_key(loop, key) -> None:
    assert loop_key(loop) == key


def test_only_whole_sections_are_named(settings) -> None:
    stand = put(EIGHT.replace('"A B"', '"A A B A"'), settings)
    assert sections_in(stand, range(16)) == ("A", "B")
    assert sections_in(stand, range(4)) == ("A",) and sections_in(stand, range(2, 8)) == ("A",)
    assert sections_in(stand, range(1, 4)) == () and sections_in(stand, (8, 9, 10, 11)) == ("B",)


def test_options_are_the_legal_shells_of_each_chord(settings) -> None:
    stand = put(EIGHT, settings)
    options = shell_options(stand)
    assert set(options) == {(index, number) for index in range(8) for number in range(1 + (index == 6))}
    for (index, number), shells in options.items():
        assert stand.choices_at(index)[number][1].shell.midi in shells


def test_a_record_is_json_safe_with_or_without_marks(settings) -> None:
    stand = put(EIGHT.replace("A7 |", "N.C. |"), settings)
    ear = ear_of(stand)
    ear.press(10.004, 53, 64)
    played = PlayedPass(datetime(2026, 1, 5, tzinfo=UTC), 16.00049, range(8), 120.0, "play")
    for marks in (None, ear.marks()):
        outcome = Outcome("heard", slipped=frozenset({3, 1}), marks=marks)
        heard = make_record(stand, played, outcome, clean=False)
        assert json.loads(json.dumps(asdict(heard), allow_nan=False))["slipped"] == [1, 3]
        assert heard.started_at == "2026-01-05T00:00:00.000+00:00" and heard.duration_s == 16.0
    assert [chord["index"] for chord in heard.chords] == [0, 1, 2, 3, 5, 6, 6, 7]  # nothing is asked where no chord is
    assert all(chord["verdict"] in VERDICTS for chord in heard.chords)
    assert heard.chords[0]["played"] == [53] and heard.chords[0]["offset_ms"] is None


TUNE = """
title = "Both hands"
key = "C"
meter = "4/4"
tempo = 120
feel = "swing"
form = "A"
[section.A]
bars = "Dm7 | G7 | Cmaj7 A7 | N.C."
melody = "f2 ag f4 | (3gab d'2 b4- | b2 g2 a/g/e c2 | z8"
"""
BOTH = ("left", "right")


def both_hands(settings, pattern):
    """The loop with both hands, what is expected of them, and the keys that go down when it sounds."""
    arrangement = replace(put(TUNE, settings, pattern=pattern, count_in_bars=0).arrangement(), parts=BOTH)
    expected = expected_strikes(arrangement, steady_starts(arrangement, 0.0, 120.0), parts=BOTH)
    whole = timeline(arrangement, [120])
    times = whole.seconds([event.tick for event in whole.events])
    return arrangement, expected, [Press(time_s, event.note) for time_s, event in zip(times, whole.events, strict=True)]


@pytest.mark.parametrize("pattern", ["four", "whole", "charleston"])
def test_both_hands_as_they_sound_are_right(settings, pattern) -> None:
    """The groove's own timeline is the player; a note that is held over the bar line is struck once."""
    arrangement, expected, presses = both_hands(settings, pattern)
    marks = mark_pass(expected, presses, ceiling=left_hand_ceiling(arrangement.bars))
    assert {chord.part for chord in marks.chords} == set(BOTH)
    assert [chord.verdict for chord in marks.chords] == ["right"] * len(marks.chords) and not marks.extra
    counted = Counter(strike.expected.part for chord in marks.chords for strike in chord.strikes)
    assert counted["right"] == 4 + 5 + 5  # the heads in each bar of the tune above, the tied one once
    assert sum(len(strike.notes) for strike in expected) == len(presses)


def test_a_slip_of_one_hand_is_not_the_others(settings) -> None:
    arrangement, expected, presses = both_hands(settings, "whole")
    ceiling = left_hand_ceiling(arrangement.bars)
    sung = next(strike for strike in expected if strike.part == "right")
    slipped = [
        Press(press.time_s, press.note + (press.note == sung.notes[0] and press.time_s == 0.0)) for press in presses
    ]
    wrong = [chord for chord in mark_pass(expected, slipped, ceiling=ceiling).chords if not chord.is_right]
    assert [(chord.part, chord.index, chord.verdict) for chord in wrong] == [("right", 0, "wrong")]
    low = [press for press in presses if press.note > ceiling]
    missed = [chord for chord in mark_pass(expected, low, ceiling=ceiling).chords if not chord.is_right]
    assert {(chord.part, chord.verdict) for chord in missed} == {("left", "missing")}
