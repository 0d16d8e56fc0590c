"""Fingers of the left hand: common practice, lower note first."""

from collections import Counter
from itertools import groupby, product
from statistics import mode

import pytest
from hypothesis import example, given
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


def test_the_same_shell_keeps_its_fingers_where_it_comes_again_later():
    """Dm7 Gm7 Dm7 A7 Dm7 (common practice): no note is held from A7, and Dm7 is 3-1 there as it was before."""
    d, g, a = (50, 53), (43, 53), (45, 55)
    assert fingers_for([d, g, d, a, d]) == ["3-1", "5-1", "3-1", "5-1", "3-1"]
    assert fingers_for([a, d]) == ["5-1", "4-2"], "where it comes once it is taken in the usual way"
    assert fingers_for([d, a, d, a, d, g]) == ["3-1", "5-1"] * 3, "as the one held note asks, wherever it is free"


@example(
    [(52, 58), (52, 58), (52, 55), (52, 55), (46, 53), (46, 53), (52, 58)]
)  # at the end nothing is held: as mostly
@example([(49, 55), (49, 55), (53, 59), (49, 52), (49, 55)])  # at the end C sharp is held by the fourth finger
@given(PAIRS)
def test_another_fingering_of_a_shell_has_a_held_note_for_its_reason(line):
    """Whichever run of one shell is given the fingers that the shell mostly has: more held notes would change their finger."""
    found = fingers_for(line)
    mostly = {shell: mode(f for at, f in zip(line, found, strict=True) if at == shell) for shell in line}
    for shell, places in groupby(range(len(line)), line.__getitem__):
        places = list(places)
        if Counter(f for at, f in zip(line, found, strict=True) if at == shell).most_common()[0][1] * 2 <= line.count(
            shell
        ):
            continue  # as often the one as the other
        if found[places[0]] != mostly[shell]:
            alike = [mostly[shell] if at in places else each for at, each in enumerate(found)]
            assert _swaps(line, alike) > _swaps(line, found)


def _swaps(line, fingers):
    return sum(changes(*line[i : i + 2], *fingers[i : i + 2]) for i in range(len(line) - 1))


def test_the_little_finger_may_play_every_root():
    line = [(48, 52), (50, 53), (43, 53), (53, 58), (52, 54)]
    assert all(fingers.startswith("5-") for fingers in fingers_for(line, little_finger=True))
    assert not all(fingers.startswith("5-") for fingers in fingers_for(line))


@given(PAIRS)
def test_no_fingering_changes_fewer_held_fingers(line):
    found = fingers_for(line)
    assert all(chosen in fingerings_for(upper - lower) for chosen, (lower, upper) in zip(found, line, strict=True))
    every = product(*(fingerings_for(b - a) for a, b in line))
    assert _swaps(line, found) == min(_swaps(line, tried) for tried in every)
