"""A song's chords in root position as a thing to do today: offered to who begins, never put before a lesson begun."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from practice.passes import NOW, SONG, played

from companion.practice.planning.plan import plan_from_dict, plan_to_dict, tick
from companion.practice.planning.song_view import SongView
from companion.practice.planning.today import plan_today
from companion.practice.planning.totals import tallies
from companion.practice.planning.whole_chords import chord_ids, chords_item

OTHER = replace(SONG, id="other-street", title="Other Street")
ALL = frozenset(chord_ids(SONG).values())  # F6 D7 Gm7 C7 A7 G7


def kinds(*views: SongView, minutes=20, known=frozenset(), **fields) -> list[tuple[str, str]]:
    plan = plan_today(minutes, views, NOW, known_chords=known, **fields)
    assert sum(item.minutes for item in plan.items) == minutes and all(item.minutes >= 2 for item in plan.items)
    return [(item.kind, item.song_id) for item in plan.items if item.kind != "rest"]


@pytest.mark.parametrize("minutes", [10, 20, 40, 120])
def test_who_begins_is_offered_the_chords_before_the_shells(minutes):
    said = kinds(SongView(SONG), minutes=minutes)
    at = said.index(("chords", SONG.id))
    assert said[at + 1] == ("step", SONG.id) and said.count(("chords", SONG.id)) == 1


def test_in_five_minutes_the_lesson_comes_first():
    assert kinds(SongView(SONG), minutes=5) == [("step", SONG.id), ("last", SONG.id)]


def test_only_chords_that_are_new_are_offered():
    [item] = [i for i in plan_today(20, [SongView(SONG)], NOW, known_chords=frozenset()).items if i.kind == "chords"]
    assert item.words == "6 of 6 chords are new to you: each whole, from the root up, before its shell."
    assert item.head == "Lantern Street, its chords in root position"
    assert chords_item(SONG, ALL - {"0 F 3 5 6"}).words.startswith("1 of 6 chords is new to you")
    assert chords_item(SONG, ALL) is None
    assert "chords" not in dict(kinds(SongView(SONG), known=ALL)) and "chords" not in dict(
        kinds(SongView(SONG), known=None)
    )


def test_never_before_a_lesson_that_was_begun():
    passes = (played(1),)
    for begun in (
        SongView(SONG, passes=passes, tallies=tallies(passes)),
        SongView(SONG, heard=(tuple(range(12)),)),
    ):
        for minutes in (10, 20, 40, 120):
            assert ("chords", SONG.id) not in kinds(begun, minutes=minutes)
    # A new song beside it: its chords before its own first step, after the steps of the one that was begun.
    said = kinds(SongView(SONG, passes=passes, tallies=tallies(passes)), SongView(OTHER), minutes=120)
    at = said.index(("chords", OTHER.id))
    assert said[at + 1] == ("step", OTHER.id) and ("step", SONG.id) in said[:at]
    assert ("step", SONG.id) not in said[at:]


def test_it_is_ticked_off_once_every_chord_was_found_and_by_no_pass():
    plan = plan_today(20, [SongView(SONG)], NOW, known_chords=frozenset())
    [number] = [n for n, item in enumerate(plan.items) if item.kind == "chords"]
    later = [played(started_at=(NOW + timedelta(minutes=n)).isoformat(), duration_s=600.0) for n in range(5)]
    assert not tick(plan, later).items[number].done
    assert not tick(plan, (), {}, {OTHER.id}).items[number].done
    done = tick(plan, (), {}, {SONG.id})
    assert [item.done for item in done.items] == [n == number for n in range(len(plan.items))]
    assert plan_from_dict(plan_to_dict(done)) == done
    again = plan_today(20, [SongView(SONG)], NOW, done=[done.items[number]], known_chords=frozenset())
    assert sum(item.kind == "chords" for item in again.items) == 1, "what is done is not planned again"
