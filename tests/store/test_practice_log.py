"""The practice log: what goes in comes out, the sums are those of the passes, and nothing is lost on the way."""

from __future__ import annotations

import csv
import io
import json
import sqlite3
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st
from store.passes import PASS, START, numbered
from strategies import SONG_IDS, pass_records

from companion.errors import LogError
from companion.practice.planning.totals import day_totals, tallies
from companion.store.log.entry import SavedState
from companion.store.log.export import write_csv, write_everything, write_json
from companion.store.log.practice_log import PracticeLog
from companion.store.log.rows import as_dict

AUCKLAND = timezone(timedelta(hours=13))


@pytest.fixture
def log(paths):
    with PracticeLog.open(paths, zone=UTC) as log:
        yield log


def as_logged(record):
    """JSON makes lists of what is inside a chord; the rest is the same."""
    return replace(record, chords=tuple(json.loads(json.dumps(record.chords))))


def test_a_pass_is_there_for_the_next_session(paths, log):
    log.add_pass(PASS)
    with PracticeLog.open(paths) as another:
        assert another.passes() == [PASS]
        assert another.path and another.messages == []
    assert paths.log.parent == paths.data


def test_opening_makes_the_folder_and_only_the_log(paths):
    assert not paths.data.exists()
    PracticeLog.open(paths).close()
    assert [path.name for path in paths.data.iterdir()] == ["practice.sqlite3"]


@given(st.lists(pass_records(), max_size=12, unique_by=lambda record: record.id))
def test_whatever_was_played_comes_back(records):
    with PracticeLog.in_memory(zone=AUCKLAND) as log:
        for record in records:
            log.add_pass(record)
        assert sorted(log.passes(), key=lambda record: record.id) == sorted(
            map(as_logged, records), key=lambda record: record.id
        )
        times = [record.started_at for record in log.passes()]
        assert times == sorted(times)
        assert list(log.each_pass()) == list(map(as_logged, records)), "in the order in which they were written"
        assert log.count() == len(records)


@given(st.lists(pass_records(), max_size=20, unique_by=lambda record: record.id))
def test_the_sums_are_those_of_the_passes(records):
    """The sums kept by the database against those counted from the passes themselves."""
    with PracticeLog.in_memory(zone=AUCKLAND) as log:
        for record in records:
            log.add_pass(record)
        expected = day_totals(records, AUCKLAND)
        kept = log.day_totals()
        assert [replace(total, seconds=0) for total in kept] == [replace(total, seconds=0) for total in expected]
        assert [total.seconds for total in kept] == pytest.approx([total.seconds for total in expected])
        for song_id in SONG_IDS:
            of_song = [record for record in records if record.song_id == song_id]
            assert set(log.tallies(song_id)) == set(tallies(of_song))
            assert log.count(song_id) == len(of_song)
            assert log.day_totals(song_id) == [total for total in kept if total.song_id == song_id]


def test_asking_for_some_passes(log):
    for number in range(10):
        log.add_pass(numbered(number, song_id="two-spoons" if number % 2 else "left-sock-blues"))
    assert [record.id for record in log.passes("two-spoons")] == ["1", "3", "5", "7", "9"]
    assert [record.id for record in log.passes(limit=2)] == ["8", "9"]
    assert [record.id for record in log.passes(since=START + timedelta(minutes=7))] == ["7", "8", "9"]
    local = (START + timedelta(minutes=8)).astimezone(AUCKLAND)
    assert [record.id for record in log.passes("two-spoons", since=local)] == ["9"]


def test_a_day_is_the_students_own(paths):
    with PracticeLog.open(paths, zone=AUCKLAND) as log:
        log.add_pass(PASS)  # 18:00 UTC on the fifth is 7:00 on the sixth in Auckland
        assert [total.day for total in log.day_totals()] == ["2026-01-06"]
        assert log.day_totals(since=date(2026, 1, 7)) == []


def test_times_are_kept_as_utc_whatever_they_were_given_as(log):
    log.add_pass(replace(PASS, started_at="2026-01-05T19:00:00+01:00"))
    assert log.passes()[0].started_at == "2026-01-05T18:00:00.000+00:00"
    with pytest.raises(LogError, match="This pass cannot be kept in the log: .*yesterday"):
        log.add_pass(replace(PASS, id="2", started_at="yesterday"))


def test_a_pass_written_twice_counts_once(log):
    log.add_pass(PASS)
    log.add_pass(replace(PASS, tempo_bpm=60.0))
    assert log.passes() == [PASS]
    assert log.count() == 1
    assert log.tallies("left-sock-blues")[0].passes == 1


def test_a_pass_that_is_none_is_refused_whole(log):
    with pytest.raises(LogError):
        log.add_pass(replace(PASS, pattern=None))
    assert log.passes() == [] and log.day_totals() == []


def test_states(log):
    log.put_state("two-spoons", "A", "fade", {"round": 3, "levels": [5, 4, 0]})
    log.put_state("two-spoons", "A", "climb", '{"text": "of a drill"}')
    log.put_state("left-sock-blues", "", "fade", [1])
    log.put_state("two-spoons", "A", "fade", {"round": 4})
    assert log.state("two-spoons", "A", "fade") == {"round": 4}
    assert log.state("two-spoons", "B", "fade") is None
    assert log.states("fade") == [
        SavedState("left-sock-blues", "", "fade", [1]),
        SavedState("two-spoons", "A", "fade", {"round": 4}),
    ]
    assert [state.kind for state in log.states(song_id="two-spoons")] == ["climb", "fade"]
    log.put_state("two-spoons", "A", "fade", None)
    assert log.state("two-spoons", "A", "fade") is None


def test_deleting(paths, log):
    for number in range(6):
        log.add_pass(numbered(number, song_id="two-spoons" if number % 2 else "left-sock-blues"))
        log.put_state(f"song-{number}", "", "fade", number)
    log.delete_all("two-spoons")
    assert [record.id for record in log.passes()] == ["0", "2", "4"]
    assert log.count("two-spoons") == 0 and log.tallies("two-spoons") == [] and len(log.states()) == 6
    log.delete_all()
    assert log.passes() == [] and log.states() == [] and log.day_totals() == []
    left = b"".join(path.read_bytes() for path in paths.data.iterdir())
    assert b"left-sock-blues" not in left and b"Left Sock Blues" not in left, "deleted is gone from the file as well"
    log.add_pass(PASS)
    assert log.passes() == [PASS]


def test_a_log_in_memory_does_all_but_remember(paths):
    with PracticeLog.in_memory() as log:
        log.add_pass(PASS)
        log.put_state("two-spoons", "A", "fade", 1)
        assert log.passes() == [PASS] and log.path is None and log.damaged_copies() == []
        log.delete_all()
    assert not paths.data.exists()


def test_export_is_read_back_by_the_standard_library(log):
    records = [numbered(number) for number in range(3)]
    records[1] = replace(records[1], title='A "Tune",\nin two lines', offset_ms=None, chords=())
    for record in records:
        log.add_pass(record)
    log.put_state("two-spoons", "A", "fade", {"round": 4})

    out = io.StringIO()
    write_json(log, out)
    assert json.loads(out.getvalue()) == json.loads(json.dumps([as_dict(record) for record in records]))

    out = io.StringIO(newline="")
    write_csv(log, out)
    rows = list(csv.DictReader(io.StringIO(out.getvalue(), newline="")))
    assert [row["title"] for row in rows] == [record.title for record in records]
    assert [float(row["tempo_bpm"]) for row in rows] == [record.tempo_bpm for record in records]
    assert rows[0]["loop"] == "0 1 2 3" and rows[1]["offset_ms"] == ""
    assert json.loads(rows[0]["chords"]) == list(PASS.chords)

    out = io.StringIO()
    write_everything(log, out)
    everything = json.loads(out.getvalue())
    assert len(everything["passes"]) == 3
    assert everything["days"][0]["passes"] == 3
    assert everything["states"] == [
        {"song_id": "two-spoons", "loop_key": "A", "kind": "fade", "value": {"round": 4}, "hands": "", "key": ""}
    ]

    out = io.StringIO()
    write_json(log, out, "none-such")
    assert json.loads(out.getvalue()) == []


def test_more_passes_than_are_read_at_once(log):
    for number in range(1203):
        log.add_pass(numbered(number, chords=()))
    assert [record.id for record in log.each_pass()] == [str(number) for number in range(1203)]


def test_one_unreadable_entry_hides_no_other(paths, log):
    for number in range(3):
        log.add_pass(numbered(number))
    with sqlite3.connect(paths.log) as connection:
        connection.execute("UPDATE pass SET chords = x'00ff' WHERE id = '1'")
    assert [record.id for record in log.passes()] == ["0", "2"]
    assert [record.id for record in log.each_pass()] == ["0", "2"]
    assert log.messages == ["Some entries of the practice log could not be read and were left out."]


def test_any_thread_may_write(log):
    from concurrent.futures import ThreadPoolExecutor

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(log.add_pass, [numbered(number) for number in range(40)]))
    assert log.count() == 40 and len(log.passes()) == 40
    assert log.passes(since=datetime(2030, 1, 1)) == []
