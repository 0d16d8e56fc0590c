"""What the log knows, gathered for Today and Progress."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from practice.passes import NOW, SONG, played

from companion.practice.drills import recall
from companion.practice.planning.progress import news
from companion.session.overview import (
    keep_plan,
    open_log,
    progress_of,
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
    card = recall.after_review(
        recall.new_card(SONG.id, "B", NOW - timedelta(days=9)), recall.HELD, NOW - timedelta(days=9)
    )
    log.put_state(SONG.id, "B", "recall", card.to_json(), "left")
    log.put_state(SONG.id, "A", "recall", "damaged", "left")
    read = recall.after_review(
        recall.new_card(SONG.id, "A", NOW - timedelta(days=1)), recall.HELD, NOW - timedelta(days=1)
    )
    log.put_state(SONG.id, "A", "recall-symbols", read.to_json(), "left")
    log.put_state(SONG.id, "0-11", "working_bpm", "88.50", "left")
    log.put_state(SONG.id, "0-3", "working_bpm", "140.00", "left")
    found = progress_of(log, SONG, NOW)
    assert [day.passes for day in found.days] == [1, 1, 1]
    assert found.working_bpm == 88.5, "that of the whole form"
    a, b = found.sections
    assert a.memory is None and b.memory == pytest.approx(recall.chance(card, NOW))
    assert found.from_symbols == (f"A: {100 * recall.chance(read, NOW):.0f} %",) and not found.in_other_keys
    assert found.changes[0].words == "D7 to Gm7: late by 80 ms, 3 of 6"
    [view] = views_of(log, [SONG], NOW)
    assert view.working_bpm == 88.5
    assert [(memory.section, memory.due_at, memory.from_symbols) for memory in view.memories] == [
        ("B", card.due_at, False),
        ("A", read.due_at, True),
    ]


def test_only_songs_being_practised_are_read_whole(log):
    songs = [replace(SONG, id=f"song-{number}") for number in range(6)]
    for number, song in enumerate(songs[:5]):
        for repeat in range(3):
            log.add_pass(replace(played(number + repeat / 10, song=song), id=f"{number}-{repeat}"))
    views = views_of(log, songs, NOW)
    assert [len(view.passes) for view in views] == [3, 3, 3, 1, 1, 0]
    assert [bool(view.tallies) for view in views] == [True, True, True, False, False, False]


def test_the_plan_of_a_day_is_made_once(log):
    log.add_pass(played(1))
    plan = todays_plan(log, [SONG], 20, NOW)
    assert plan.items and not any(item.done for item in plan.items)
    for number in range(2):
        log.add_pass(replace(played(-0.01 - number / 1000, range(4), kind="free", tempo_bpm=0.0), id=f"free-{number}"))
    later = NOW + timedelta(hours=1)
    again = todays_plan(log, [SONG], None, later)
    assert [replace(item, done=False, done_at="") for item in again.items] == list(plan.items), "the same plan,"
    assert [item.kind for item in again.items if item.done] == ["step"], "with its tick"
    assert todays_plan(log, [SONG], 40, later).minutes == 40
    assert todays_plan(log, [SONG], None, later).minutes == 40
    assert todays_plan(log, [SONG], None, later + timedelta(days=1)).minutes == 20, "another day, another plan"


def test_ticks_outlive_other_minutes(log):
    for day in (3, 2, 1):
        log.add_pass(played(day, slips={2: "late"}))
    plan = todays_plan(log, [SONG], 20, NOW)
    first, second, *_ = plan.items
    keep_plan(log, replace(plan, items=(replace(first, done=True), *plan.items[1:])))
    for number in range(20):
        log.add_pass(replace(played(-0.001 * number - 0.001, second.loop, kind="free", tempo_bpm=0.0), id=f"{number}"))
    done = [item for item in todays_plan(log, [SONG], None, NOW).items if item.done]
    assert len(done) >= 2, "by hand and by playing"
    for minutes in (40, 20, 10):
        plan = todays_plan(log, [SONG], minutes, NOW + timedelta(hours=1))
        assert plan.minutes == minutes and [item for item in plan.items if item.done] == done
        open_items = [item for item in plan.items if not item.done]
        left = minutes - sum(item.minutes for item in done)
        assert sum(item.minutes for item in open_items) == (left if left >= 5 else 0)
        places = {(item.kind, item.loop, item.words.partition(":")[0]) for item in done}
        assert not any((item.kind, item.loop, item.words.partition(":")[0]) in places for item in open_items[:-1])


def test_the_plan_that_is_first_made_is_for_the_usual_minutes(log):
    log.add_pass(played(1))
    assert todays_plan(log, [SONG], None, NOW, usual=40).minutes == 40
    assert todays_plan(log, [SONG], 10, NOW, usual=40).minutes == 10
    assert todays_plan(log, [SONG], None, NOW, usual=40).minutes == 10, "the plan that there is"


@pytest.mark.parametrize("zone", [ZoneInfo("Europe/Berlin"), None], ids=["given", "of the computer"])
def test_days_are_those_of_the_zone_at_each_moment(paths, monkeypatch, zone):
    """23:30 UTC in summer is half past one of the next day in Berlin, and is so when it is looked at in winter. Source: tz database."""
    if zone is None:
        if not hasattr(time, "tzset"):
            pytest.skip("the zone of this computer cannot be set for a test")
        monkeypatch.setenv("TZ", "Europe/Berlin")
        time.tzset()
    summer, winter = datetime(2026, 10, 20, 22, 30, tzinfo=UTC), datetime(2026, 10, 27, 12, tzinfo=UTC)
    with PracticeLog.open(paths, zone=zone) as log:
        old, new = summer - timedelta(days=14), summer
        for number, moment in enumerate((old, new)):
            log.add_pass(replace(played(), id=str(number), started_at=moment.isoformat(), tempo_bpm=80.0 + 20 * number))
        progress = progress_of(log, SONG, winter)
        assert [day.day for day in progress.days] == ["2026-10-07", "2026-10-21"] and str(
            progress.today
        ) == "2026-10-27"
        # Seven days with the 27th are the 21st and later: what was played on that day is of this week.
        assert "The fastest clean pass is now at 100; before this week it was 80." in progress.news
        slipped = replace(played(slips={2: "late"}), id="2", started_at=new.isoformat())
        assert any(
            "less sure" in words
            for words in news(SONG, [log.passes()[0], slipped], progress.days, progress.today, zone)
        )
        plan = todays_plan(log, [SONG], 20, datetime(2026, 10, 24, 22, 30, tzinfo=UTC))
        assert plan.day == "2026-10-25", "half past midnight, summer time"
        plan = todays_plan(log, [SONG], 20, datetime(2026, 10, 25, 22, 30, tzinfo=UTC))
        assert plan.day == "2026-10-25", "half past eleven, winter time"
    if zone is None:
        monkeypatch.undo()
        time.tzset()


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
    assert log.path is None and len(messages) == 1 and str(paths.log) in messages[0]
    log.add_pass(played())
    assert progress_of(log, SONG, NOW).days
