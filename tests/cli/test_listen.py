"""`companion listen --scale` and `companion mark` on recordings of a piano worked out from the physics of its strings (strings_made.py)."""

from __future__ import annotations

import contextlib
import io
import json

import numpy as np
import pytest
import soundfile
from strings_made import RATE, played, scale

from companion.chart.reader import parse_chart
from companion.cli.main import main
from companion.practice.marking.expected import expected_strikes, steady_starts
from companion.session.stand import Stand
from companion.session.take_file import Recording
from companion.session.take_heard import HeardTake, heard_words

CHART = """
title = "Kettle Song"
key = "C"
meter = "4/4"
tempo = 160
form = "A"

[section.A]
bars = "Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | C6 | C6 |"
"""
START_S = 1.2


def companion(*arguments: object, code: int = 0) -> tuple[str, str]:
    """What a command prints on stdout and stderr."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        got = main([*map(str, arguments)])
    assert got == code, out.getvalue() + err.getvalue()
    return out.getvalue(), err.getvalue()


def fault(*arguments: object) -> str:
    """The one sentence on stderr."""
    out, err = companion(*arguments, code=1)
    assert not out and len(err.strip().splitlines()) == 1
    return err.strip()


@pytest.fixture
def song(tmp_path):
    path = tmp_path / "kettle-song.toml"
    path.write_text(CHART, encoding="utf-8")
    return path


@pytest.fixture
def take(tmp_path, settings):
    """Two to the bar, 25 cents flat, with a note a semitone off in the third bar and one strike left out in the fifth; a FLAC with 44,100 samples a second."""
    stand = Stand.put(parse_chart(CHART, id="kettle-song"), settings).change(pattern="two")
    due = expected_strikes(stand.arrangement(), steady_starts(stand.arrangement(), START_S, 160.0))
    keys = []
    rng = np.random.default_rng(1)
    for strike in due:
        notes = list(strike.notes)
        if (strike.group.index, strike.number) == (2, 1):
            notes[1] += 1
        if (strike.group.index, strike.number) == (4, 1):
            notes = []
        keys += [(strike.due_s + float(rng.normal(0, 0.008)), note, 0.6) for note in notes]
    sound = played(keys, due[-1].due_s + 2.0, cents=-25.0)
    at = np.arange(int(len(sound) * 44_100 / RATE)) * RATE / 44_100
    path = tmp_path / "take.flac"
    soundfile.write(path, np.interp(at, np.arange(len(sound)), sound), 44_100)
    return path


def test_a_piano_is_learned_and_a_recording_marked_with_it(companion_home, song, take, tmp_path):
    soundfile.write(tmp_path / "scale.wav", scale(-25.0), RATE)
    learned = json.loads(companion("listen", "--scale", tmp_path / "scale.wav", "--as", "Upright", "--json")[0])
    assert learned["cents"] == pytest.approx(-25.0, abs=1.5)
    assert [note["note"] for note in learned["notes"]][::12] == ["E2", "E3", "E4"]
    told = json.loads(companion("mark", song, take, "--piano", "Upright", "--json")[0])
    assert told["tempo"] == pytest.approx(160.0, abs=0.5)
    assert told["start_s"] == pytest.approx(START_S, abs=0.03)
    assert (told["semitones"], told["pattern"], told["heard"]) == (
        0,
        "two",
        {"piano": "Upright", "strikes": 16, "not_sure": 0},
    )
    verdicts = {
        chord["bar"]: {strike["strike"]: strike["verdict"] for strike in chord["strikes"]} for chord in told["chords"]
    }
    assert verdicts[3][2] == "wrong"
    assert verdicts[5][2] == "missing"
    others = [verdict for bar, strikes in verdicts.items() for verdict in strikes.values() if bar not in (3, 5)]
    assert set(others) == {"right"}


def test_without_a_piano_nothing_is_held_against_the_player_that_is_not_sure(companion_home, song, take):
    told = json.loads(companion("mark", song, take, "--json")[0])
    assert told["tempo"] == pytest.approx(160.0, abs=0.5)
    heard = told["heard"]
    assert (heard["piano"], heard["strikes"]) == (None, 16)
    wrong = [chord["bar"] for chord in told["chords"] if chord["verdict"] not in ("right", "not sure")]
    assert set(wrong) <= {3, 5}


def test_how_surely_it_was_heard_is_told():
    heard = HeardTake(None, Recording(()), 16, 3)
    assert heard_words(heard, "Upright") == "Listened with the piano Upright: not sure of 3 of 16 strikes."
    assert "of 16 strikes. More is sure with a piano that was learned" in heard_words(heard, None)


def test_faults_are_told_in_a_sentence(companion_home, song, tmp_path, monkeypatch):
    monkeypatch.setattr("shutil.which", lambda name: None)
    text = tmp_path / "text.wav"
    text.write_text("no sound", encoding="utf-8")
    silence = tmp_path / "silence.wav"
    soundfile.write(silence, np.zeros(RATE * 3), RATE)
    short = tmp_path / "short.wav"
    soundfile.write(short, np.ones(100) * 0.1, RATE)
    noise = tmp_path / "noise.wav"
    soundfile.write(noise, np.random.default_rng(1).normal(0, 0.05, RATE * 11 // 10), RATE)
    (tmp_path / "take.m4a").write_bytes(b"\0\0\0\x18ftypM4A ")
    (tmp_path / "empty.wav").touch()
    for arguments, words in (
        (("mark", song, tmp_path / "none.wav"), "there is no such file"),
        (("mark", song, tmp_path / "empty.wav"), "is empty"),
        (("mark", song, text), "is broken"),
        (("mark", song, silence), "is silent"),
        (("mark", song, short), "at least 1 s"),
        (("mark", song, noise), "is not to be heard in it"),
        (("mark", song, tmp_path / "take.m4a"), "need ffmpeg, which is not on this computer"),
        (("mark", song, silence, "--piano", "Nobody's"), "there is no piano named"),
        (("mark", song, tmp_path / "take.mid", "--piano", "Nobody's"), "is no recording of sound"),
        (("listen", "--scale", noise, "--as", "New"), "heard"),
    ):
        assert words in fault(*arguments)
    for name in ("", "a/b", ".hidden", "x" * 50):
        assert "cannot be the name of a piano" in fault("listen", "--scale", silence, "--as", name)
