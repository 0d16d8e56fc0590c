"""Today and Progress of a log with many passes: counted, not timed. SQLite calls a progress handler for each instruction of its virtual
machine (https://www.sqlite.org/c3ref/progress_handler.html) and says of a query whether it looks through a whole table
(https://www.sqlite.org/eqp.html: SCAN)."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC

import pytest
from practice.passes import NOW, SONG, played

from companion.session.overview import hands_known, lesson_of_song, progress_of, todays_plan
from companion.store.log.entry import insert_pass
from companion.store.log.patient_log import PatientLog
from companion.store.log.rows import to_row

pytestmark = pytest.mark.xdist_group("long logs")  # made once
DAYS = 30
SONGS = [replace(SONG, id=f"song-{number}", title=f"Song {number}") for number in range(2)]


def filled(passes_a_day: int) -> PatientLog:
    """Thirty days of two songs, in the same ways every day."""

    def fill(connection: sqlite3.Connection) -> None:
        for day in range(DAYS, 0, -1):
            for number in range(passes_a_day):
                song, hands = SONGS[number % 2], ("left", "right")[number // 2 % 2]
                record = played(day - number / 100_000, slips={2: "late"}, song=song, tempo_bpm=84.0)
                record = replace(record, id=f"{day}-{number}", hands=hands)
                insert_pass(connection, to_row(record, UTC), record)

    log = PatientLog.in_memory(UTC)
    log._write(fill)
    return log


SHOWN: dict[str, Callable[[PatientLog], object]] = {
    "Today": lambda log: todays_plan(log, SONGS, 20, NOW, afresh=True),
    "Today again": lambda log: todays_plan(log, SONGS, None, NOW),
    "Progress": lambda log: [progress_of(log, SONGS[0], NOW, hands) for hands in hands_known(log, SONGS[0])],
    "the steps of a lesson": lambda log: lesson_of_song(log, SONGS[0]),
    "the songs played": lambda log: log.song_ids(),
}


def steps(log: PatientLog, show: Callable[[PatientLog], object]) -> int:
    """How many instructions SQLite takes for it."""
    count = 0

    def step() -> int:
        nonlocal count
        count += 1
        return 0

    log._connection.set_progress_handler(step, 1)
    show(log)
    log.settle()
    log._connection.set_progress_handler(None, 1)
    return count


@pytest.fixture(scope="session")
def short_and_long():
    # 150 passes of each song and pair of hands at the least, as many as Progress looks at.
    with filled(20) as short, filled(100) as long:
        yield short, long


@pytest.mark.parametrize("name", SHOWN)
def test_five_times_the_passes_cost_no_more(short_and_long, name):
    short, long = short_and_long
    assert long.count() == 5 * short.count()
    for log in short_and_long:
        SHOWN["Today"](log)  # so that there is a plan, as on the student's second look at it
        log.settle()
    few, many = steps(short, SHOWN[name]), steps(long, SHOWN[name])
    assert 0 < many <= 1.02 * few


@pytest.mark.parametrize("name", SHOWN)
def test_no_table_is_looked_through(short_and_long, name):
    short, _ = short_and_long
    asked: list[str] = []
    short._connection.set_trace_callback(asked.append)
    SHOWN[name](short)
    short.settle()
    short._connection.set_trace_callback(None)
    queries = [query for query in asked if query.lstrip().startswith(("SELECT", "WITH"))]
    assert queries
    for query in queries:
        plan = [row[3] for row in short._connection.execute(f"EXPLAIN QUERY PLAN {query}")]
        for table in ("pass", "day_total", "tally", "state"):
            assert not [line for line in plan if line.split()[:2] == ["SCAN", table]], query
        if "FROM pass " in query:
            assert not [line for line in plan if "TEMP B-TREE" in line], query


def test_the_songs_and_hands_are_those_of_the_days(short_and_long):
    short, _ = short_and_long
    assert short.song_ids() == {total.song_id for total in short.day_totals()} == {song.id for song in SONGS}
    assert short.hands_of("song-0") == {"left", "right"} and short.hands_of("song-9") == set()
    with PatientLog.in_memory(UTC) as empty:
        assert empty.song_ids() == set()


def test_the_passes_of_a_song_are_looked_through_once(short_and_long):
    """As they leave the log for a file: in chunks, none of which begins from the first pass again."""
    short, long = short_and_long
    few, many = (steps(log, lambda log: list(log.each_pass("song-1"))) for log in (short, long))
    assert many <= 5.2 * few


def test_a_pass_read_without_its_chords_is_the_same_but_for_them(short_and_long):
    short, _ = short_and_long
    whole = short.passes("song-1", limit=20)
    assert short.passes("song-1", limit=20, chords=False) == [replace(record, chords=()) for record in whole]
