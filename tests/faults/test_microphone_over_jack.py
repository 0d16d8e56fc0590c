"""An acoustic piano heard by the real listening process: FluidSynth through a JACK server into our capture, the companion's click and bass beside it. Figures are
for tests/bench/microphone.py; here it goes on until what must be told was told, however busy the machine."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest
from desk import put
from faults.test_devices import mortal  # noqa: F401  a fixture
from listening_live import MicrophoneGone, Player, live_room, practise
from session_songs import FOUR

from companion.session.drill import DrillSettings, new_drill
from companion.session.practice import Practice
from companion.sound.listening.verdicts import NOT_SURE, RIGHT
from companion.store.log.patient_log import PatientLog

pytestmark = pytest.mark.rig
BPM = 132.0


def written_by(pid: int) -> list[str]:
    """The files on a disk that a process has open for writing."""
    found = []
    for link in Path(f"/proc/{pid}/fd").iterdir():
        try:
            path, about = os.readlink(link), Path(f"/proc/{pid}/fdinfo/{link.name}").read_text()
            is_file = stat.S_ISREG(link.stat().st_mode)
        except OSError:  # closed meanwhile
            continue
        flags = int(next(line for line in about.splitlines() if line.startswith("flags")).split()[1], 8)
        if is_file and flags & os.O_ACCMODE and not path.startswith(("/dev/", "/memfd:")):
            found.append(path)
    return found


TRIES = 3  # a server on a busy machine may throw the capture out


def test_a_pass_is_heard_and_marked_and_no_sound_is_kept(mortal, paths, settings, tmp_path):  # noqa: F811
    for number in range(TRIES):
        (folder := tmp_path / f"room{number}").mkdir()
        try:
            with live_room(folder, None) as room, PatientLog.begin(paths) as log:
                hear_a_pass(room, log, settings)
            break
        except MicrophoneGone:
            if number + 1 == TRIES:
                raise


def hear_a_pass(room, log, settings) -> None:
    stand = put(FOUR, settings, pattern="two", bass="roots").with_tempo(BPM)
    practice = Practice(stand, new_drill(stand, "play", DrillSettings()), log)
    practice.microphone = lambda: True
    player = Player(room.hands, 60.0 / BPM, kinds=("semitone",), slips=lambda number: number % 4 == 3)
    open_files: list[str] = []

    def told() -> bool:
        told = [strike for strike in player.played.values() if strike.said is not None]
        clean = [strike for strike in told if not strike.slip and strike.said.verdict.kind == RIGHT]
        slips = [strike for strike in told if strike.slip and strike.said.verdict.kind not in (RIGHT, NOT_SURE)]
        return len(clean) >= 3 and bool(slips) and any(record.heard_by for record in log.passes())

    results = practise(room, practice, player, told, lambda beat: open_files.extend(written_by(room.microphone.pid)))
    assert any(result.record.heard_by == "microphone" for result in results)
    assert open_files == []
