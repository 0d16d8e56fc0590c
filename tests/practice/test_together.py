"""Fading and climbing at once, and when a rest is offered."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.practice.drills import climbing, fading
from companion.practice.drills.rest import REST_AFTER_MIN, rest_is_due
from companion.practice.drills.together import after_both

NONE = frozenset()


def drill(passes=0):
    state = fading.start([fading.FadeBar(index, "A", index + 1) for index in range(8)], "cues")
    for _ in range(passes):
        state = fading.after_pass(state, NONE, 1.0)
    return state


def climb(passes=0, start_bpm=60):
    state = climbing.start(start_bpm, 120, probes=False)
    for _ in range(passes):
        state = climbing.after_pass(state, True)
    return state


# fade, climb, slipped, share right -> what moves (rule of our own)
CASES = (
    (drill(), climb(), NONE, 1.0, "cues"),  # on equal terms a cue goes first
    (drill(1), climb(), NONE, 1.0, "tempo"),
    (drill(1), climb(9), NONE, 1.0, "cues"),
    (drill(), climb(), frozenset({3}), 0.5, "tempo"),  # shown, and slipped
    (drill(2), climb(), frozenset({3}), 0.5, "cues"),  # a cue was gone
    (drill(2), climb(), frozenset({3}), 0.9, "tempo"),  # passed: the slip gets its cue, the tempo moves
    (drill(1), climb(), NONE, 0.5, "cues"),  # no bar named, cues went last
    (drill(), climb(), NONE, 0.5, "tempo"),
    (drill(8), climb(), NONE, 0.5, "tempo"),  # the drill is over
    (drill(2), climb(3, 120), NONE, 1.0, "cues"),  # the climb is over
)


@pytest.mark.parametrize(("fade", "ladder", "slipped", "share", "moved"), CASES)
def test_what_moves(fade, ladder, slipped, share, moved):
    both = after_both(fade, ladder, slipped, share)
    assert both.moved == moved
    assert (both.climb == ladder) == (moved == "cues")
    if moved == "tempo":
        assert all(now >= before for before, now in zip(fade.levels, both.fade.levels, strict=True))


def test_a_probe_moves_nothing():
    ladder = climbing.start(60, 600)
    for clean in [True, False] * 6:
        ladder = climbing.after_pass(ladder, clean)
    both = after_both(drill(2), ladder, frozenset({1}), 0.4)
    assert (both.moved, both.fade, both.climb.log_tempo) == ("probe", drill(2), ladder.log_tempo)


# A clean pass moves one of the two. At worst the tempo climbs from the lowest it may fall to by the smallest step, and then holds; each
# bar loses its five cues in a round of its own, and is then played without them.
MOST_PASSES = (
    math.ceil(math.log(120 / (60 * climbing.SLOWEST_SHARE)) / climbing.SMALLEST_STEP)
    + climbing.HOLD_PASSES
    + 8 * fading.FULL
    + fading.CUE_FREE_PASSES
)


@given(st.lists(st.tuples(st.frozensets(st.integers(0, 7), max_size=2), st.sampled_from((1.0, 0.9, 0.5))), max_size=40))
def test_only_one_gets_harder_and_both_arrive(passes):
    fade, ladder = drill(), climb()
    for slipped, share in [*passes, *[(NONE, 1.0)] * MOST_PASSES]:
        both = after_both(fade, ladder, slipped, share)
        hides = any(now < before for before, now in zip(fade.levels, both.fade.levels, strict=True))
        assert not (hides and both.climb.log_tempo > ladder.log_tempo)
        assert both.reason.endswith(".")
        if share == 0.5 and not fade.finished:
            assert not hides and both.climb.log_tempo <= ladder.log_tempo
        fade, ladder = both.fade, both.climb
    assert fade.finished and ladder.finished


def test_a_rest_is_offered_after_25_minutes():
    """Klickstein 2011: about 5 minutes after 25 minutes of practising alone."""
    assert REST_AFTER_MIN == 25
    assert [rest_is_due(minutes) for minutes in (0, 24.9, 25, 60)] == [False, False, True, True]
