"""Sound is written into a file only where that was asked for, whole or not at all. Files are read again by soundfile, which knows nothing of who wrote them."""

from __future__ import annotations

import sys

import numpy as np
import pytest
import soundfile
from listening_ears import Ears
from whole_app import wait_until

from companion.sound.listening import RATE
from companion.sound.listening.capture import STALL_S
from companion.sound.listening.clocks import CAPTURE_RATE
from companion.sound.listening.live import GONE
from companion.sound.listening.messages import (
    EndRecord,
    MicrophoneOff,
    Record,
    Recorded,
    RecordFailed,
)
from companion.sound.listening.recorder import Recorder
from companion.sound.messages import Quit

HZ = 440.0


def tone(seconds: float) -> np.ndarray:
    """Of HZ, half of full scale."""
    return 0.5 * np.sin(2 * np.pi * HZ * np.arange(round(seconds * CAPTURE_RATE)) / CAPTURE_RATE)


def test_nothing_is_written_but_between_the_word_and_the_end(tmp_path):
    ears, path = Ears(), tmp_path / "songs" / "one.wav"
    ears.hear(tone(0.5))
    assert not list(tmp_path.iterdir())
    ears.tell(Record(str(path)))
    began_s = ears.now_s
    ears.hear(tone(1.0))
    assert not path.exists(), "nothing under a name that looks whole"
    ears.tell(EndRecord(keep=True))
    (recorded,) = wait_until(ears.told, "report")
    assert recorded.path == str(path) and recorded.late_s is None
    assert recorded.start_s == pytest.approx(began_s, abs=0.03)
    ears.hear(tone(0.5))
    assert list(path.parent.iterdir()) == [path]
    sound, rate = soundfile.read(path)
    assert rate == RATE and sound.ndim == 1
    assert (
        len(sound) / RATE == pytest.approx(recorded.end_s - recorded.start_s, abs=0.001)
        and 0.9 < len(sound) / RATE <= 1.03
    )
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound))))
    assert np.argmax(spectrum) * RATE / len(sound) == pytest.approx(HZ, abs=1.0)
    assert np.abs(sound).max() == pytest.approx(0.5, abs=0.02)


@pytest.mark.parametrize("how", ["refused", "app gone"])
def test_what_nobody_wants_any_more_leaves_nothing(tmp_path, how):
    ears = Ears()
    ears.tell(Record(str(tmp_path / "one.wav")))
    ears.hear(tone(0.2))
    if how == "refused":
        ears.tell(EndRecord(keep=False))
    else:
        ears.app.close()
        ears.process.turn(0.0)
        ears.process._recorder.close(None, keep=False)  # as `run` does at its end
    wait_until(lambda: not list(tmp_path.iterdir()), "empty folder")


@pytest.mark.parametrize("how", ["microphone gone", "told to leave"])
def test_what_breaks_off_is_kept_up_to_there_and_told_first(tmp_path, how):
    ears, path = Ears(), tmp_path / "one.wav"
    ears.tell(Record(str(path)))
    ears.hear(tone(0.5))
    if how == "told to leave":
        ears.tell(Quit())
    else:
        for _ in range(round(STALL_S / 0.1) + 2):
            ears.now_s += 0.1
            if not ears.process._running:
                break
            ears.process.turn(0.0)
    assert list(tmp_path.iterdir()) == [path] and soundfile.info(path).duration == pytest.approx(0.5, abs=0.05)
    if how == "microphone gone":
        told = []
        while ears.app.poll():
            told.append(ears.app.recv())
        assert isinstance(told[0], Recorded) and told[1:] == [MicrophoneOff(GONE)]


def test_what_was_lost_is_silence_so_that_all_else_stays_in_its_time(tmp_path):
    recorder, path = Recorder(), tmp_path / "one.wav"
    recorder.obey(Record(str(path)), None)
    loud = np.full(RATE // 10, 0.5, np.float32)
    for start_s in (5.0, 5.1, 5.6):
        recorder.hear(loud, start_s, None)
    recorder.close(0.03, keep=True)
    sound, _ = soundfile.read(path)
    assert len(sound) == round(0.7 * RATE)
    assert not sound[round(0.2 * RATE) : round(0.6 * RATE)].any() and (sound[round(0.6 * RATE) :] > 0.49).all()


def test_a_place_that_cannot_be_written_is_named(tmp_path):
    (tmp_path / "folder").write_text("no folder")
    recorder = Recorder()
    recorder.obey(Record(str(tmp_path / "folder" / "one.wav")), None)
    (failed,) = wait_until(recorder.take, "report")
    assert isinstance(failed, RecordFailed) and "one.wav cannot be written" in failed.sentence


@pytest.mark.skipif(sys.platform == "win32", reason="limits of Unix")
def test_a_full_disk_leaves_a_sentence_and_nothing_else(tmp_path):
    import resource

    recorder = Recorder()
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, limits[1]))  # no file of this process may grow further
    try:
        recorder.obey(Record(str(tmp_path / "one.wav")), None)
        for number in range(20):
            recorder.hear(np.zeros(RATE // 10, np.float32), number / 10, None)
        (failed,) = wait_until(recorder.take, "report")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
    assert isinstance(failed, RecordFailed) and "one.wav cannot be written" in failed.sentence
    assert recorder.close(None, keep=True) == []
    wait_until(lambda: not list(tmp_path.iterdir()), "empty folder")
