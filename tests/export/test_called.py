"""Called changes on a practice track: measured on the samples, with the system's own speech and with a made one."""

from __future__ import annotations

import shutil
import sys
from dataclasses import replace

import numpy as np
import pytest
import soundfile

from companion.errors import SpeechError
from companion.export.formats import export
from companion.export.options import ExportError, ExportOptions
from companion.export.performance import perform
from companion.groove.model import CALLS
from companion.speech import commands
from companion.speech.speaker import Speaker

NEAR_S = 0.06
# A voice of its own: 0.15 s of silence, then a tone that swells for 10 ms and lasts as its length asks.
MADE_VOICE = """#!{python} -S
import math, struct, sys, wave
if sys.argv[1:] == ["--version"]:
    print("made 1")
    sys.exit()
words, target = sys.argv[-1], sys.argv[sys.argv.index("-w") + 1]
rate, seconds = 22050, 0.1 + 0.1 * len(words.split())
tone = [math.sin(i * 0.08) * min(1, i / 220) * 0.4 for i in range(int(rate * seconds))]
with wave.open(target, "wb") as file:
    file.setparams((1, 2, rate, 0, "NONE", ""))
    file.writeframes(b"".join(struct.pack("<h", int(32767 * x)) for x in [0.0] * 3307 + tone))
"""


@pytest.fixture
def made_voice(tmp_path, monkeypatch):
    """A command of the name espeak-ng, alone on the path."""
    return put_command(tmp_path, monkeypatch, MADE_VOICE)


def put_command(tmp_path, monkeypatch, script):
    folder = tmp_path / "bin"
    folder.mkdir()
    command = folder / "espeak-ng"
    command.write_text(script.format(python=sys.executable))
    command.chmod(0o755)
    monkeypatch.setenv("PATH", str(folder))
    return command


def onset_s(samples, rate, near_s):
    """Where a voice begins after a silence, looked for around a time: the first 2 ms above a tenth of the loudest, after quiet."""
    size = rate // 500
    first = max(0, round((near_s - 0.25) * rate))
    part = np.abs(samples[first : round((near_s + 0.5) * rate)])
    levels = part[: len(part) // size * size].reshape(-1, size).max(axis=1)
    loud = levels > 0.1 * levels.max()
    for at in np.flatnonzero(loud):
        if not loud[max(0, at - 15) : at].any():  # 30 ms of quiet before
            return first / rate + at * size / rate
    raise AssertionError(f"nothing begins near {near_s:.2f} s")


def called_track(on_stand, settings, tmp_path, tempo_bpm, song="two-spoons"):
    """(samples, rate, [(due, words)]) of a track on which nothing but the calls is heard."""
    stand = on_stand(song).with_tempo(tempo_bpm)
    voices = {name: replace(voice, volume=float(name == CALLS)) for name, voice in settings.sound.voices.items()}
    options = ExportOptions(parts=(), choruses=1, calls=tmp_path / "speech")
    quiet = replace(settings, sound=replace(settings.sound, voices=voices))
    (path,) = export(stand, tmp_path / "called.wav", options, quiet)
    samples, rate = soundfile.read(path, dtype="float32")
    performance = perform(stand, options)
    calls = [event for event in performance.events if event.part == CALLS]
    due = [
        0.5 + due_s for due_s in performance.seconds([call.tick for call in calls])
    ]  # after half a second of silence
    return samples[:, 0], rate, list(zip(due, [call.words for call in calls]))


def check_onsets(samples, rate, calls):
    assert len(calls) > 8
    for due_s, words in calls:
        assert abs(onset_s(samples, rate, due_s) - due_s) < NEAR_S, words


def test_names_of_a_made_voice_begin_on_their_beat(on_stand, settings, tmp_path, made_voice):
    check_onsets(*called_track(on_stand, settings, tmp_path, 60.0))


@pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="needs espeak-ng")
@pytest.mark.parametrize("tempo_bpm", [50.0, 80.0])
def test_names_of_the_systems_speech_begin_on_their_beat(on_stand, settings, tmp_path, tempo_bpm):
    check_onsets(*called_track(on_stand, settings, tmp_path, tempo_bpm))


def test_where_nothing_speaks_a_sentence_says_what_is_missing(tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(SpeechError, match="espeak-ng"):
        Speaker(tmp_path / "kept").samples("C seven", 1.0, 48000)


@pytest.mark.parametrize(
    ("script", "words"),
    [
        ("#!/bin/sh\n/bin/sleep 60\n", "does not answer"),
        ("#!/bin/sh\nexit 3\n", "ended with 3"),
        ("#!/bin/sh\necho made\n", "wrote no file"),
        ("#!/bin/sh\nwhile [ $# -gt 1 ]; do [ $1 = -w ] && echo nonsense > $2; shift; done\n", "no WAV"),
    ],
    ids=["hangs", "fails", "writes nothing", "writes nonsense"],
)
def test_a_speech_that_fails_or_hangs_is_one_sentence(tmp_path, monkeypatch, script, words):
    monkeypatch.setattr(commands, "TIMEOUT_S", 0.5)
    put_command(tmp_path, monkeypatch, script)
    with pytest.raises(SpeechError, match=words) as fault:
        Speaker(tmp_path / "kept").samples("C seven", 1.0, 48000)
    assert "\n" not in str(fault.value)


def test_what_was_spoken_is_kept_and_read_again(tmp_path, monkeypatch, made_voice):
    first = Speaker(tmp_path / "kept").samples("C seven", 1.0, 48000)
    made_voice.write_text(MADE_VOICE.format(python=sys.executable).replace("wave.open", "sys.exit"))  # speaks no more
    assert np.allclose(Speaker(tmp_path / "kept").samples("C seven", 1.0, 48000), first, atol=1e-3)


def test_a_voice_that_takes_too_long_is_made_faster(tmp_path, monkeypatch):
    slow = MADE_VOICE.replace("0.1 + 0.1 * len(words.split())", "200 / int(sys.argv[sys.argv.index('-s') + 1])")
    put_command(tmp_path, monkeypatch, slow)
    samples = Speaker(tmp_path / "kept").samples("C seven", 0.8, 48000)
    assert 0.6 < len(samples) / 48000 <= 0.8


def test_calls_need_a_track_that_is_slow_enough(on_stand, settings, tmp_path):
    stand = on_stand("two-spoons")
    with pytest.raises(ExportError, match="on a track"):
        export(stand.with_tempo(60), tmp_path / "called.mid", ExportOptions(calls=tmp_path / "speech"), settings)
    with pytest.raises(ExportError, match="slow enough"):
        export(stand.with_tempo(100), tmp_path / "called.wav", ExportOptions(calls=tmp_path / "speech"), settings)
