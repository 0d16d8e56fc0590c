"""`companion log`, `companion today` and `companion report`, as a student calls them."""

from __future__ import annotations

import csv
import io
import json
import os
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from cli.calls import companion
from store.passes import PASS

from companion.store.log.practice_log import PracticeLog


@pytest.fixture
def filled(paths):
    """Three passes of this day and one of a song that has no file any more."""
    now = datetime.now(UTC)
    with PracticeLog.open(paths) as log:
        for number in range(3):
            started = (now - timedelta(minutes=10 - number)).isoformat()
            log.add_pass(replace(PASS, id=str(number), started_at=started, clean=number > 0))
        log.add_pass(
            replace(
                PASS,
                id="gone",
                song_id="gone",
                title="Gone",
                source="told",
                fact="ran",
                slipped=(),
                started_at=now.isoformat(),
            )
        )
        log.put_state("left-sock-blues", "0-11", "working_bpm", "90.00", "left")
    return paths


def ids(text: str) -> list[str]:
    return [row["id"] for row in json.loads(text)]


def test_an_empty_log() -> None:
    assert companion("log").stdout == "Nothing was played yet.\n"
    assert companion("log", "two-spoons").stdout == "two-spoons was not played yet.\n"
    assert json.loads(companion("log", "--json").stdout) == []
    assert len(companion("log", "--csv").stdout.splitlines()) == 1
    assert json.loads(companion("log", "--all").stdout) == {"passes": [], "days": [], "states": []}


def test_the_log_for_people(filled) -> None:
    lines = companion("log").stdout.splitlines()
    assert lines[0].startswith("4 passes, 2 minutes on ") and lines[0].endswith("The latest 4:")
    assert lines[2].split()[2:5] == ["Left", "Sock", "Blues"] and lines[2].endswith("75 % right")
    assert "clean" in lines[3] and "clean" not in lines[2] and lines[5].endswith("it ran")
    assert companion("log", "Left Sock Blues").stdout.startswith("3 passes")


def test_the_log_for_programs(filled) -> None:
    assert ids(companion("log", "--json").stdout) == ["0", "1", "2", "gone"]
    assert ids(companion("log", "left-sock-blues", "--json").stdout) == ["0", "1", "2"]
    assert ids(companion("log", "gone", "--json").stdout) == ["gone"], "its file is gone, its passes are not"
    rows = list(csv.DictReader(io.StringIO(companion("log", "--csv").stdout)))
    assert [row["id"] for row in rows] == ["0", "1", "2", "gone"] and json.loads(rows[0]["chords"]) == list(PASS.chords)
    everything = json.loads(companion("log", "--all").stdout)
    assert len(everything["passes"]) == 4 and everything["states"][0]["value"] == "90.00"


@pytest.mark.parametrize("answer", ["", "\n", "no\n", "n\n", "delete\n"])
def test_deleting_asks_first(filled, answer) -> None:
    done = companion("log", "--delete", stdin=answer)
    assert done.stdout.startswith(
        "This deletes everything the companion remembers: 4 passes, for good. Type yes to delete: "
    )
    assert done.stdout.endswith("Nothing was deleted.\n")
    assert len(ids(companion("log", "--json").stdout)) == 4


def test_deleting(filled) -> None:
    done = companion("log", "left-sock-blues", "--delete", stdin="Yes\n")
    assert "everything it remembers of left-sock-blues: 3 passes" in done.stdout and done.stdout.endswith(
        "Deleted 3 passes.\n"
    )
    assert ids(companion("log", "--json").stdout) == ["gone"]
    copy = filled.log.with_name(f"{filled.log.name}.damaged-2026-01-01")
    copy.write_text("old")
    done = companion("log", "--delete", "--yes")
    assert done.stdout == f"Deleted 1 pass.\nA damaged log set aside earlier is still there: {copy}\n"
    assert json.loads(companion("log", "--all").stdout) == {"passes": [], "days": [], "states": []}


def test_options_that_do_not_go_together() -> None:
    assert "--yes goes with --delete only" in companion("log", "--yes", code=1).stderr
    assert "--all prints everything" in companion("log", "two-spoons", "--all", code=1).stderr
    assert "not allowed with argument" in companion("log", "--json", "--delete", code=2).stderr
    assert "There is no song 'tow-spoons': did you mean two-spoons" in companion("log", "tow-spoons", code=1).stderr


def test_a_damaged_log_is_said_on_stderr(filled) -> None:
    filled.log.write_bytes(b"damaged" * 1000)
    done = companion("log", "--json")
    assert json.loads(done.stdout) == [] and "The practice log was damaged: it was set aside as" in done.stderr


def test_a_log_that_cannot_be_had(paths) -> None:
    paths.log.mkdir(parents=True)
    for command in (("log",), ("report", "two-spoons")):
        error = companion(*command, code=1).stderr
        assert error.count("\n") == 1 and "it cannot be opened" in error
    done = companion("today")
    assert "Kettle on the Sill" in done.stdout and "it cannot be opened" in done.stderr, "practice goes on"


def test_today(filled) -> None:
    plan = json.loads(companion("today", "--minutes", "10", "--json").stdout)
    assert plan["minutes"] == 10 == sum(item["minutes"] for item in plan["items"])
    assert {item["song_id"] for item in plan["items"]} == {"left-sock-blues"}
    text = companion("today").stdout
    assert text.startswith(f"10 minutes on {plan['day']}\n") and "[ ]" in text, "the plan there is"
    assert all(len(line) <= 80 for line in text.splitlines())
    assert "expected a whole number from 5 to 120" in companion("today", "--minutes", "4", code=2).stderr


def test_a_report(filled, tmp_path) -> None:
    text = companion("report", "Left Sock Blues").stdout
    assert text.startswith("Left Sock Blues   Eb   4/4   ") and "has settled at 90" in text
    path = tmp_path / "report.html"
    assert companion("report", "left-sock-blues", "--html", str(path)).stdout == f"Written to {path}\n"
    assert path.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_a_report_replaces_nothing_that_it_should_not(filled, tmp_path) -> None:
    here, link, dangling, pipe = (tmp_path / name for name in ("here.html", "link.html", "dangling.html", "pipe"))
    here.write_text("mine")
    link.symlink_to(here)
    dangling.symlink_to(tmp_path / "elsewhere.html")
    os.mkfifo(pipe)

    def report(path: object, *more: str, code: int = 1) -> str:
        return companion("report", "left-sock-blues", "--html", str(path), *more, code=code).stderr

    for path in (here, link):
        assert "is there already; give another name, or --force to replace it" in report(path)
    for more in ((), ("--force",)):
        assert "which is not there" in report(dangling, *more)
        assert "is not an ordinary file" in report(pipe, *more)
        assert "is not an ordinary file" in report("/dev/null", *more)
        assert "is a folder" in report(tmp_path, *more)
        assert "make it first" in report(tmp_path / "none" / "report.html", *more)
    assert here.read_text() == "mine" and pipe.is_fifo() and not (tmp_path / "elsewhere.html").exists()
    report(link, "--force", code=0)
    assert link.is_symlink() and here.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_no_cell_of_the_table_is_a_formula_to_a_spreadsheet(paths) -> None:
    """OWASP, "CSV Injection": cells that begin with = + - @, tab or carriage return. A title comes from a file that
    somebody sent."""
    bad = ("=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "＝1")
    with PracticeLog.open(paths) as log:
        for number, title in enumerate(bad):
            log.add_pass(replace(PASS, id=str(number), title=title, offset_ms=-12.5))
    rows = list(csv.DictReader(io.StringIO(companion("log", "--csv").stdout, newline="")))
    shown = ["'" + title.replace("\t=", "\t=").replace("\r", "\\r") for title in bad]
    assert [row["title"] for row in rows] == shown
    assert {row["offset_ms"] for row in rows} == {"-12.5"}, "a number stays one"


def test_where_names_the_log(paths) -> None:
    assert str(paths.log) in companion("where").stdout
