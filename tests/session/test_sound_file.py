"""Recordings in the formats that telephones write come to the same sound."""

from __future__ import annotations

import contextlib
import subprocess

import numpy as np
import pytest
import soundfile

from companion.errors import TakeError
from companion.session.sound_file import read_sound
from companion.sound.listening import RATE


def two_beeps(rate: int) -> np.ndarray:
    """A' for a second, from half a second on; in two channels."""
    at = np.arange(2 * rate) / rate
    beep = 0.5 * np.sin(2 * np.pi * 880.0 * at) * ((at >= 0.5) & (at < 1.5))
    return np.stack([beep, 0.5 * beep], axis=1)


@pytest.mark.parametrize("ending", ["wav", "flac", "mp3", "ogg"])
@pytest.mark.parametrize("rate", [44_100, 16_000])
def test_every_format_comes_to_the_same_sound(tmp_path, ending, rate):
    path = tmp_path / f"take.{ending}"
    soundfile.write(path, two_beeps(rate), rate)
    sound = read_sound(path)
    assert len(sound) == pytest.approx(2 * RATE, abs=0.1 * RATE)
    loud = np.flatnonzero(np.abs(sound) > 0.1)
    # MP3 begins some hundredths of a second later: its frames are longer than a beep's edge.
    assert loud[0] / RATE == pytest.approx(0.5, abs=0.08) and loud[-1] / RATE == pytest.approx(1.5, abs=0.08)
    middle = sound[int(0.75 * RATE) : int(1.25 * RATE)]
    assert np.argmax(np.abs(np.fft.rfft(middle))) * 2 == 880
    assert np.abs(middle).max() == pytest.approx(0.375, abs=0.06)


def test_the_library_writes_nothing_to_the_terminal(tmp_path, capfd):
    path = tmp_path / "take.mp3"
    soundfile.write(path, two_beeps(RATE), RATE)
    data = bytearray(path.read_bytes())
    data[3000:3400] = bytes(400)  # of this it would tell
    path.write_bytes(data)
    with contextlib.suppress(TakeError):
        read_sound(path)
    assert capfd.readouterr() == ("", "")


def test_other_formats_are_asked_of_ffmpeg(tmp_path, monkeypatch):
    path = tmp_path / "-take.m4a"
    path.write_bytes(b"\0\0\0\x18ftypM4A ")
    sound = two_beeps(RATE).mean(axis=1).astype("<f4")
    asked = []

    def run(command, **_):
        asked.append(command)
        return subprocess.CompletedProcess(command, 0, sound.tobytes(), b"")

    monkeypatch.setattr("shutil.which", lambda name: f"/bin/{name}")
    monkeypatch.setattr(subprocess, "run", run)
    assert np.array_equal(read_sound(path), sound)
    assert asked[0][0] == "/bin/ffmpeg" and f"file:{path}" in asked[0] and str(RATE) in asked[0]
    monkeypatch.setattr(subprocess, "run", lambda command, **_: subprocess.CompletedProcess(command, 1, b"", b"no"))
    with pytest.raises(TakeError, match=r"-take\.m4a: is not a recording that soundfile or ffmpeg can read"):
        read_sound(path)
