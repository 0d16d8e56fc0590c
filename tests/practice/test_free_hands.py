"""Free time for the right hand and for both: what is due together is waited for together, what is due alone alone."""

from __future__ import annotations

import pytest

from companion.practice.drills.free_time import (
    STAGES,
    Target,
    hands_targets,
    key_down,
    key_up,
    next_stage,
    start_waiting,
)

# A shell with the first note of the melody, a note of the melody alone, a shell alone.
TOGETHER = Target(0, 0, (50, 60, 77), (77,))
MELODY = Target(0, 0, (76,), (76,))
SHELL = Target(0, 1, (43, 59))


def played(state, *moves):
    for time_s, note in moves:
        state = key_down(state, time_s, note) if note > 0 else key_up(state, -note)
    return state


def both(*targets):
    return start_waiting(targets or (TOGETHER, MELODY, SHELL), 0.0, ceiling=65, hands="both")


def test_what_is_due_together_left_alone_and_right_alone():
    state = played(both(), (1.0, 77))
    assert state.target == TOGETHER
    state = played(state, (1.05, 50), (1.08, 60))
    assert state.target == MELODY and state.found[0].extra == ()
    state = played(state, (2.0, -77), (2.1, 76))
    assert state.target == SHELL, "the shell may be held meanwhile"
    state = played(state, (3.0, -50), (3.0, -60), (3.1, 43), (3.12, 59))
    assert state.is_over and all(each.extra == () for each in state.found)


@pytest.mark.parametrize("late_s", [-0.08, -0.02, 0.0, 0.05, 0.08])
def test_how_the_hands_lay_is_left_minus_right(late_s):
    moves = sorted([(1.0, 77), (1.0 + late_s, 50), (1.0 + late_s, 60)])
    found = played(both(), *moves).found[0]
    assert found.apart_ms == pytest.approx(1000.0 * late_s)
    assert played(both(SHELL), (1.0, 43), (1.0, 59)).found[0].apart_ms is None


def test_the_same_note_of_a_melody_is_struck_again():
    state = played(both(MELODY, MELODY), (1.0, 76))
    assert len(state.found) == 1
    assert played(state, (1.5, -76), (1.6, 76)).is_over
    assert not played(state, (1.5, 43)).is_over, "held on is not struck"


def test_the_shell_may_be_struck_again_under_the_melody():
    state = played(both(), (1.0, 77), (1.0, 50), (1.0, 60), (1.5, -50), (1.5, -60), (1.6, 50), (1.6, 60), (2.0, 76))
    assert [each.extra for each in state.found] == [(), ()]


def test_wrong_keys_of_either_hand_are_counted_and_graces_are_not():
    state = played(both(), (1.0, 51), (1.5, -51), (2.0, 79), (2.5, -79), (3.0, 77), (3.0, 50), (3.0, 60))
    assert state.found[0].extra == (51, 79)
    state = played(both(MELODY), (1.0, 75), (1.06, 76))
    assert state.found[0].extra == () and state.found[0].along == ()
    state = played(both(MELODY), (1.0, 75), (1.4, 76))
    assert state.found[0].extra == (75,)


def test_the_right_hand_alone_is_not_marked_by_the_left():
    state = start_waiting((MELODY, Target(0, 0, (77,), (77,))), 0.0, ceiling=65, hands="right")
    state = played(state, (0.5, 50), (0.5, 60), (1.0, 74), (1.2, 76), (2.0, 77), (2.1, 43))
    assert state.is_over and [each.extra for each in state.found] == [(74,), ()]


def test_chord_by_chord_first_then_bar_by_bar():
    assert [next_stage("chords", share) for share in (0.5, 0.85, 1.0)] == ["chords", "bars", "bars"]
    assert [next_stage("bars", share) for share in (0.4, 0.5, 1.0)] == ["chords", "bars", "bars"]


@pytest.fixture
def bars(settings):
    from desk import put
    from session_songs import SUNG_FOUR

    return put(SUNG_FOUR, settings).arrangement().bars


def test_the_moments_of_each_stage(bars):
    """A tied note is struck once; a note off the beat stands by itself; each chord has its shell and the first note over it."""
    chords, whole = (hands_targets(bars, "both", stage) for stage in STAGES)
    assert [(each.index, len(each.left), len(each.right)) for each in chords] == [
        (0, 2, 1),
        (1, 2, 1),
        (2, 2, 1),
        (3, 2, 1),
    ]
    per_bar = [[(len(each.left), len(each.right)) for each in whole if each.index == bar] for bar in range(4)]
    assert per_bar == [
        [(2, 1), (0, 1), (0, 1)],
        [(2, 1), (0, 1), (0, 1)],
        [(2, 0), (0, 1), (0, 1)],
        [(2, 1), (0, 1)],
    ]
    alone = hands_targets(bars, "right", "chords")
    assert [each.right for each in alone] == [each.right for each in whole if each.right]
    assert not any(each.left for each in alone)
