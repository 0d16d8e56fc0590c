"""Recall over days, against the figures of the `fsrs` library (6.3.2, run once and written down) and its published
formula."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta, timezone

import pytest

from companion.errors import LogError
from companion.practice.drills.recall import (
    FROM_MEMORY,
    FROM_SYMBOLS,
    HELD,
    LOST,
    NOT_RECALLED,
    PARTLY,
    after_review,
    chance,
    due,
    from_json,
    learned,
    new_card,
    review,
    strength,
)

NOW = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)
DAY = timedelta(days=1)
# Seven reviews that held, each when it is due: days to the next one (after ten minutes first), and the stability after each.
HELD_DAYS = (2, 11, 46, 163, 498, 1348)
HELD_STABILITY = (2.3065, 2.3065, 10.971, 46.3169, 162.9998, 497.8766, 1347.9186)
FIRST = {LOST: (0.212, 6.4133), PARTLY: (1.2931, 5.1122), HELD: (2.3065, 2.1181)}  # stability, difficulty
# Chance of recall after so many times the stability.
CHANCES = ((0, 1.0), (0.5, 0.94034), (1, 0.9), (2, 0.84588), (4, 0.78213), (10, 0.69283))


def memory(card):
    return json.loads(card.to_json())["card"]


def recalled(times, what=HELD):
    card, now = new_card("ferry", "A", NOW), NOW
    for _ in range(times):
        card = after_review(card, what, now)
        now = card.due_at
    return card


def taught(slipped, cues, heard=True, new=False, memory=FROM_MEMORY):
    found = learned(slipped, cues, heard=heard, is_new=new, memory=memory)
    assert found is None or found.reason.endswith(".")
    return found.what if found else None


def test_from_symbols_the_symbols_are_no_help():
    """The table of the module: 0.6 is a chord symbol in every bar, above 0.7 the notes were read."""
    found = [taught(slipped, cues, memory=FROM_SYMBOLS) for slipped in (0.0, 0.1) for cues in (0.6, 0.7, 0.71)]
    assert found == [HELD, PARTLY, None, PARTLY, PARTLY, None]
    assert taught(0.2, 0.6, memory=FROM_SYMBOLS) == LOST and taught(0.2, 0.6, new=True, memory=FROM_SYMBOLS) is None
    assert taught(0.0, 0.6) is None, "of what goes from memory it says nothing"


def test_a_slip_that_was_told_weighs_more_than_one_that_was_heard():
    """Whoever tells passes over some of what went wrong; a keyboard does not."""
    assert (taught(1 / 20, 0.0), taught(1 / 20, 0.0, heard=False), taught(0.0, 0.0, heard=False)) == (
        HELD,
        PARTLY,
        HELD,
    )


def test_held_seven_times_gives_the_published_days():
    card, now, days = new_card("ferry", "A", NOW), NOW, []
    for stability in HELD_STABILITY:
        card = after_review(card, HELD, now)
        days.append((card.due_at - now) / DAY)
        assert memory(card)["stability"] == pytest.approx(stability, abs=5e-4)
        now = card.due_at
    assert days == [pytest.approx(10 / 24 / 60), *HELD_DAYS]
    lost = after_review(card, LOST, now)
    assert memory(lost)["stability"] == pytest.approx(9.4514, abs=5e-4)
    assert lost.due_at - now == timedelta(minutes=10)


@pytest.mark.parametrize("what", FIRST)
def test_the_first_review(what):
    stability, difficulty = FIRST[what]
    card = recalled(1, what)
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
    ("slipped", "cues", "new", "what"),
    [
        (0.0, 0.0, False, HELD),
        (0.05, 0.2, False, HELD),
        (0.06, 0.0, False, PARTLY),
        (3 / 20, 0.2, False, PARTLY),
        (0.0, 0.21, False, PARTLY),
        (0.0, 0.4, True, PARTLY),
        (0.0, 0.41, False, None),
        (0.16, 0.0, False, LOST),
        (0.16, 1.0, False, LOST),
        (1.0, 0.0, False, LOST),
        (0.16, 0.0, True, None),
        (0.0, 1.0, True, None),
    ],
)
def test_what_a_pass_amounts_to(slipped, cues, new, what):
    assert taught(slipped, cues, new=new) == what


@pytest.mark.parametrize(("slipped", "cues"), [(-0.1, 0.0), (1.1, 0.0), (0.0, 1.1)])
def test_what_is_no_share_is_refused(slipped, cues):
    with pytest.raises(ValueError, match="from 0 to 1"):
        learned(slipped, cues, heard=True)


def test_a_pass_with_cues_is_no_recall():
    card = recalled(2)
    assert review(card, 0.0, 0.6, NOW + DAY) is card
    assert review(card, 0.0, 0.0, NOW + 2 * DAY).due_at > card.due_at


def test_what_is_due_and_how_it_is_called():
    sure, new = recalled(4), new_card("ferry", "B", NOW)
    weak = after_review(new_card("lamp", "A", NOW), HELD, NOW)
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
        after_review(recalled(3), LOST, NOW + 30 * DAY),
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
