"""Recall over days, against the figures of the `fsrs` library (6.3.2, run once and written down) and its published
formula."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta, timezone

import pytest

from companion.errors import LogError
from companion.practice.drills.recall import (
    FROM_SYMBOLS,
    NOT_RECALLED,
    chance,
    due,
    from_json,
    grade_card,
    new_card,
    rating,
    review,
    strength,
)

NOW = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)
DAY = timedelta(days=1)
# Seven reviews "good", each when it is due: days to the next one (after ten minutes first), and the stability after each.
GOOD_DAYS = (2, 11, 46, 163, 498, 1348)
GOOD_STABILITY = (2.3065, 2.3065, 10.971, 46.3169, 162.9998, 497.8766, 1347.9186)
FIRST = {"again": (0.212, 6.4133), "hard": (1.2931, 5.1122), "good": (2.3065, 2.1181)}  # stability, difficulty
# Chance of recall after so many times the stability.
CHANCES = ((0, 1.0), (0.5, 0.94034), (1, 0.9), (2, 0.84588), (4, 0.78213), (10, 0.69283))


def memory(card):
    return json.loads(card.to_json())["card"]


def recalled(times, grade="good"):
    card, now = new_card("ferry", "A", NOW), NOW
    for _ in range(times):
        card = grade_card(card, grade, now)
        now = card.due_at
    return card


def test_from_symbols_the_symbols_are_no_help():
    """The table of the module: 0.6 is a chord symbol in every bar, above 0.7 the notes were read."""
    grades = [rating(share, cues, memory=FROM_SYMBOLS) for share in (1.0, 0.9) for cues in (0.6, 0.7, 0.71)]
    assert grades == ["good", "hard", None, "hard", "hard", None]
    assert rating(0.8, 0.6, memory=FROM_SYMBOLS) == "again" and rating(0.8, 0.6, True, FROM_SYMBOLS) is None
    assert rating(1.0, 0.6) is None, "of what goes from memory it says nothing"


def test_good_seven_times_gives_the_published_days():
    card, now, days = new_card("ferry", "A", NOW), NOW, []
    for stability in GOOD_STABILITY:
        card = grade_card(card, "good", now)
        days.append((card.due_at - now) / DAY)
        assert memory(card)["stability"] == pytest.approx(stability, abs=5e-4)
        now = card.due_at
    assert days == [pytest.approx(10 / 24 / 60), *GOOD_DAYS]
    lost = grade_card(card, "again", now)
    assert memory(lost)["stability"] == pytest.approx(9.4514, abs=5e-4)
    assert lost.due_at - now == timedelta(minutes=10)


@pytest.mark.parametrize("grade", FIRST)
def test_the_first_review(grade):
    stability, difficulty = FIRST[grade]
    card = recalled(1, grade)
    assert memory(card)["stability"] == pytest.approx(stability)
    assert memory(card)["difficulty"] == pytest.approx(difficulty, abs=1e-4)


@pytest.mark.parametrize(("times", "expected"), CHANCES)
def test_the_chance_of_recall_follows_the_published_curve(times, expected):
    card = recalled(2)
    reviewed_at = datetime.fromisoformat(memory(card)["last_review"])
    assert chance(card, reviewed_at + times * memory(card)["stability"] * DAY) == pytest.approx(expected, abs=1e-5)


def test_the_chance_falls_within_the_day_and_equals_the_librarys_on_whole_days():
    from fsrs import Card, Scheduler

    card = recalled(3)
    reviewed_at = datetime.fromisoformat(memory(card)["last_review"])
    assert chance(card, reviewed_at + DAY / 2) < chance(card, reviewed_at + DAY / 4) < 1
    for days in (0, 1, 5, 40):
        theirs = Scheduler().get_card_retrievability(Card.from_dict(memory(card)), reviewed_at + days * DAY)
        assert chance(card, reviewed_at + days * DAY) == pytest.approx(theirs)


@pytest.mark.parametrize(
    ("share", "cues", "new", "grade"),
    [
        (1.0, 0.0, False, "good"),
        (0.95, 0.2, False, "good"),
        (0.94, 0.0, False, "hard"),
        (0.85, 0.2, False, "hard"),
        (1.0, 0.21, False, "hard"),
        (1.0, 0.4, True, "hard"),
        (1.0, 0.41, False, None),
        (0.84, 0.0, False, "again"),
        (0.84, 1.0, False, "again"),
        (0.84, 0.0, True, None),
        (1.0, 1.0, True, None),
    ],
)
def test_what_a_pass_amounts_to(share, cues, new, grade):
    assert rating(share, cues, new) == grade


def test_a_pass_with_cues_is_no_recall():
    card = recalled(2)
    assert review(card, 1.0, 0.6, NOW + DAY) is card
    assert review(card, 1.0, 0.0, NOW + 2 * DAY).due_at > card.due_at


def test_what_is_due_and_how_it_is_called():
    sure, new = recalled(4), new_card("ferry", "B", NOW)
    weak = grade_card(new_card("lamp", "A", NOW), "good", NOW)
    assert due([sure, new, weak], NOW) == []
    later = sure.due_at + DAY
    assert due([sure, new, weak], later) == [weak, sure]
    assert strength(new, NOW) == NOT_RECALLED
    assert [strength(weak, NOW + timedelta(days=days)) for days in (0, 5, 30, 2000)] == [
        "firm",
        "loosening",
        "shaky",
        "nearly lost",
    ]


def test_a_card_comes_back_as_it_was():
    for card in (
        new_card("ferry", "A", NOW),
        recalled(1),
        recalled(3),
        grade_card(recalled(3), "again", NOW + 30 * DAY),
    ):
        assert from_json(card.to_json()) == card


def test_the_same_reviews_give_the_same_card():
    assert recalled(5) == recalled(5)


def test_times_are_in_utc():
    for moment in (datetime(2026, 3, 1), datetime(2026, 3, 1, tzinfo=timezone(timedelta(hours=1)))):
        for call in (lambda m: new_card("ferry", "A", m), lambda m: chance(recalled(1), m), lambda m: due([], m)):
            with pytest.raises(ValueError, match="UTC"):
                call(moment)


SAVED = json.loads(recalled(3).to_json())


@pytest.mark.parametrize(
    "text",
    ["", "[]", "{}", *(json.dumps({k: v for k, v in SAVED.items() if k != name}) for name in SAVED)]
    + [
        json.dumps(SAVED | {"card": SAVED["card"] | change})
        for change in (
            {"due": "soon"},
            {"due": "2026-03-01T09:00:00"},
            {"stability": None},
            {"stability": -1},
            {"stability": float("nan")},
            {"difficulty": 11},
            {"last_review": None},
            {"state": 9},
            {"step": 1},
        )
    ],
)
def test_damaged_cards_are_refused(text):
    with pytest.raises(LogError, match="damaged"):
        from_json(text)
