"""A performance that the microphone recorded, by a sampled piano: marked by the clock it was played to, kept with its sound, listed and thrown away with it."""

from __future__ import annotations

import os
import wave

import numpy as np
import pytest
import soundfile
from desk import put
from listening_takes import add
from performed import AT, BEGAN_S, Evening
from pianos_sampled import RATE, bank, is_here
from session_songs import SUNG_FOUR

from companion.arranging.choice import ArrangementChoice
from companion.errors import TakeError
from companion.session.performed import NOT_FOUND, is_achieved, keep_and_mark, keep_unmarked, sound_again
from companion.session.sound_recording import LOST, NO_ANSWER, PATIENCE_S
from companion.sound.listening.live import GONE
from companion.sound.listening.messages import EndRecord, MicrophoneOff, Record, Recorded, RecordFailed
from companion.sound.messages import SPOKEN_RATE
from companion.store.paths import find_paths
from companion.store.performances import folder_of, forget_performance, kept_performances

PIANO = "timgm"
# The file begins before the count-in; what is struck is heard late, by another clock.
BEFORE_S, LATE_S, PPM = 0.31, 0.07, 80e-6


@pytest.fixture
def paths(tmp_path):
    return find_paths({"COMPANION_HOME": str(tmp_path)})


@pytest.fixture
def stand(settings):
    arranged = ArrangementChoice(intro="dominant", ending="held")
    return put(SUNG_FOUR, settings).with_tempo(150.0).change(hands="both", arranged=arranged)


def begin(stand, paths, **played) -> tuple[Evening, str]:
    """A performance that ended, its sound still to be told of; and where that is to lie."""
    evening = Evening(stand)
    folder = folder_of(paths, stand.original.id)
    evening.play("left", folder=folder, **played)
    (path,) = [message.path for message in evening.link.sent if isinstance(message, Record)]
    return evening, path


def write(path: str, sound: np.ndarray) -> None:
    os.makedirs(os.path.dirname(path), exist_ok=True)
    with wave.open(path, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes((np.clip(sound, -1, 1) * 32767).astype(np.int16).tobytes())


def tell(evening: Evening, path: str, seconds: float, late_s: float | None = None) -> None:
    evening.hear(evening.now_s, Recorded(path, BEGAN_S - BEFORE_S, BEGAN_S - BEFORE_S + seconds / (1.0 + PPM), late_s))


@pytest.mark.skipif(not is_here(PIANO), reason="no sampled piano")
def test_the_whole_tune_is_marked_in_one_row_and_no_slip_is_made_up(stand, paths):
    """Both hands from introduction to ending, as two hands play: one slip of the left, and nothing else is held against the player."""
    evening, path = begin(stand, paths)
    rng = np.random.default_rng(3)
    due = evening.due("left", "right")
    form = [each for each in evening.due("left") if each[0] > 9.0]
    slipped = form[0][0]  # of the tune's second bar
    sound = np.zeros(int((due[-1][1] + 2.0) * RATE), np.float32)
    for start, end, key in due:
        key += start == slipped and key < 60
        at_s = (start + BEFORE_S + LATE_S + rng.normal(0, 0.01)) * (1.0 + PPM)
        add(sound, bank(PIANO), key, int(rng.integers(55, 85)), at_s, end - start)
    sound += 1e-3 * np.abs(sound).max() * rng.normal(size=len(sound)).astype(np.float32)
    write(path, sound)
    tell(evening, path, len(sound) / RATE)
    performed = evening.performing.performed
    assert performed.whole and performed.was_played and not performed.keys
    kept = keep_and_mark(stand, performed, paths)
    head, marks, *_ = kept.words
    assert head.endswith("to the end, by the microphone.") and is_achieved(performed, kept)
    left, right = ([int(word) for word in part.split() if word.isdigit()] for part in marks.split(","))
    assert left[1] - left[0] == 1 and left[1] >= 7, "of the low root of the ending nothing can be heard"
    assert right[0] == right[1] >= 10
    assert "1 pass" in kept.at_length and "by the click" in kept.at_length and "Not sure of" in kept.at_length
    assert "Listened without a piano learned before" in kept.at_length
    listed, again = kept_performances(folder_of(paths, stand.original.id)), sound_again(kept.recording)
    assert listed == [kept] and str(kept.recording) == path
    assert again[1] == pytest.approx(len(sound) / RATE, abs=0.1) and len(again[0].samples) == round(
        2 * again[1] * SPOKEN_RATE
    )
    forget_performance(kept)
    assert not list(kept.path.parent.iterdir())


def test_what_is_no_tune_is_kept_and_ticks_nothing(stand, paths):
    evening, path = begin(stand, paths)
    write(path, 0.01 * np.random.default_rng(1).normal(size=RATE * 6 // 5))
    tell(evening, path, 1.2)
    performed = evening.performing.performed
    kept = keep_and_mark(stand, performed, paths)
    assert kept.at_length == NOT_FOUND and performed.whole and not is_achieved(performed, kept)
    write(path, np.zeros(2 * RATE))
    with pytest.raises(TakeError, match="is silent"):
        keep_and_mark(stand, performed, paths)
    assert len(kept_performances(folder_of(paths, stand.original.id))) == 1


def test_broken_off_it_is_kept_up_to_there_and_before_the_count_in_not_at_all(stand, paths):
    evening, path = begin(stand, paths, until_s=6.0)
    evening.performing.stop()
    assert evening.link.sent[-1] == EndRecord(keep=True) and evening.performing.playing
    evening.performing.stop()
    assert evening.link.sent.count(EndRecord(keep=True)) == 1
    tell(evening, path, 6.5)
    assert not evening.performing.playing and not evening.performing.performed.whole
    evening.performing.start(folder_of(paths, stand.original.id))
    evening.performing.stop()
    assert evening.link.sent[-1] == EndRecord(keep=False)
    assert evening.performing.performed is None and not evening.performing.playing


@pytest.mark.parametrize(
    ("report", "said"),
    [(MicrophoneOff(GONE), LOST), (MicrophoneOff(), LOST), (RecordFailed("The disk is full."), "The disk is full.")],
)
def test_what_is_not_written_is_said_once_and_no_piece_of_it_stays(stand, paths, report, said):
    evening, path = begin(stand, paths, until_s=3.0)
    folder = folder_of(paths, stand.original.id)
    folder.mkdir(parents=True)
    piece = folder / f".{os.path.basename(path)}.growing"
    piece.write_bytes(b"half")
    evening.hear(evening.now_s, report)
    performing = evening.performing
    assert not performing.playing and performing.performed is None
    assert (performing.take_fault(), performing.take_fault()) == (said, "")
    assert not isinstance(report, MicrophoneOff) or not piece.exists()


def test_who_never_answers_is_not_waited_for_longer(stand, paths):
    evening, _ = begin(stand, paths)
    performing = evening.performing
    assert performing.playing and performing.wake_s == evening.now_s + PATIENCE_S
    evening.now_s += PATIENCE_S
    performing.tick()
    assert not performing.playing and performing.take_fault() == NO_ANSWER


def test_as_the_app_is_left_the_sound_is_told_to_end_and_listed(stand, paths):
    evening, path = begin(stand, paths, until_s=5.0)
    performed = evening.performing.leave()
    assert evening.link.sent[-1] == EndRecord(keep=True)
    kept = keep_unmarked(stand, performed, paths)
    write(path, np.ones(100) / 2)
    (listed,) = kept_performances(kept.parent)
    assert listed.recording == listed.path.with_suffix(".wav") and "broken off, by the microphone" in listed.words[0]


def test_a_sound_alone_is_listed_and_what_a_crash_left_is_thrown_away(stand, paths):
    folder = folder_of(paths, stand.original.id)
    folder.mkdir(parents=True)
    old, grows = folder / ".2026-01-05 18.00.30.wav.growing", folder / ".2026-01-05 18.10.00.wav.growing"
    for path in (old, grows):
        path.write_bytes(b"half")
    os.utime(old, (AT.timestamp(), AT.timestamp()))
    write(str(folder / "2026-01-05 18.00.30.wav"), np.ones(RATE) / 4)
    (listed,) = kept_performances(folder)
    assert listed.words == () and listed.recording is not None and soundfile.info(listed.recording).duration == 1.0
    assert not old.exists() and grows.exists(), "what still grows is another companion's"
    forget_performance(listed)
    assert kept_performances(folder) == [] and list(folder.iterdir()) == [grows]
