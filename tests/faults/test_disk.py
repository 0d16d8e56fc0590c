"""A full disk, a log that another program holds, a read-only home: practising goes on, it is said, and every pass is kept that can be."""

from __future__ import annotations

import sqlite3

import pytest
from faults.disk_desk import break_off, companion, go_on, is_one_sentence, practise
from store.passes import PASS, numbered

from companion.store.log.entry import Entry
from companion.store.log.patient_log import NOT_REMEMBERED, PatientLog
from companion.store.log.practice_log import PracticeLog


def ids(log) -> list[str]:
    return [record.id for record in log.each_pass()]


# --- the practice log


@pytest.mark.parametrize("kind", ["play", "fade", "climb", "fade+climb"])
def test_what_is_played_on_a_full_disk_is_kept_once_there_is_room(disk, settings, kind):
    log = PatientLog.begin(disk.paths)
    played = []
    watched = Watched(log, played)
    desk = practise(watched, settings, kind)
    go_on(desk, 2)
    assert ids(log) == played and log.messages == []
    disk.fill()
    go_on(desk, 6)
    assert len(played) == 6 and log.passes_waiting >= 3, "all but what found a last corner"
    assert log.messages[-1] == f"{log.passes_waiting} passes not in the practice log yet: the disk is full."
    assert [record.id for record in PracticeLog.each_pass(log)] == played[: 6 - log.passes_waiting], "in the file"
    assert ids(log) == played == [record.id for record in log.passes()], "Today and Progress see what waits"
    assert log.count() == 6 == sum(tally.passes for tally in log.tallies("a-song"))
    assert sum(day.passes for day in log.day_totals("a-song", hands="left")) == 6
    waiting = {state: watched.state(*state) for state in watched.states}
    disk.make_room()
    go_on(desk, 7)
    assert ids(log) == played and len(played) == 7 and log.passes_waiting == 0
    assert "can be written again" in log.messages[-1]
    break_off(desk)
    log.close()
    with PracticeLog.open(disk.paths) as log:
        assert log.messages == [] and ids(log) == played
        assert log.count() == 7 == sum(tally.passes for tally in log.tallies("a-song"))
        assert bool(waiting) == (kind != "play")
        assert all(log.state(*state) is not None for state in waiting)


class Watched:
    """A log that notes what it was given."""

    def __init__(self, log, played: list[str]) -> None:
        self._log, self._played, self.states = log, played, set()

    def add_pass(self, record) -> None:
        self.write(Entry(record))

    def write(self, entry) -> None:
        self._played.append(entry.record.id)
        self.states |= {state.place for state in entry.states if state.value is not None}
        self._log.write(entry)

    def settle(self) -> None:
        self._log.settle()

    def state(self, *state):
        return self._log.state(*state)


def test_a_drill_goes_on_where_it_stood_while_nothing_can_be_written(disk, settings):
    """What is kept between stretches is read back from what waits, not from what the disk had before."""
    log = PatientLog.begin(disk.paths)
    desk = practise(log, settings, "fade")
    go_on(desk, 1)
    disk.fill()
    for number in range(40):  # until not even a few bytes find a place
        log.put_state("another", "", "filler", "x" * number)
        log.settle()
    go_on(desk, 4)
    waiting = log.state("a-song", "0-3", "fade", "left")
    with PracticeLog.open(disk.paths) as on_disk:
        assert waiting is not None and waiting != on_disk.state("a-song", "0-3", "fade", "left")
    assert waiting in [state.value for state in log.states("fade", "a-song")]
    break_off(desk)
    disk.make_room()
    log.close()
    with PracticeLog.open(disk.paths) as on_disk:
        assert waiting == on_disk.state("a-song", "0-3", "fade", "left")


def test_what_can_never_be_written_is_said_at_the_end(disk, settings):
    log = PatientLog.begin(disk.paths)
    desk = practise(log, settings)
    go_on(desk, 1)
    disk.fill()
    go_on(desk, 4)
    break_off(desk)
    lost = log.passes_waiting
    log.close()
    assert log.messages[-1] == f"{lost} passes could not be written to the practice log and are lost: the disk is full."
    disk.make_room()
    with PracticeLog.open(disk.paths) as log:
        assert log.messages == [] and log.count() == 4 - lost


def test_a_disk_that_is_full_at_the_start_is_no_end_of_the_log(disk, settings):
    disk.fill()
    log = PatientLog.begin(disk.paths)
    assert len(log.messages) == 1 and "the disk is full" in log.messages[0] and log.messages[0].endswith(NOT_REMEMBERED)
    desk = practise(log, settings)
    go_on(desk, 3)
    assert log.count() == 3 and log.path is None, "Today and Progress show the evening all the same"
    disk.make_room()
    go_on(desk, 4)
    assert log.path and "can be written again: 4 passes" in log.messages[-1]
    break_off(desk)
    log.close()
    with PracticeLog.open(disk.paths) as log:
        assert log.count() == 4


def test_a_log_held_by_another_program_for_long(paths, settings):
    log = PatientLog.begin(paths)
    log.wait(0.01)  # for another program
    desk = practise(log, settings, "fade")
    go_on(desk, 1)
    holder = sqlite3.connect(paths.log, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    go_on(desk, 5)
    assert (
        log.passes_waiting == 4
        and log.messages[-1] == "4 passes not in the practice log yet: another program holds it."
    )
    assert PracticeLog.count(log) == 1 and log.count() == 5
    holder.execute("ROLLBACK")
    go_on(desk, 6)
    assert log.count() == 6 and log.passes_waiting == 0
    started = [record.started_at for record in log.each_pass()]
    assert started == sorted(started), "in the order in which they were played"
    break_off(desk)
    log.close()
    holder.close()


def test_a_log_held_when_the_app_starts_takes_over_what_was_played_meanwhile(paths, settings, monkeypatch):
    from companion.store.log import patient_log

    monkeypatch.setattr(patient_log, "BRIEFLY_S", 0.01)
    with PracticeLog.open(paths) as log:
        log.put_state("a-song", "0-3", "fade", {"of": "a year ago"}, "left")
        log.put_state("a-song", "A", "recall", "of months", "left")
    holder = sqlite3.connect(paths.log, isolation_level=None)
    holder.execute("PRAGMA locking_mode = EXCLUSIVE")
    holder.execute("BEGIN EXCLUSIVE")
    holder.execute("INSERT INTO state VALUES ('x', '', '', '', 'x', '1')")
    holder.execute("COMMIT")
    log = PatientLog.begin(paths)
    assert "another program holds it" in log.messages[0] and NOT_REMEMBERED in log.messages[0]
    log.put_state("a-song", "0-3", "fade", {"of": "this evening"}, "left")
    for section in "AB":
        log.put_state("a-song", section, "recall", "new", "left")
    desk = practise(log, settings)
    go_on(desk, 2)
    holder.close()
    go_on(desk, 3)
    break_off(desk)
    log.close()
    with PracticeLog.open(paths) as log:
        assert log.count() == 3
        assert log.state("a-song", "0-3", "fade", "left") == {"of": "this evening"}, "where the drill stands"
        assert log.state("a-song", "A", "recall", "left") == "of months", "is worth more than one evening's"
        assert log.state("a-song", "B", "recall", "left") == "new"


# --- a log that was cut off


def test_a_long_log_cut_off_at_byte_after_byte(paths, deep):
    """The log begins anew, says so, keeps the pieces and takes the next pass; only an empty file was no log yet."""
    with PracticeLog.open(paths) as log:
        log._connection.execute("PRAGMA synchronous = OFF")
        for number in range(3000 if deep else 120):
            log.add_pass(numbered(number))
    whole = paths.log.read_bytes()
    assert len(whole) > (1_000_000 if deep else 60_000)
    for cut in range(0, len(whole), 1000 if deep else 3000):
        paths.log.write_bytes(whole[:cut])
        log = PatientLog.begin(paths)
        log.add_pass(PASS)
        log.close()
        if cut:
            assert len(log.messages) == 1 and "was damaged: it was set aside as" in log.messages[0], cut
            (kept,) = log.damaged_copies()
            assert kept.read_bytes() == whole[:cut]
        else:
            assert log.messages == []
        with PracticeLog.open(paths) as again:
            assert ids(again) == [PASS.id] and again.messages == []
        for path in paths.data.iterdir():
            path.unlink()


def test_what_a_sudden_end_left_beside_the_log_cut_off_at_byte_after_byte(paths, deep):
    """SQLite writes a pass beside the log first (https://www.sqlite.org/wal.html): every pass before the cut is still there."""
    log = PracticeLog.open(paths)
    log._connection.execute("PRAGMA synchronous = OFF")
    count = 40 if deep else 9
    for number in range(count):
        log.add_pass(numbered(number))
    beside = paths.log.with_name(paths.log.name + "-wal")
    whole, wal = paths.log.read_bytes(), beside.read_bytes()
    log.close()
    found = []
    for cut in [*range(0, len(wal), 1000 if deep else 3000), len(wal)]:
        for path in paths.data.iterdir():
            path.unlink()
        paths.log.write_bytes(whole)
        beside.write_bytes(wal[:cut])
        with PracticeLog.open(paths) as log:
            found.append(len(ids(log)))
            assert ids(log) == [str(number) for number in range(found[-1])] and log.count() == found[-1]
            assert log.messages == [] or found[-1] == 0
    assert found == sorted(found) and found[-1] == count and len(set(found)) == count + 1


def test_the_log_of_a_home_that_can_only_be_read(disk):
    with PracticeLog.open(disk.paths) as log:
        log.add_pass(PASS)
    disk.lock()
    for command in (["log"], ["report", "left-sock-blues"]):
        done = companion(*command, home=disk.home)
        assert done.returncode == 1 and is_one_sentence(done.stderr)
    disk.unlock()
    assert companion("log", home=disk.home).stdout.startswith("1 pass,")
