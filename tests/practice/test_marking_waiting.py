import pytest
from groove.loops import loop
from hypothesis import given
from hypothesis import strategies as st

from companion.practice.drills.free_time import Target, all_up, key_down, key_up, start_waiting, targets_of

DM7, G7, CMAJ7 = Target(0, 0, (50, 60)), Target(1, 0, (43, 59)), Target(2, 0, (48, 59))


def played(state, *moves):
    """Moves as (second, note), a note-off as (second, -note)."""
    for time_s, note in moves:
        state = key_down(state, time_s, note) if note > 0 else key_up(state, -note)
    return state


def test_it_waits_for_both_notes_and_measures_the_hesitation():
    state = start_waiting((DM7, G7), 10.0)
    state = played(state, (11.0, 50))
    assert state.target == DM7
    state = played(state, (11.5, 60))
    assert state.target == G7 and state.found[0].hesitation_s == 1.5
    state = played(state, (12.0, -50), (12.0, -60), (13.0, 59), (13.25, 43))
    assert state.is_over and [found.hesitation_s for found in state.found] == [1.5, 1.75]


def test_both_must_be_held_at_once():
    state = played(start_waiting((DM7,), 0.0), (1.0, 50), (1.2, -50), (1.4, 60))
    assert state.target == DM7
    assert played(state, (1.6, 50)).is_over


def test_other_keys_do_no_harm_and_are_counted():
    state = played(start_waiting((DM7, G7), 0.0), (1.0, 51), (1.1, 50), (1.2, 60), (2.0, 43), (2.1, 59))
    assert state.is_over and [found.extra for found in state.found] == [(51,), ()]


def test_the_right_hand_is_left_out_but_for_the_shell_an_octave_higher():
    state = start_waiting((DM7, G7), 0.0, ceiling=65)
    state = played(state, (1.0, 72), (1.1, 76), (1.2, 50), (1.3, 60))
    assert state.found[0].extra == ()
    state = played(state, (2.0, 55), (2.1, 71), (2.2, -55), (2.3, 43), (2.4, 59))
    assert state.is_over and state.found[1].extra == (55, 71)


def test_a_common_tone_may_stay_down_but_the_same_shell_is_struck_again():
    state = played(start_waiting((G7, CMAJ7, CMAJ7), 0.0), (1.0, 43), (1.0, 59), (2.0, -43), (2.5, 48))
    assert len(state.found) == 2 and state.target == CMAJ7
    state = played(state, (3.0, 64))
    assert state.target == CMAJ7
    assert played(state, (3.2, -48), (3.4, 48)).is_over


def test_a_keyboard_unplugged_holds_nothing():
    state = all_up(played(start_waiting((DM7,), 0.0), (1.0, 50)))
    assert not played(state, (2.0, 60)).is_over


def test_keys_after_the_end_change_nothing():
    state = played(start_waiting((DM7,), 0.0), (1.0, 50), (1.0, 60))
    assert key_down(state, 2.0, 50) == state
    assert start_waiting((), 0.0).is_over


def test_where_no_chord_is_played_nothing_is_waited_for():
    assert [(target.index, target.chord) for target in targets_of(loop("Dm7 G7 | N.C. | C6"))] == [
        (0, 0),
        (0, 1),
        (2, 0),
    ]


@given(st.lists(st.tuples(st.sampled_from((43, 48, 50, 59, 60, 64)), st.booleans()), max_size=60))
def test_any_playing_goes_forward_only_on_the_held_shell(moves):
    state = start_waiting((DM7, G7, CMAJ7), 0.0)
    held = set()
    for second, (note, is_down) in enumerate(moves, 1):
        before = state
        if is_down:
            held.add(note)
            state = key_down(state, float(second), note)
        else:
            held.discard(note)
            state = key_up(state, note)
        if len(state.found) > len(before.found):
            assert held.issuperset(before.target.notes) and is_down
            assert len(state.found) == len(before.found) + 1
        else:
            assert state.is_over or not (
                is_down and note in before.target.notes and held.issuperset(before.target.notes)
            )
    assert sum(found.hesitation_s for found in state.found) == pytest.approx(state.since_s)
