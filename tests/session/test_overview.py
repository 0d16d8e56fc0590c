"""What the log knows, gathered for Today and Progress."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, timedelta

import pytest
from practice.passes import NOW, SONG, played

from companion.practice.drills import recall
from companion.practice.planning.lessons import lesson_of, step_key
from companion.session.overview import (
    keep_plan,
    lesson_of_song,
    open_log,
    progress_of,
    tick_step,
    todays_plan,
    views_of,
)
from companion.store.log.practice_log import PracticeLog


@pytest.fixture
def log(paths):
    with PracticeLog.open(paths, zone=UTC) as log:
        yield log


def test_progress_from_the_log(log):
    for day in (3, 2, 1):
        log.add_pass(played(day, slips={2: "late"}, tempo_bpm=84.0))
    card = recall.grade_card(recall.new_card(SONG.id, "B", NOW - timedelta(days=9)), "good", NOW - timedelta(days=9))
    log.put_state(SONG.id, "B", "recall", card.to_json(), "left")
    log.put_state(SONG.id, "A", "recall", "damaged", "left")
    log.put_state(SONG.id, "0-11", "working_bpm", "88.50", "left")
    log.put_state(SONG.id, "0-3", "working_bpm", "140.00", "left")
    found = progress_of(log, SONG, NOW)
    assert [day.passes for day in found.days] == [1, 1, 1]
    assert found.working_bpm == 88.5, "that of the whole form"
    a, b = found.sections
    assert a.memory is None and b.memory == pytest.approx(recall.chance(card, NOW))
    assert found.changes[0].words == "D7 to Gm7: late by 80 ms, 3 of 6"
    [view] = views_of(log, [SONG], NOW)
    [memory] = view.memories
    assert view.working_bpm == 88.5
    assert (memory.section, memory.due_at) == ("B", card.due_at)


def test_only_songs_being_practised_are_read_whole(log):
    songs = [replace(SONG, id=f"song-{number}") for number in range(6)]
    for number, song in enumerate(songs[:5]):
        for repeat in range(3):
            log.add_pass(replace(played(number + repeat / 10, song=song), id=f"{number}-{repeat}"))
    views = views_of(log, songs, NOW)
    assert [len(view.passes) for view in views] == [3, 3, 3, 1, 1, 0]
    assert [bool(view.tallies) for view in views] == [True, True, True, False, False, False]


def test_a_step_ticked_by_hand(log):
    key = step_key(lesson_of(SONG).steps[0])
    tick_step(log, SONG, key)
    assert [state.done for state in lesson_of_song(log, SONG)][:2] == [True, False]
    tick_step(log, SONG, key, done=False)
    assert not lesson_of_song(log, SONG)[0].done and log.states() == []


def test_the_plan_of_a_day_is_made_once(log):
    log.add_pass(played(1))
    plan = todays_plan(log, [SONG], 20, NOW)
    assert plan.items and not any(item.done for item in plan.items)
    for number in range(2):
        log.add_pass(replace(played(-0.01 - number / 1000, range(4), kind="free", tempo_bpm=0.0), id=f"free-{number}"))
    later = NOW + timedelta(hours=1)
    again = todays_plan(log, [SONG], None, later)
    assert [replace(item, done=False) for item in again.items] == list(plan.items), "the same plan,"
    assert [item.kind for item in again.items if item.done] == ["step"], "with its tick"
    assert todays_plan(log, [SONG], 40, later).minutes == 40
    assert todays_plan(log, [SONG], None, later).minutes == 40
    assert todays_plan(log, [SONG], None, later + timedelta(days=1)).minutes == 20, "another day, another plan"


def test_a_plan_made_anew(log):
    log.add_pass(played(1))
    plan = todays_plan(log, [SONG], 20, NOW)
    by_hand = replace(plan, items=tuple(replace(item, done=True) for item in plan.items))
    keep_plan(log, by_hand)
    assert all(item.done for item in todays_plan(log, [SONG], 20, NOW).items)
    assert not any(item.done for item in todays_plan(log, [SONG], 20, NOW, afresh=True).items)
    other = replace(SONG, id="other")
    assert {item.song_id for item in todays_plan(log, [other], 20, NOW).items} == {"other"}, "its song is gone"
    log.put_state("", "", "plan", "damaged")
    assert todays_plan(log, [SONG], 20, NOW).items


def test_practice_goes_on_without_a_log(paths):
    paths.log.mkdir(parents=True)
    log, messages = open_log(paths)
    assert not log.remembers and len(messages) == 1 and str(paths.log) in messages[0]
    log.add_pass(played())
    assert progress_of(log, SONG, NOW).days
