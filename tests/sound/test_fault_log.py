"""Why the sound process failed is kept: an exception, a crash in C, where it hung."""

from __future__ import annotations

import os
import signal
import sys

import pytest

from companion.sound import fault_log
from companion.sound.fault_log import MOST_BYTES
from companion.sound.link import SoundLink
from companion.sound.messages import Finished, Load, Notice, Ready, SoundConfig


@pytest.fixture
def log(tmp_path):
    return tmp_path / "data" / "sound-faults.txt"


@pytest.fixture
def link(log):
    with SoundLink(SoundConfig(mode="silent"), str(log)) as link:
        yield link


def test_the_traceback_of_a_process_that_dies_is_kept_and_the_sentence_names_the_file(link, log, read):
    reports = read(link)
    reports.wait_for(Ready)
    link.send(Load(None))  # what no app sends
    assert reports.wait_for(Notice).sentence.endswith("; see sound-faults.txt.")
    reports.wait_for(Ready)
    text = log.read_text()
    assert "Traceback (most recent call last)" in text and "AttributeError" in text and "player.py" in text
    assert "The sound process ended with 1." in text


@pytest.mark.skipif(sys.platform == "win32", reason="signals of Unix")
def test_a_crash_in_c_leaves_where_python_was(link, log, read):
    reports = read(link)
    reports.wait_for(Ready)
    os.kill(link.pid, signal.SIGSEGV)
    reports.wait_for(Finished)
    reports.wait_for(Ready)
    text = log.read_text()
    assert "Segmentation fault" in text and "process.py" in text and f"ended with -{signal.SIGSEGV:d}" in text


@pytest.mark.skipif(sys.platform == "win32", reason="signals of Unix")
def test_a_process_that_hangs_is_asked_where_it_is(link, log, read):
    read(link).wait_for(Ready)
    fault_log.ask(link.pid)
    assert "process.py" in log.read_text()


def test_what_is_older_is_cut_off_at_the_start(log):
    path = str(log)
    for number in range(3000):
        fault_log.write(path, f"entry {number} of a long year")
    assert log.stat().st_size > MOST_BYTES
    fault_log.trim(path)
    lines = log.read_text().splitlines()
    assert MOST_BYTES / 3 < log.stat().st_size < MOST_BYTES
    assert lines[-1].endswith("entry 2999 of a long year") and all("  entry " in line for line in lines)


def test_a_file_that_cannot_be_written_stops_nothing(tmp_path, read):
    (tmp_path / "data").write_text("not a folder")
    with SoundLink(SoundConfig(mode="silent"), str(tmp_path / "data" / "sound-faults.txt")) as link:
        reports = read(link)
        reports.wait_for(Ready)
        link.send(Load(None))
        reports.wait_for(Finished)
        reports.wait_for(Ready)
