"""Called changes through the sound process and its built-in sound, recorded: a spoken name begins on its beat."""

from __future__ import annotations

import shutil

import pytest
from sound.called_live import off_ms, take
from sound.test_rig import LostTime, OutOfTime, _in_time, rig, roomy  # noqa: F401  fixtures

NEAR_MS = 60.0
CALLS, TEMPO_BPM = 4, 80.0


@pytest.mark.rig
@pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="needs espeak-ng")
def test_spoken_names_begin_on_their_beat(rig, roomy, settings, tmp_path):  # noqa: F811
    def once() -> None:
        samples, lost_time = take(rig, settings, tmp_path / "speech", CALLS + 1, TEMPO_BPM)
        if lost_time:
            raise LostTime
        try:
            offs = off_ms(samples, CALLS + 1, TEMPO_BPM)
        except ValueError as error:
            raise OutOfTime(str(error)) from error
        if any(off is None or abs(off) >= NEAR_MS for off in offs):
            raise OutOfTime(f"off the beat by {offs} ms")

    _in_time(once)
