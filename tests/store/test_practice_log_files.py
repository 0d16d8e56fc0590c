"""The file of the practice log: older and newer ones, damaged ones, full disks, two programs at once, and a sudden
end."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
from datetime import UTC, date
from pathlib import Path

import pytest
from store.older_log import row_of_then
from store.passes import PASS, numbered

from companion.errors import LogError
from companion.practice.planning.totals import day_totals, tallies
from companion.store.log import practice_log
from companion.store.log.log_file import WHOLLY_CHECKED_BYTES
from companion.store.log.migrations import MIGRATIONS, Migration, migrate
from companion.store.log.practice_log import PracticeLog

TODAY = "2026-03-29"


@pytest.fixture(autouse=True)
def a_day(monkeypatch):
    """Always the same, so that no midnight goes by."""

    class Day(date):
        @classmethod
        def today(cls) -> date:
            return date.fromisoformat(TODAY)

    monkeypatch.setattr(practice_log, "date", Day)


def fill(paths, count: int = 30) -> None:
    with PracticeLog.open(paths) as log:
        for number in range(count):
            log.add_pass(numbered(number))


# --- older and newer


@pytest.mark.parametrize("steps", range(len(MIGRATIONS)))
def test_every_older_log_is_brought_up_to_date(paths, steps):
    paths.data.mkdir(parents=True)
    connection = sqlite3.connect(paths.log, isolation_level=None)
    migrate(connection, MIGRATIONS[: min(steps, 1)])
    passes = [
        numbered(0),
        numbered(1, tempo_bpm=92.5, clean=True),
        numbered(2, tempo_bpm=140.0, clean=True, kind="free"),
        numbered(3, tempo_bpm=110.4, clean=True, cues=0.0, kind="fade+climb"),
        numbered(4, tempo_bpm=132.0, clean=True, kind="climb+probe"),
        numbered(2000, song_id="two-spoons"),
    ]
    if steps:
        for record in passes:
            row = row_of_then(connection, record, UTC)
            connection.execute(
                f"INSERT INTO pass ({', '.join(row)}) VALUES ({', '.join(':' + name for name in row)})", row
            )
    migrate(connection, MIGRATIONS[:steps])
    if steps > 1:
        hands = "hands, key, " if steps > 4 else ""
        values = "'left', '', " if steps > 4 else ""
        connection.execute(
            f"INSERT INTO state (song_id, {hands}loop_key, kind, value) VALUES ('two-spoons', {values}'A', 'fade', '{{\"round\": 4}}')"
        )
    connection.close()
    with PracticeLog.open(paths, zone=UTC) as log:
        assert log.messages == []
        assert log.passes() == (passes if steps else [])
        assert log.day_totals() == list(day_totals(passes if steps else [], UTC))
        of_song = [record for record in passes if record.song_id == PASS.song_id]
        assert set(log.tallies(PASS.song_id)) == set(tallies(of_song if steps else []))
        assert log.state("two-spoons", "A", "fade", "left") == ({"round": 4} if steps > 1 else None)
        learnt = {state.song_id for state in log.states("former_shells")}
        assert learnt == ({PASS.song_id, "two-spoons"} if steps else set())
        log.add_pass(numbered(9))
        assert log.passes()[-2 if steps else -1] == numbered(9)


def test_a_step_that_fails_leaves_the_log_as_it_was(paths):
    fill(paths)
    before = paths.log.read_bytes()
    broken = (*MIGRATIONS, Migration("broken", ("CREATE TABLE half (a)", "INSERT INTO none_such VALUES (1)")))
    connection = sqlite3.connect(paths.log, isolation_level=None)
    with pytest.raises(sqlite3.OperationalError, match="none_such"):
        migrate(connection, broken)
    connection.close()
    assert paths.log.read_bytes() == before
    assert len({migration.name for migration in MIGRATIONS}) == len(MIGRATIONS)


def test_a_newer_log_is_refused_and_left_alone(paths):
    fill(paths)
    connection = sqlite3.connect(paths.log, isolation_level=None)
    migrate(connection, (*MIGRATIONS, Migration("of tomorrow", ("CREATE TABLE tomorrow (a)",))))
    connection.close()
    before = paths.log.read_bytes()
    with pytest.raises(LogError) as caught:
        PracticeLog.open(paths)
    assert str(caught.value) == (
        f"The practice log {paths.log} was written by a newer companion: it was left as it is; use that one, or nothing you "
        "play now is remembered."
    )
    assert paths.log.read_bytes() == before
    with PracticeLog.in_memory() as log:  # practice goes on
        log.add_pass(PASS)


def test_a_log_that_becomes_newer_while_it_is_open_is_not_written(paths):
    fill(paths, 1)
    with PracticeLog.open(paths) as log:
        connection = sqlite3.connect(paths.log, isolation_level=None)
        migrate(connection, (*MIGRATIONS, Migration("of tomorrow", ("CREATE TABLE tomorrow (a)",))))
        connection.close()
        with pytest.raises(LogError, match="was written by a newer companion in the meantime"):
            log.add_pass(numbered(7))
        assert len(log.passes()) == 1


# --- damaged


def damaged_copies(paths) -> list[str]:
    return sorted(path.name for path in paths.data.iterdir() if ".damaged-" in path.name)


def goes_on(paths, damaged: bytes) -> PracticeLog:
    """The log opens, keeps a pass, and the damaged file is still there byte for byte."""
    log = PracticeLog.open(paths)
    log.add_pass(numbered(999))
    assert numbered(999) in log.passes()
    if log.messages:
        [kept] = damaged_copies(paths)
        assert (paths.data / kept).read_bytes() == damaged
        assert kept == f"practice.sqlite3.damaged-{TODAY}"
        assert log.messages == [
            f"The practice log was damaged: it was set aside as {paths.data / kept}, and a new one was begun."
        ]
        assert log.damaged_copies() == [paths.data / kept]
    return log


def test_a_log_cut_off_anywhere_is_set_aside(paths):
    fill(paths)
    whole = paths.log.read_bytes()
    cuts = range(0, len(whole), 1000)
    assert len(cuts) > 20
    for cut in cuts:
        paths.log.write_bytes(whole[:cut])
        with goes_on(paths, whole[:cut]) as log:
            # An empty file is a log that was never begun; any other cut is found.
            assert bool(log.messages) == (cut > 0), cut
            assert log.count() == 1
        for path in paths.data.iterdir():
            path.unlink()


def test_a_log_with_a_hole_is_set_aside_or_keeps_what_can_be_read(paths):
    fill(paths)
    whole = paths.log.read_bytes()
    for start in range(0, len(whole), 1000):
        holed = whole[:start] + b"\xa5" * 1000 + whole[start + 1000 :]
        paths.log.write_bytes(holed[: len(whole)])
        with goes_on(paths, holed[: len(whole)]) as log:
            assert bool(log.day_totals()) == bool(log.count()), start
            log.tallies(PASS.song_id), log.states()
        for path in paths.data.iterdir():
            path.unlink()


@pytest.mark.parametrize(
    "content", [b"x", b"not a database, but longer than its header" * 40, bytes(9000), b"\xff" * 9000]
)
def test_a_file_that_is_no_log(paths, content):
    paths.data.mkdir(parents=True)
    paths.log.write_bytes(content)
    with goes_on(paths, content) as log:
        assert log.messages


def test_another_programs_database_is_not_touched(paths):
    paths.data.mkdir(parents=True)
    with sqlite3.connect(paths.log) as connection:
        connection.execute("CREATE TABLE pass (of_a_bus TEXT)")
    connection.close()
    content = paths.log.read_bytes()
    with goes_on(paths, content) as log:
        assert log.messages


def test_every_damaged_log_is_kept(paths):
    paths.data.mkdir(parents=True)
    for number in range(3):
        paths.log.write_bytes(b"broken %d" % number)
        PracticeLog.open(paths).close()
    name = f"practice.sqlite3.damaged-{TODAY}"
    assert damaged_copies(paths) == [name, f"{name}-2", f"{name}-3"]
    assert (paths.data / f"{name}-3").read_bytes() == b"broken 2"


def test_damage_found_while_it_is_open(paths):
    """What is on the disk is overwritten under an open log: the next pass goes into a fresh one."""
    fill(paths, 300)
    with PracticeLog.open(paths) as log:
        size = paths.log.stat().st_size
        log._connection.execute("PRAGMA shrink_memory")  # else SQLite goes on with the pages that it remembers
        with paths.log.open("r+b") as file:
            file.seek(4096)
            file.write(b"\xa5" * (size - 4096))
        log.add_pass(numbered(999))
        assert log.passes() == [numbered(999)]
        assert log.messages and damaged_copies(paths)


def test_the_cut_end_of_a_long_log_is_found(paths):
    """A long log is not checked whole at opening; a missing end is found all the same."""
    fill(paths, 3)
    with sqlite3.connect(paths.log) as connection:
        row = "INSERT INTO state VALUES (?, '', '', '', 'test', ?)"
        connection.executemany(
            row, ((str(number), f'"{"x" * 100_000}"') for number in range(WHOLLY_CHECKED_BYTES // 90_000))
        )
    connection.close()
    with PracticeLog.open(paths) as log:
        assert log.messages == []
    size = paths.log.stat().st_size
    assert size > WHOLLY_CHECKED_BYTES
    os.truncate(paths.log, size - 4096)
    with PracticeLog.open(paths) as log:
        assert log.messages


# --- the disk


def test_a_full_disk(paths):
    fill(paths)
    with PracticeLog.open(paths) as log:
        [(pages,)] = log._connection.execute("PRAGMA page_count")
        log._connection.execute(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(LogError, match="was left as it is: the disk is full; make room") as caught:
            for number in range(100, 200):
                log.add_pass(numbered(number))
        assert "\n" not in str(caught.value)
        kept = log.count()
        log._connection.execute("PRAGMA max_page_count = 1000000")
        log.add_pass(numbered(500))
        assert log.count() == kept + 1 == len(log.passes()), "the log can be used again, and its sums are right"


def test_a_log_that_may_not_be_written(paths):
    fill(paths, 3)
    with PracticeLog.open(paths) as log:
        log._connection.execute("PRAGMA query_only = 1")  # SQLite's own answer for such files: SQLITE_READONLY
        with pytest.raises(LogError, match="it may not be written to"):
            log.add_pass(numbered(7))
        with pytest.raises(LogError, match="it may not be written to"):
            log.delete_all()
        assert len(log.passes()) == 3


def test_places_where_no_log_can_be(paths):
    paths.log.mkdir(parents=True)
    with pytest.raises(LogError, match="it cannot be opened; expected a folder that you may write to"):
        PracticeLog.open(paths)
    paths.log.rmdir()
    paths.data.rmdir()
    paths.data.write_text("a file in the way")
    with pytest.raises(LogError, match="was left as it is: File exists"):
        PracticeLog.open(paths)


def test_a_log_that_another_program_holds(paths):
    fill(paths, 3)
    holder = sqlite3.connect(paths.log, isolation_level=None)
    with PracticeLog.open(paths, wait_s=0.05) as log:
        holder.execute("BEGIN IMMEDIATE")
        with pytest.raises(LogError, match="another program holds it; close that one or try again"):
            log.add_pass(numbered(7))
        assert len(log.passes()) == 3, "reading needs no turn"
        holder.execute("ROLLBACK")
        log.add_pass(numbered(7))
        assert len(log.passes()) == 4
    holder.close()


def test_deleting_while_another_companion_is_open(paths):
    fill(paths, 3)
    reader = sqlite3.connect(paths.log, isolation_level=None)
    reader.execute("BEGIN")
    reader.execute("SELECT * FROM pass").fetchone()
    with PracticeLog.open(paths, wait_s=0.05) as log:
        log.delete_all()  # the file cannot be made smaller now; all is deleted just the same
        assert log.count() == 0
    reader.close()
    with PracticeLog.open(paths) as log:
        assert log.passes() == [] and log.messages == []
    assert b"Left Sock Blues" not in paths.log.read_bytes()


# --- several processes, and a sudden end

WRITER = """
import sys
from companion.store.paths import find_paths
from companion.store.log.practice_log import PracticeLog
from store.older_log import row_of_then
from store.passes import numbered
log = PracticeLog.open(find_paths())
first, count = int(sys.argv[1]), int(sys.argv[2])
for number in range(first, first + count):
    log.add_pass(numbered(number))
    print(number, flush=True)
"""


def writer(first: int, count: int) -> subprocess.Popen[str]:
    tests = Path(__file__).parents[1]
    environ = os.environ | {"PYTHONPATH": os.pathsep.join((str(tests), str(tests.parent)))}
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, str(first), str(count)], stdout=subprocess.PIPE, text=True, env=environ
    )


@pytest.mark.parametrize("after", [1, 7, 40])
def test_kill_9_loses_at_most_the_pass_being_written(paths, after):
    process = writer(0, 100_000)
    written = [int(process.stdout.readline()) for _ in range(after)]
    process.send_signal(signal.SIGKILL)
    written += [int(line) for line in process.communicate()[0].splitlines() if line]
    with PracticeLog.open(paths) as log:
        assert log.messages == []
        found = [int(record.id) for record in log.each_pass()]
        # The last one may have been written before its number could be printed.
        assert found in (written, [*written, written[-1] + 1])
        assert log.count() == len(found)
        assert sum(tally.passes for tally in log.tallies(PASS.song_id)) == len(found)


def test_two_companions_at_once(paths):
    """Also at the first start, when both would make the file."""
    processes = [writer(0, 60), writer(1000, 60)]
    for process in processes:
        assert len(process.communicate(timeout=300)[0].splitlines()) == 60
        assert process.returncode == 0
    with PracticeLog.open(paths) as log:
        assert log.messages == []
        assert sorted(int(record.id) for record in log.each_pass()) == [*range(60), *range(1000, 1060)]
        assert log.count() == 120
    with sqlite3.connect(paths.log) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
