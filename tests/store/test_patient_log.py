"""The practice log of a session: writing is waited for by nobody, what waits is seen, and a file that is gone is made again."""

from __future__ import annotations

import shutil
import sqlite3
import threading
from dataclasses import replace
from datetime import UTC

import pytest
from store.older_log import row_of_then
from store.passes import PASS, numbered

from companion.practice.planning.totals import day_totals, tallies
from companion.store.log.entry import Entry, SavedState
from companion.store.log.patient_log import PatientLog
from companion.store.log.practice_log import GONE, PracticeLog

FADE = SavedState(PASS.song_id, "0-3", "fade", {"round": 3}, "left")


@pytest.fixture
def log(paths):
    log = PatientLog.open(paths, zone=UTC)
    yield log
    log.close()


def ids(log) -> list[str]:
    return [record.id for record in log.passes()]


def in_file(paths) -> list[str]:
    with PracticeLog.open(paths) as log:
        return ids(log)


def test_nobody_waits_for_the_disk(paths, log, monkeypatch):
    """A disk that takes as long as it likes: handing in a pass returns, and all that is read has it."""
    slow, writers = threading.Event(), []
    write = PracticeLog._write

    def write_slowly(self, work):
        writers.append(threading.current_thread())
        assert slow.wait(30)
        write(self, work)

    monkeypatch.setattr(PracticeLog, "_write", write_slowly)
    records = [replace(numbered(number), hands=hands) for number, hands in enumerate(("left", "right", "left"))]
    for record in records:
        log.write(Entry(record, (FADE,)))
    assert log.passes_waiting == 3 and not log.settle(0.0)
    assert log.passes() == list(log.each_pass()) == records and log.count() == 3
    assert log.passes(hands="right") == records[1:2] and log.passes(limit=1) == records[2:]
    assert log.day_totals() == list(day_totals(records, UTC)) and log.tallies(PASS.song_id) == list(tallies(records))
    assert log.state(*FADE.place) == FADE.value and log.states("fade") == [FADE]
    slow.set()
    log.close()
    assert in_file(paths) == ["0", "1", "2"], "closing waits, and the order is kept"
    assert threading.current_thread() not in writers


def test_a_pass_and_what_it_leaves_is_one_transaction(paths, log):
    commits = []
    log.add_pass(numbered(0))
    log.settle()
    log._file._connection.set_trace_callback(lambda sql: commits.append(sql) if sql == "COMMIT" else None)
    recall = SavedState(PASS.song_id, "A", "recall", "a card", "left")
    log.write(Entry(numbered(1), (FADE, recall)))
    log.settle()
    assert commits == ["COMMIT"]
    with PracticeLog.open(paths) as again:
        assert ids(again) == ["0", "1"] and again.states() == [FADE, recall]


@pytest.mark.parametrize("gone", ["the file", "the folder", "another in its place"])
def test_a_log_that_is_gone_is_made_again_with_all_of_this_session(paths, log, gone):
    log.add_pass(numbered(0))
    log.write(Entry(numbered(1), (FADE,)))
    log.settle()
    if gone == "the folder":
        shutil.rmtree(paths.data)
    else:
        for path in paths.data.iterdir():
            path.unlink()
    if gone == "another in its place":
        with PracticeLog.open(paths) as other:
            other.add_pass(numbered(7))
    said = []
    log.on_message = lambda: said.append(log.messages[-1])
    log.add_pass(numbered(2))
    log.settle()
    assert log.messages == said == ([] if gone == "another in its place" else [GONE])
    expected = ["0", "1", "2", "7"] if gone == "another in its place" else ["0", "1", "2"]
    assert ids(log) == expected == in_file(paths) and log.count() == len(expected)
    assert log.state(*FADE.place) == FADE.value and log.passes_waiting == 0


def test_a_log_that_is_gone_is_seen_by_who_reads_first(paths, log):
    log.add_pass(numbered(0))
    log.settle()
    shutil.rmtree(paths.data)
    assert ids(log) == ["0"] and log.count() == 1
    log.settle()
    assert in_file(paths) == ["0"] and log.messages == [GONE]


def test_a_folder_that_cannot_be_made_again_yet(paths, log):
    log.add_pass(numbered(0))
    log.settle()
    shutil.rmtree(paths.data)
    paths.data.write_text("in the way")
    log.add_pass(numbered(1))
    log.settle()
    assert log.passes_waiting and "not in the practice log yet" in log.messages[-1]
    paths.data.unlink()
    log.add_pass(numbered(2))
    log.settle()
    assert in_file(paths) == ["0", "1", "2"] and "can be written again" in log.messages[-1]


def test_a_pass_that_is_deleted_while_it_is_kept_does_not_come_back(paths, log):
    for number in range(3):
        log.add_pass(numbered(number, song_id="two-spoons" if number else PASS.song_id))
    log.delete_all("two-spoons")
    assert ids(log) == ["0"]
    log.add_pass(numbered(3))
    log.settle()
    assert in_file(paths) == ["0", "3"]


def test_what_was_kept_before_it_was_kept_by_hands(paths):
    """A log of the step before: what is known is the left hand's, but for what another hand played last."""
    from companion.store.log.migrations import MIGRATIONS, migrate

    paths.data.mkdir(parents=True)
    steps = MIGRATIONS[: [step.name for step in MIGRATIONS].index("hands")]
    connection = sqlite3.connect(paths.log, isolation_level=None)
    migrate(connection, steps)
    records = [
        numbered(0, clean=True),
        numbered(1, hands="right", clean=True, tempo_bpm=70.0),
        numbered(2, song_id="two-spoons", sections=("A",), cues=0.0),
        numbered(3, song_id="two-spoons", sections=("A",), cues=0.0, hands="right", loop=(0, 1, 8)),
        numbered(4, song_id="two-spoons", hands="both", broken=True, fact=""),
    ]
    for record in records:
        row = row_of_then(connection, record, UTC)
        names = ", ".join(row)
        connection.execute(f"INSERT INTO pass ({names}) VALUES ({', '.join(':' + name for name in row)})", row)
        if not record.broken:
            total = (record.song_id, row["day"], 24.5, 1, row["clean"], None)
            connection.execute("INSERT OR REPLACE INTO day_total VALUES (?, ?, ?, ?, ?, ?)", total)
            tally = (
                record.song_id,
                row["loop"],
                row["sections"],
                record.hands,
                "four",
                92,
                record.cues <= 0,
                row["clean"],
            )
            connection.execute("INSERT INTO tally VALUES (?, ?, ?, ?, ?, ?, ?, 1, ?)", tally)
    for song_id, loop_key, kind in (
        (PASS.song_id, "0-3", "fade"),
        (PASS.song_id, "0-3", "climb"),
        ("two-spoons", "A", "recall"),
        ("two-spoons", "0-3", "fade"),
        ("two-spoons", "0,1,8", "fade"),
        ("", "", "plan"),
    ):
        connection.execute("INSERT INTO state VALUES (?, ?, ?, '1')", (song_id, loop_key, kind))
    connection.close()
    with PracticeLog.open(paths, zone=UTC) as log:
        assert log.passes(broken=True) == records
        assert {(state.song_id, state.loop_key, state.kind): state.hands for state in log.states()} == {
            (PASS.song_id, "0-3", "fade"): "right",
            (PASS.song_id, "0-3", "climb"): "left",
            ("two-spoons", "A", "recall"): "right",
            ("two-spoons", "0-3", "fade"): "left",
            ("two-spoons", "0,1,8", "fade"): "right",
            ("", "", "plan"): "",
            (PASS.song_id, "", "former_shells"): "",
            ("two-spoons", "", "former_shells"): "",
        }
        assert {state.key for state in log.states()} == {""} and all(state.value == 1 for state in log.states())
        assert log.day_totals() == list(day_totals(records, UTC))
        assert [day.best_bpm for day in log.day_totals(PASS.song_id)] == [92.0, 70.0]
