"""`companion practise` as a script has it through a pipe, and a student at a terminal."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys

import pytest
from cli.calls import PROGRAM, companion

from companion.session import untold
from companion.store.log.practice_log import PracticeLog

SILENT = [sys.executable, "-c", PROGRAM, "practise", "two-spoons", "--sound", "silent"]


def test_a_script_leads_it_through_a_pipe(paths) -> None:
    """In processes of its own, with silent sound; what it cannot obey ends it with 1, and all else is done."""
    lines = ["tempo 400", "loop 1-1", "from memory", "", *["wait", "ran"] * 3, "nonsense"]
    done = run("practise", "two-spoons", "--sound", "silent", "--json", stdin="\n".join(lines) + "\n", code=1)
    rows = [json.loads(line) for line in done.stdout.splitlines()]
    assert [row["told"] for row in rows][:2] == ["said", "sound"] and "Stop when it hurts." in rows[0]["words"]
    assert [row["words"] for row in [row for row in rows if row["told"] == "fault"]] and rows[-1]["told"] == "left"
    with PracticeLog.open(paths) as log:
        assert {(record.kind, record.loop_name) for record in log.passes("two-spoons")} == {("fade", "bar 1")}
    again = run("practise", "two-spoons", "--sound", "silent", "--json", stdin="quit\n")
    song = next(row for row in map(json.loads, again.stdout.splitlines()) if row["told"] == "song")
    assert (song["tempo"], song["loop"]) == (400, "bar 1"), "as it was left; the cautions never twice"
    assert "Stop when it hurts." not in again.stdout


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
def test_ctrl_c_leaves_cleanly(paths) -> None:
    with subprocess.Popen(
        SILENT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        process.stdin.write("tempo 400\nloop 1-1\nstart\n")
        process.stdin.flush()
        begun = 0
        for line in process.stdout:
            begun += line.startswith("A 1, bar 1")
            if begun == 3:
                break
        process.send_signal(signal.SIGINT)
        assert process.wait(timeout=300) == 130  # while more might still be typed
        out, err = process.communicate()
        assert not err
    assert out.splitlines()[-2:] == ["Stopped.", "What was done is kept."]
    with PracticeLog.open(paths) as log:
        assert log.passes("two-spoons")


def test_where_nobody_reads_any_more_it_ends_and_keeps_what_was_done(paths) -> None:
    with subprocess.Popen(
        [*SILENT, "--loop", "1-1", "--tempo", "400"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        process.stdin.write("start\n")
        process.stdin.flush()
        begun = 0
        while begun < 3:
            begun += process.stdout.readline().startswith("A 1, bar 1")
        process.stdout.close()
        assert process.wait(timeout=60) == 0
        assert not process.stderr.read()
    with PracticeLog.open(paths) as log:
        assert log.passes("two-spoons")


def test_a_song_or_today_is_needed() -> None:
    assert "Expected either a SONG or --today" in companion("practise", code=1).stderr
    assert "Expected either a SONG or --today" in companion("practise", "two-spoons", "--today", code=1).stderr


def run(*arguments: str, stdin: str = "", code: int = 0) -> subprocess.CompletedProcess[str]:
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, *arguments],
        input=stdin,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == code, done.stdout + done.stderr
    assert not done.stderr, done.stderr
    return done


@pytest.mark.skipif(sys.platform == "win32", reason="terminals of POSIX")
def test_at_a_terminal_lines_are_typed_and_ctrl_d_leaves(paths) -> None:
    """Plain lines: no sign that steers a terminal; a line that cannot be is no fault of the student's there."""
    import pty

    ours, theirs = pty.openpty()
    with subprocess.Popen(
        [*SILENT, "--loop", "1-1", "--tempo", "400"],
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
    ) as process:
        os.close(theirs)
        said = b""
        for awaited, typed in (
            (b"An empty line starts it.", b"\n"),
            (b"\r\nA 1, bar 1: D6, root-third D3 F#3.", b"nonsense\n"),
            (b"is nothing to be done here", b"stop\n"),
            (b"Stopped.", b"\x04"),
        ):
            while awaited not in said:
                said += os.read(ours, 4096)
            os.write(ours, typed)
        assert process.wait(timeout=60) == 0
        said += os.read(ours, 4096)
    os.close(ours)
    assert said.endswith(b"What was done is kept.\r\n") and b"\x1b" not in said


def test_what_waits_for_a_word_outlives_the_hardest_end(paths) -> None:
    """Killed while three passes wait: the next start has them in the log."""
    with subprocess.Popen([*SILENT, "--json"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdin is not None and process.stdout is not None
        process.stdin.write("tempo 400\nloop 1-1\nfrom memory\n\n")
        process.stdin.flush()
        rows = map(json.loads, process.stdout)
        next(row for row in rows if row["told"] == "untold" and row["count"] >= 3)
        try:
            while not waits_in(paths, 3):  # it is written by a thread of its own
                assert next(rows)["told"] != "stopped", "it stopped, and nothing was kept"
        finally:
            process.kill()
    kept = waits_in(paths, 3)
    run("practise", "two-spoons", "--sound", "silent", stdin="quit\n")
    with PracticeLog.open(paths) as log:
        assert [record.id for record in log.passes("two-spoons")] == kept
        assert {record.fact for record in log.passes("two-spoons")} == {""} and not log.states(untold.KIND)


def waits_in(paths, count: int) -> list[str]:
    """The ids of passes that wait in the log, where it are so many."""
    with PracticeLog.open(paths) as log:
        ids = [row["id"] for state in log.states(untold.KIND) for row in state.value]
    return ids if len(ids) >= count else []


def test_from_memory_proposes_a_section_where_it_would_hide_the_whole_form() -> None:
    """As the app's list does, once; who says it again, or chose a section, means it."""
    lines = ["from memory", "from memory", "play along", "loop A", "from memory"]
    said = run("practise", "ferry-at-half-past-six", "--sound", "silent", stdin="\n".join(lines)).stdout
    assert said.count('A section is learned sooner than the whole form: "loop A", then "from memory".') == 1
