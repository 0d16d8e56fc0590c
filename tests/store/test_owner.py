"""Two companions at once: what one that still runs waits for is left to it, of one that was killed it is taken."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace

import pytest
from store.passes import PASS

from companion.session import untold
from companion.store.log.owner import Owner
from companion.store.log.patient_log import PatientLog
from companion.store.log.practice_log import PracticeLog

OTHER = """
import sys
from companion.session.untold import set_aside
from companion.store.log.patient_log import PatientLog
from companion.store.paths import find_paths
from store.passes import PASS
log = PatientLog.begin(find_paths())
log.write(set_aside(PASS.song_id, [PASS], log.owner.id))
assert log.settle(60)
print("waits", flush=True)
sys.stdin.read()
"""


@pytest.fixture
def other(paths):
    """Another companion, in which a pass waits."""
    with subprocess.Popen(
        [sys.executable, "-c", OTHER],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"waits\n"
        yield process
        process.kill()


def test_only_what_no_other_companion_waits_for_is_taken(paths, other) -> None:
    with PatientLog.begin(paths) as log:
        assert untold.take_back(log) == 0 and len(log.states(untold.KIND)) == 1
        log.write(untold.set_aside(PASS.song_id, [replace(PASS, id="mine")], log.owner.id))
        assert len(log.states(untold.KIND)) == 2, "neither is written over the other, though the song is one"
        log.write(untold.set_aside(PASS.song_id, (), log.owner.id))
        other.kill()
        other.wait()
        assert untold.take_back(log) == 1 and not log.states(untold.KIND)
    with PracticeLog.open(paths) as log:
        assert [record.id for record in log.passes()] == [PASS.id]


def test_what_an_older_companion_left_is_taken_and_nothing_is_locked_where_nothing_can_be(tmp_path) -> None:
    owner = Owner.begin(tmp_path / "none" / "running")
    assert owner.id == "" and not owner.runs("5")
    here = Owner.begin(tmp_path / "running")
    assert here.id and not any(here.runs(id) for id in ("", here.id, "x", "9" * 30))
    here.end()
    here.end()
    assert here.id == ""
