"""Fingers of the left hand: common practice, lower note first."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.hands.fingering import FINGERINGS, changes, fingerings_for, fingers_for

PAIRS = st.lists(st.tuples(st.integers(40, 53), st.integers(1, 16)).map(lambda pair: (pair[0], sum(pair))), max_size=8)


@pytest.mark.parametrize("row", FINGERINGS, ids=str)
def test_every_row_can_be_played(row):
    """Fingers never cross, and the wider the interval the wider the fingers."""
    narrowest, widest, fingerings = row
    for fingering in fingerings:
        lower, upper = (int(finger) for finger in fingering.split("-"))
        assert 5 >= lower > upper >= 1
        assert narrowest <= widest
        if narrowest >= 7:
            assert lower - upper >= 3
        elif narrowest >= 3:
            assert lower - upper >= 2


def test_the_rows_cover_every_interval_once():
    covered = [size for narrowest, widest, _ in FINGERINGS for size in range(narrowest, widest + 1)]
    assert covered == list(range(1, 25))


@pytest.mark.parametrize(
    ("interval", "fingers"),
    [
        (2, "2-1"),
        (3, "4-2"),
        (4, "4-2"),
        (5, "5-2"),
        (7, "5-1"),
        (9, "5-1"),
        (10, "5-1"),
        (11, "5-1"),
        (12, "5-1"),
    ],
)
def test_the_usual_fingering(interval, fingers):
    assert fingerings_for(interval)[0] == fingers
    assert fingers_for([(48, 48 + interval)]) == [fingers]


def test_a_held_note_keeps_its_finger_where_the_hand_allows():
    """D3 F3 to G2 F3: the thumb takes F from the start, for a seventh is played 5-1. C3 G3 to C3 E3: 5 holds C."""
    assert fingers_for([(50, 53), (43, 53)]) == ["3-1", "5-1"]
    assert fingers_for([(48, 55), (48, 52)]) == ["5-1", "5-3"]


def test_the_same_shell_again_is_fingered_the_same():
    assert fingers_for([(48, 52)] * 3) == ["4-2"] * 3


def test_the_little_finger_may_play_every_root():
    line = [(48, 52), (50, 53), (43, 53), (53, 58), (52, 54)]
    assert all(fingers.startswith("5-") for fingers in fingers_for(line, little_finger=True))
    assert not all(fingers.startswith("5-") for fingers in fingers_for(line))


@given(PAIRS)
def test_no_fingering_changes_fewer_held_fingers(line):
    found = fingers_for(line)
    assert all(chosen in fingerings_for(upper - lower) for chosen, (lower, upper) in zip(found, line, strict=True))

    def swaps(fingers):
        return sum(changes(line[i], line[i + 1], fingers[i], fingers[i + 1]) for i in range(len(line) - 1))

    assert swaps(found) == min(swaps(tried) for tried in product(*(fingerings_for(b - a) for a, b in line)))
