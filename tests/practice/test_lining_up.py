"""Hands together: which loop, hand and rhythm comes next; and how hard a bar is to put together."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from companion.errors import LogError
from companion.groove.model import HAND_PARTS, GrooveBar, GrooveChord, Strike
from companion.practice.drills.lining_up import ALONE_PASSES, after_pass, difficulty, from_json, start, to_json
from companion.theory.chord import Chord
from companion.theory.meter import Meter
from companion.theory.symbols import parse_chord

FOUR_FOUR = Meter.parse("4/4")
QUARTER = 960
BOTH = HAND_PARTS
SIXTEEN = tuple(range(16))


def bar(*onsets: Fraction | float, chord: Chord | None = None) -> GrooveBar:
    """A bar of one chord in 4/4, with a melody that strikes at these quarters."""
    chords = (GrooveChord(0, 4 * QUARTER, chord or parse_chord("C6"), (48, 57)),)
    written = tuple(Strike("right", round(onset * QUARTER), QUARTER // 2, (76,)) for onset in onsets)
    return GrooveBar(0, FOUR_FOUR, chords, written)


@pytest.mark.parametrize(
    ("onsets", "pattern", "share"),
    [
        ((0, 1, 2, 3), "four", 0),  # nothing alone
        ((0, 2), "four", 0),  # alone, but on the beat
        ((0, 0.5, 1, 1.5), "four", Fraction(2, 6)),  # two of six moments are a melody's off-beats
        ((0.5, 1.5, 2.5, 3.5), "four", Fraction(4, 8)),
        ((0, 1.5), "charleston", 0),  # the off-beats fall together
        ((0, 1, 2, 3), "charleston", Fraction(1, 5)),  # the left hand's off-beat alone
        ((0.25, 1), "four", 0),  # in the first half of a beat
        ((), "four", 1),
    ],
)
def test_a_bar_is_as_hard_as_its_onsets_alone_between_the_beats(onsets, pattern, share):
    assert difficulty(bar(*onsets), pattern) == pytest.approx(float(share))


def test_it_begins_with_the_easiest_bar_in_the_mastered_pattern():
    state = start(SIXTEEN, "four", [1.0, 0.5, 0.2, 0.2, *[0.9] * 12])
    assert (state.bars, state.pattern, state.hands) == ((2,), "four", "both")
    assert start((4, 5), "two", [0, 0]).patterns == ("two", "whole") and start((4,), "whole", [0]).patterns == (
        "whole",
    )


def clean(state, passes):
    for _ in range(passes):
        state = after_pass(state, ())
    return state


def test_loops_of_one_two_four_and_eight_bars_then_the_whole():
    state = start(SIXTEEN, "four", [0.5] * 5 + [0.1] + [0.5] * 10)
    seen = []
    while not state.finished:
        seen.append(state.bars)
        state = clean(state, 2)
    assert seen == [(5,), (4, 5), (4, 5, 6, 7), tuple(range(8)), SIXTEEN]


@pytest.mark.parametrize("hand", HAND_PARTS)
def test_a_hand_that_slips_goes_alone_for_two_passes_then_both(hand):
    state = after_pass(start(SIXTEEN, "four", [0.0] * 16), (hand,))
    assert (state.hands, state.bars, state.pattern) == (
        hand,
        (0,),
        "four",
    ) and f"The {hand} hand slipped" in state.reason
    for _ in range(ALONE_PASSES):
        assert state.hands == hand
        state = after_pass(state, (hand,))
    assert state.hands == "both" and state.reason == "Both hands again."


def test_where_it_fails_the_pattern_is_easier_and_climbs_back():
    state = start(SIXTEEN, "four", [0.0] * 16)
    state = after_pass(after_pass(state, BOTH), BOTH)
    assert state.pattern == "two"
    state = after_pass(after_pass(state, BOTH), BOTH)
    assert state.pattern == "whole"
    assert after_pass(after_pass(state, BOTH), BOTH).bars == state.bars, "nothing is easier than one bar in whole notes"
    state = clean(state, 2)
    assert (state.pattern, state.bars) == ("two", (0,))
    state = clean(state, 2)
    assert (state.pattern, state.bars) == ("four", (0,))
    assert clean(state, 2).bars == (0, 1)


def test_the_easiest_rhythm_failing_halves_the_loop_to_what_slipped():
    state = replace(start(SIXTEEN, "four", [0.0] * 16), size=3, rung=2)
    state = after_pass(after_pass(state, BOTH, {6}), BOTH, {6})
    assert state.bars == (4, 5, 6, 7) and state.pattern == "whole"
    state = after_pass(after_pass(state, BOTH, {6}), BOTH, {6})
    assert state.bars == (6, 7)


def test_a_failed_pass_between_clean_ones_begins_the_count_again():
    state = clean(start(SIXTEEN, "four", [0.0] * 16), 1)
    state = clean(after_pass(state, BOTH), 1)
    assert state.bars == (0,)
    assert clean(state, 1).bars == (0, 1)


@given(
    st.integers(1, 20),
    st.sampled_from(("four", "two", "whole", "charleston")),
    st.lists(st.sampled_from(((), ("left",), ("right",), BOTH)), max_size=40),
)
@hypothesis_settings(max_examples=25, deadline=None)
def test_whatever_happens_there_is_a_pass_to_play_and_it_can_be_saved(bars, pattern, passes):
    state = start(tuple(range(bars)), pattern, [0.1] * bars)
    for slipped in passes:
        assert set(state.bars) <= set(range(bars)) and len(state.bars) in (1, 2, 4, 8, bars)
        assert from_json(to_json(state)) == state
        state = after_pass(state, slipped, state.bars[:1] if slipped else ())


def test_a_damaged_one_is_told():
    with pytest.raises(LogError, match="lining up of the hands is damaged"):
        from_json(to_json(start((0,), "four", [0.0])).replace('"rung": 0', '"rung": 9'))
