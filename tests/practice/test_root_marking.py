"""Whole chords heard: together, broken, with other keys, from any octave, and in time with the click."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.hands.root_position import basic_degrees, close_chord
from companion.practice.marking.root_position import (
    APART,
    LIFT,
    LOWEST,
    OCTAVE,
    OPEN,
    ORDER,
    OTHER,
    TOGETHER_S,
    all_up,
    is_of_last,
    key_down,
    key_up,
    opens_s,
    start_hearing,
    timed_verdict,
)
from companion.theory.symbols import parse_chord

G7 = (55, 59, 62, 65)


def struck(state, *keys: tuple[int, float]):
    """Keys that go down: (note, second)."""
    for note, time_s in keys:
        state = key_down(state, time_s, note)
    return state


def at(time_s: float, *notes: int):
    return [(note, time_s) for note in notes]


def released(state):
    for note in state.down:
        state = key_up(state, note)
    return state


def test_all_keys_together_with_the_root_lowest() -> None:
    found = struck(start_hearing([G7], 10.0), *at(11.5, *G7))
    assert found.is_found and found.find_s == pytest.approx(1.5)
    assert (found.wrong, found.rolled, found.shift, found.said) == ((), 0, 0, "")


@pytest.mark.parametrize("octaves", [-2, -1, 1, 2])
def test_any_octave_will_do(octaves: int) -> None:
    found = struck(start_hearing([G7], 0.0), *at(1.0, *(note + 12 * octaves for note in G7)))
    assert found.is_found and found.shift == 12 * octaves and not found.wrong


def test_the_spread_is_the_line_between_together_and_apart() -> None:
    """Under 80 ms is together."""
    within = struck(start_hearing([G7], 0.0), (55, 1.0), (65, 1.02), (59, 1.05), (62, 1.079))
    assert within.is_found and within.spread_s == pytest.approx(0.079) and within.find_s == pytest.approx(1.0)
    rolled = struck(start_hearing([G7], 0.0), (55, 1.0), (59, 1.03), (62, 1.06), (65, 1.09))
    assert (rolled.is_found, rolled.said, rolled.rolled, rolled.wrong) == (False, APART, 1, ())
    again = struck(released(rolled), *at(2.0, *G7))
    assert again.is_found and again.find_s == pytest.approx(2.0)


def test_a_chord_built_key_by_key_is_struck_once_more() -> None:
    built = struck(start_hearing([G7], 0.0), (55, 1.0), (59, 2.0), (62, 3.5), (65, 5.0))
    assert (built.is_found, built.said, built.wrong) == (False, APART, ())


def test_a_wrong_key_is_told_and_counted_once() -> None:
    state = struck(start_hearing([G7], 0.0), *at(1.0, 55, 59, 62), (66, 1.01))
    assert (state.said, state.note, state.wrong, state.is_found) == (OTHER, 66, (66,), False)
    found = struck(released(state), *at(2.0, *G7))
    assert found.is_found and found.wrong == (66,)


def test_a_key_brushed_along_does_not_hinder_and_counts() -> None:
    state = struck(start_hearing([G7], 0.0), *at(1.0, 55, 59, 62), (61, 1.01), (65, 1.02))
    assert state.is_found and state.wrong == (61,)


def test_another_note_lowest_is_an_inversion() -> None:
    state = struck(start_hearing([G7], 0.0), *at(1.0, 59, 62, 65, 67))
    assert (state.is_found, state.said, state.note) == (False, LOWEST, 59)
    first = close_chord(parse_chord("G7"), "right", 1).midi
    assert struck(start_hearing([first], 0.0), *at(1.0, 59, 62, 65, 67)).is_found
    wrong = struck(start_hearing([first], 0.0), *at(1.0, *G7))
    assert (wrong.is_found, wrong.said, wrong.note) == (False, LOWEST, 55)


def test_the_right_notes_spread_over_the_keyboard_are_not_close() -> None:
    state = struck(start_hearing([G7], 0.0), *at(1.0, 43, 59, 62, 65))
    assert (state.is_found, state.said) == (False, OPEN)


def test_a_melody_on_top_and_a_bass_below_are_left_alone() -> None:
    """G7 in the left hand, from G3 to F4, with tones of the chord and others far above and below."""
    melody = struck(start_hearing([G7], 0.0), (86, 0.5), (83, 0.9), (85, 0.95))
    assert (melody.wrong, melody.said) == ((), "")
    found = struck(melody, (59, 1.0), (62, 1.0), (65, 1.01), (88, 1.02), (55, 1.03))
    assert found.is_found and not found.wrong
    assert not is_of_last(start_hearing([(48, 52, 55)], 1.0), found, 1.03, 1.05, 90)
    assert is_of_last(start_hearing([(48, 52, 55)], 1.0), found, 1.03, 1.05, 66)
    assert struck(start_hearing([G7], 0.0), (31, 0.9), *at(1.0, *G7)).is_found
    broken = struck(start_hearing(BROKEN, 0.0), (55, 1.0), (85, 1.5), (59, 2.0), (62, 3.0), (30, 3.2), (65, 4.0))
    assert broken.is_found and not broken.wrong


def test_keys_that_are_held_still_are_struck_anew() -> None:
    c7, f7 = (48, 52, 55, 58), (53, 57, 60, 63)
    state = start_hearing([(48, 52, 55, 57)], 0.0, down=c7)  # C6 after C7: three common tones
    held = struck(state, (57, 0.5))
    assert (held.is_found, held.said, held.wrong) == (False, LIFT, ())
    found = struck(released(held), *at(1.0, 48, 52, 55, 57))
    assert found.is_found
    assert struck(start_hearing([f7], 0.0, down=c7), *at(1.0, *f7)).is_found, "others that are held say nothing"


def test_a_lost_keyboard_holds_nothing() -> None:
    state = all_up(struck(start_hearing([G7], 0.0), *at(1.0, 55, 59, 62)))
    assert state.down == frozenset() and not struck(state, (65, 1.02)).is_found


def test_keys_after_the_chord_change_nothing() -> None:
    found = struck(start_hearing([G7], 0.0), *at(1.0, *G7))
    assert struck(found, (66, 1.5)).wrong == () and 66 in struck(found, (66, 1.5)).down


BROKEN = tuple((note,) for note in G7)


def test_broken_from_the_lowest_up_in_any_octave_and_at_any_pace() -> None:
    for shift in (-12, 0, 24):
        state = start_hearing(BROKEN, 0.0)
        for number, note in enumerate(G7):
            assert state.step == number and not state.is_found
            state = struck(state, (note + shift, 1.0 + number * 0.9))
        assert state.is_found and state.find_s == pytest.approx(1.0) and not state.wrong


def test_broken_in_another_order_or_with_another_key() -> None:
    state = struck(start_hearing(BROKEN, 0.0), (55, 1.0), (62, 2.0))
    assert (state.said, state.step, state.wrong) == (ORDER, 1, (62,))
    state = struck(state, (58, 3.0))
    assert (state.said, state.note, state.notes) == (OTHER, 58, (59,))
    state = struck(state, (71, 3.5))
    assert (state.said, state.step) == (OCTAVE, 1)
    found = struck(state, (59, 4.0), (62, 5.0), (65, 6.0))
    assert found.is_found and found.wrong == (62, 58, 71)


def test_broken_begun_again_from_the_lowest() -> None:
    state = struck(start_hearing(BROKEN, 0.0), (55, 1.0), (59, 2.0), (67, 5.0))
    assert (state.step, state.shift, state.wrong, state.find_s) == (1, 12, (), pytest.approx(5.0))
    assert struck(state, (71, 6.0), (74, 7.0), (77, 8.0)).is_found


def test_a_note_struck_twice_is_no_slip() -> None:
    state = struck(start_hearing(BROKEN, 0.0), (55, 1.0), (59, 2.0))
    state = struck(key_up(state, 59), (59, 2.2))
    assert (state.step, state.wrong) == (2, ())


def test_the_chord_and_then_its_shell() -> None:
    state = struck(start_hearing([G7, (43, 53)], 0.0), *at(1.0, *G7))
    assert state.step == 1 and not state.is_found and state.notes == (43, 53)
    wrong = struck(state, *at(3.0, 43, 52))
    assert (wrong.said, wrong.wrong) == (OTHER, (52,))
    assert struck(released(wrong), *at(4.0, 43, 53)).is_found
    assert struck(released(state), *at(4.0, 55, 65)).is_found, "an octave higher"


def test_what_is_left_under_keys_that_are_held_is_struck_anew() -> None:
    state = struck(start_hearing([(50, 53, 57, 60), (50, 53)], 0.0), *at(1.0, 50, 53, 57, 60))
    state = struck(key_up(state, 53), (53, 2.0))
    assert (state.said, state.is_found) == (LIFT, False)
    assert struck(released(state), *at(3.0, 50, 53)).is_found


def test_a_key_brushed_a_moment_later_belongs_to_the_chord_before() -> None:
    found = struck(start_hearing([G7], 0.0), *at(1.0, *G7))
    following = start_hearing([(48, 52, 55)], 1.0, down=found.down)
    assert is_of_last(following, found, 1.0, 1.03, 66)
    assert not is_of_last(following, found, 1.0, 1.03, 64)  # a tone of the chord to come
    assert not is_of_last(following, found, 1.0, 1.0 + TOGETHER_S + 0.01, 66)


SYMBOLS = ("C", "F#m", "Bb7", "Ebmaj7", "Am7b5", "Gdim7", "D6", "Csus4", "A7sus4", "Ebm6", "C5", "Caug")


@given(st.integers(0, 2**32), st.sampled_from(SYMBOLS), st.integers(0, 3), st.sampled_from([-12, 0, 12]))
@settings(max_examples=25)
def test_a_chord_counts_exactly_where_its_keys_are_right_and_together(seed: int, symbol: str, turn: int, shift: int):
    """Against a marker of one line that sees the whole stroke at once."""
    dice = random.Random(seed)
    chord = parse_chord(symbol)
    due = close_chord(chord, "left", turn % len(basic_degrees(chord))).midi
    keys = {note + shift: 1.0 + dice.uniform(0, 0.11) for note in due}
    if dice.random() < 0.5:
        keys[dice.choice(sorted(keys)) + dice.choice([-12, 12, 1, -1])] = 1.0 + dice.uniform(0, 0.11)
    if dice.random() < 0.3:
        del keys[dice.choice(sorted(keys))]
    shifts = [k for k in (-24, -12, 0, 12, 24) if all(note + k in keys for note in due)]
    times = [[keys[note + k] for note in due] for k in shifts]
    expected = any(max(each) - min(each) <= TOGETHER_S for each in times)
    state = struck(start_hearing([due], 0.0), *sorted(keys.items(), key=lambda key: key[1]))
    assert state.is_found == expected
    if state.is_found:
        foreign = [note for note in keys if note % 12 not in {each % 12 for each in due}]
        assert set(state.wrong) <= set(keys) and {note for note in foreign if keys[note] <= 1.0} <= set(state.wrong)


# --- in time with the click: a beat of a second, in time within a tenth of it (timing.TOLERANCES, "strike")


@pytest.mark.parametrize(
    ("keys", "verdict"),
    [
        (at(10.0, *G7), "right"),
        (at(10.09, *G7), "right"),
        (at(10.2, *G7), "late"),
        (at(9.7, *G7), "early"),
        ([(55, 9.97), (59, 10.0), (62, 10.02), (65, 10.04)], "right"),
        ([(55, 10.0), (59, 10.05), (62, 10.1), (65, 10.15)], "rolled"),
        (at(10.0, 55, 59, 62, 66), "wrong"),
        (at(10.0, 59, 62, 65, 67), "wrong"),
        (at(10.0, 55), "wrong"),
        ([], "missing"),
    ],
)
def test_verdicts_in_time(keys, verdict: str) -> None:
    state = struck(start_hearing([G7], 10.0), *keys)
    assert timed_verdict(state, 1.0)[0] == verdict
    assert opens_s(10.0, 1.0) == 9.5


def test_what_was_mended_in_time_is_wrong_and_has_its_time() -> None:
    state = struck(start_hearing([G7], 10.0), *at(10.0, 55, 59, 62, 66))
    verdict, off_ms = timed_verdict(struck(released(state), *at(10.4, *G7)), 1.0)
    assert verdict == "wrong" and off_ms == pytest.approx(400)
