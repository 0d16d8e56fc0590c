"""Which change is to be practised by itself."""

from __future__ import annotations

import pytest

from companion.practice.marking.worst import Try, bars_around, worst_change


def passes(*rows: dict[int, str]) -> list[list[Try]]:
    """Each pass by its bars; four bars, right where nothing else is said."""
    return [[Try((index, 0), row.get(index, "right")) for index in range(4)] for row in rows]


@pytest.mark.parametrize(
    ("rows", "place"),
    [
        ([{}], None),
        ([{2: "late"}], (2, 0)),
        ([{2: "late", 3: "wrong"}], (3, 0)),  # the worse verdict of two that slipped as often
        ([{2: "late"}, {2: "late", 3: "missing"}], (2, 0)),  # twice of two before once of two
        ([{2: "late"}, {2: "late"}, {3: "late"}], (3, 0)),  # what is over by now is not practised
        ([{2: "late"}, {}], None),
        ([{1: "wrong", 2: "wrong"}], (1, 0)),  # the earlier of two alike
        ([], None),
    ],
)
def test_the_change_that_slips_most_and_slipped_last(rows, place) -> None:
    assert worst_change(passes(*rows)) == place


def test_of_two_late_ones_the_later() -> None:
    assert worst_change([[Try((0, 0), "late", 90.0), Try((1, 0), "late", 240.0)]]) == (1, 0)


def test_a_habit_found_there_comes_first() -> None:
    rows = passes({1: "late", 2: "missing"})
    assert worst_change(rows, [(3, 0), (1, 0)]) == (1, 0)


@pytest.mark.parametrize(
    ("loop", "index", "bars"),
    [
        (range(8), 5, (4, 5)),
        (range(8), 0, (7, 0)),  # the loop goes round
        ((3, 4, 5), 3, (5, 3)),
        ((3, 4), 4, ()),  # no less than the loop
        ((3,), 3, ()),
        (range(8), 9, ()),
    ],
)
def test_the_bar_before_belongs_to_the_change(loop, index, bars) -> None:
    assert bars_around(tuple(loop), index) == bars
