"""What got better on a day, in one sentence."""

from __future__ import annotations

from dataclasses import replace

import pytest
from store.passes import PASS

from companion.chart.reader import parse_chart
from companion.practice.planning.better import Practised, what_got_better
from companion.practice.planning.totals import DayTotal

SONG = parse_chart(
    'title = "Two Jars"\nkey = "C"\nmeter = "4/4"\ntempo = 100\n[section.A]\nbars = "C6 | G7 | C6 | G7"\n'
)
DAY = "2026-01-05"


def day(day, best_bpm, clean=1, passes=4, seconds=120.0):
    return DayTotal(SONG.id, day, seconds, passes, clean, best_bpm)


def told(days, before=(), today=(), hands="left"):
    return what_got_better([Practised(SONG, hands, days, before, today)], DAY)


@pytest.mark.parametrize(
    ("before", "today", "said"),
    [
        (80.0, 99.6, "Two Jars: clean at its tempo, 100, for the first time."),
        (None, 100.0, "Two Jars: clean at its tempo, 100, for the first time."),
        (80.0, 88.0, "Two Jars: clean at 88, 8 faster than ever before."),
        (80.0, 81.0, "2 minutes played, 4 passes, 1 of them clean."),
        (100.0, 100.0, "2 minutes played, 4 passes, 1 of them clean."),
        (88.0, None, "2 minutes played, 4 passes, 1 of them clean."),
    ],
)
def test_tempo(before, today, said):
    assert told([day("2026-01-02", before), day(DAY, today)]) == said


def test_the_best_before_is_that_of_every_day_not_of_the_last():
    assert "faster" not in told([day("2026-01-01", 90.0), day("2026-01-02", 70.0), day(DAY, 88.0)])


def test_from_memory_for_the_first_time():
    by_heart = replace(PASS, song_id=SONG.id, sections=("A",), cues=0.0, clean=True)
    days = [day("2026-01-02", 80.0), day(DAY, 90.0)]
    assert told(days, (), (by_heart,)) == "Two Jars: A from memory, for the first time."
    assert told(days, (by_heart,), (by_heart,)) == "Two Jars: clean at 90, 10 faster than ever before."
    assert "memory" not in told(days, (), (replace(by_heart, clean=False),))
    assert "memory" not in told(days, (), (replace(by_heart, cues=0.3),))


def test_cleaner_than_the_last_time():
    assert (
        told([day("2026-01-02", 80.0, 2, 8), day(DAY, 80.0, 5, 6)], hands="right")
        == "Two Jars, right hand: 5 of 6 passes clean; the last time it was 2 of 8."
    )
    assert "clean;" not in told([day("2026-01-02", 80.0, 1, 2), day(DAY, 80.0, 2, 2)]), "two passes tell nothing"


def test_where_nothing_was_played_nothing_is_said():
    assert told([day("2026-01-02", 80.0)]) == ""
    assert what_got_better([], DAY) == ""
