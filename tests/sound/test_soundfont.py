"""SoundFonts played key by key: pitch and level by the standard, FluidSynth's own command as the outside measure, bad files, and a library that is missing or fails."""

from __future__ import annotations

import shutil
import subprocess
import wave
from pathlib import Path

import mido
import numpy as np
import pytest
from sound.soundfonts_made import RATE, general_midi, needs_fluidsynth, sine, soundfont

from companion.sound.soundfont import SoundFont, SoundFontError

LOOPED = {54: 1}


@pytest.fixture
def opened(tmp_path):
    """Writes a SoundFont and opens it."""
    fonts = []

    def open_(data: bytes, rate: int = RATE) -> SoundFont:
        path = tmp_path / f"made {len(fonts)}.sf2"
        path.write_bytes(data)
        fonts.append(SoundFont(path, rate))
        return fonts[-1]

    yield open_
    for font in fonts:
        font.close()


def hertz(samples: np.ndarray, rate: int = RATE) -> float:
    """The strongest line of the first second, refined by a parabola."""
    size = 1 << 19
    spectrum = np.log(np.abs(np.fft.rfft(samples[:rate] * np.hanning(len(samples[:rate])), size)) + 1e-9)
    peak = int(np.argmax(spectrum))
    left, middle, right = spectrum[peak - 1 : peak + 2]
    return float((peak + 0.5 * (left - right) / (left - 2 * middle + right)) * rate / size)


def level_db(samples: np.ndarray, at_s: float, seconds: float = 0.05) -> float:
    part = samples[..., round(at_s * RATE) : round((at_s + seconds) * RATE)].astype(float)
    return float(10 * np.log10(np.mean(part**2)))


@needs_fluidsynth
@pytest.mark.parametrize("rate", [44_100, 48_000])
def test_keys_sound_at_their_pitch_whatever_the_device(opened, rate):
    """ISO 16 and equal temperament; the sample is of 44.1 kHz."""
    font = opened(soundfont([LOOPED], [sine(440)]), rate)
    for note, expected_hz in ((69, 440.0), (57, 220.0), (72, 523.2511)):
        assert abs(1200 * np.log2(hertz(font.held_note(0, 0, note, 127)[0], rate) / expected_hz)) < 1


@needs_fluidsynth
def test_each_key_begins_on_its_frame_and_lasts_while_it_is_held(opened):
    """Also after others, of which nothing is left over."""
    font = opened(soundfont([LOOPED], [np.cos(np.linspace(0, 200 * np.pi, 8820, endpoint=False))]))
    first = font.held_note(0, 0, 69, 127)
    assert first[0, :4].any() and np.abs(first[0, :96]).max() > 0.2, "FluidSynth rises over 64 frames"
    assert first.shape[1] == pytest.approx(6 * RATE, abs=4096)
    assert level_db(first, 5.8) == pytest.approx(level_db(first, 0.1), abs=0.1)
    font.held_note(0, 0, 50, 100)
    again = font.held_note(0, 0, 69, 127)
    assert again[0, :4].any(), "how a voice rises in its first millisecond depends on whether it is new"
    assert np.abs(again[:, 96:RATE] - first[:, 96:RATE]).max() < 3 / 32768, "dither is all that differs"


@needs_fluidsynth
def test_velocity_and_ranges_choose_what_sounds(opened):
    """Specification 8.4.1: 40 log10(127 / 64) = 11.9 dB; 8.1.2, generators 43 and 44."""
    keys, soft, loud = 40 | 60 << 8, 0 | 63 << 8, 64 | 127 << 8
    once = soundfont(
        [LOOPED | {43: keys, 44: soft}, LOOPED | {43: keys, 44: loud}, {43: 80 | 80 << 8, 53: 0}],
        [sine(440), sine(660)],
    )
    font = opened(once)
    assert hertz(font.held_note(0, 0, 57, 30)[0]) == pytest.approx(220, rel=1e-3)
    full, half = (font.held_note(0, 0, 57, velocity) for velocity in (127, 64))
    assert hertz(full[0]) == pytest.approx(330, rel=1e-3)
    assert level_db(full, 0.1) - level_db(half, 0.1) == pytest.approx(40 * np.log10(127 / 64), abs=0.1)
    assert font.held_note(0, 0, 80, 90).shape[1] == pytest.approx(RATE * 2 ** (-11 / 12), abs=200), "no loop, it ends"
    for bank, program, note in ((0, 0, 61), (128, 0, 57), (0, 3, 57)):
        assert font.held_note(bank, program, note, 100) is None, "no such key or instrument"


@needs_fluidsynth
def test_what_is_too_loud_for_sixteen_bits_is_not_cut_off(opened):
    """Eight samples on one key, nearly full: the sum is a clean sine."""
    sound = opened(soundfont([LOOPED | {48: 0, 53: 0}] * 8, [sine(440)])).held_note(0, 0, 69, 127)
    assert np.abs(sound).max() > 1
    lines = np.abs(np.fft.rfft(sound[0, RATE : 2 * RATE] * np.hanning(RATE)))
    assert lines[1320] < 1e-3 * lines[440]


@needs_fluidsynth
def test_samples_in_ogg_vorbis(opened):
    """.sf3: the same table, the sample compressed. The file: 8000 frames of a sine of 441 Hz at 44.1 kHz, 0.5 high, by libsndfile."""
    font = opened(soundfont([LOOPED], [(Path(__file__).parent / "sine_441_hz.ogg").read_bytes()]))
    assert hertz(font.held_note(0, 0, 69, 127)[0]) == pytest.approx(441, rel=1e-3)


def fluidsynth(program: int, note: int, channel: int, folder: Path) -> np.ndarray:
    track = mido.MidiTrack([mido.Message("program_change", program=program, channel=channel)])
    track.append(mido.Message("note_on", note=note, velocity=90, channel=channel))
    track.append(mido.Message("note_off", note=note, channel=channel, time=3 * 960))
    file = mido.MidiFile(ticks_per_beat=480)
    file.tracks.append(track)
    file.save(folder / "note.mid")
    command = ["fluidsynth", "-q", "-ni", "-F", str(folder / "note.wav"), "-T", "wav", "-O", "s16", "-r", str(RATE)]
    command += ["-g", "1", "-o", "synth.reverb.active=0", "-o", "synth.chorus.active=0"]
    subprocess.run([*command, general_midi(), folder / "note.mid"], check=True, capture_output=True, timeout=300)
    with wave.open(str(folder / "note.wav")) as heard:
        return np.frombuffer(heard.readframes(heard.getnframes()), "<i2").reshape(-1, 2).T / 32768


def from_its_onset(sound: np.ndarray) -> np.ndarray:
    return sound[:, int(np.argmax(np.abs(sound).max(axis=0) > 0.02 * np.abs(sound).max())) :]


@pytest.mark.rig
@needs_fluidsynth
def test_against_the_fluidsynth_command(tmp_path):
    """Piano, double bass and a ride of a General MIDI SoundFont, dry: the same pitch, and the level falls alike."""
    if shutil.which("fluidsynth") is None:
        pytest.skip("no FluidSynth (apt install fluidsynth)")
    font = SoundFont(general_midi(), RATE)
    for bank, program, note in ((0, 0, 40), (0, 0, 55), (0, 32, 33), (128, 0, 51)):
        theirs = from_its_onset(fluidsynth(program, note, 9 if bank else 0, tmp_path))
        ours = from_its_onset(font.held_note(bank, program, note, 90))
        for at_s in (0.02, 0.2, 0.5, 1.0, 2.0):
            assert level_db(ours, at_s) == pytest.approx(level_db(theirs, at_s), abs=0.5), (program, note, at_s)
        if not bank:
            assert abs(1200 * np.log2(hertz(ours.sum(axis=0)) / hertz(theirs.sum(axis=0)))) < 1
    font.close()


# --- bad files

WHOLE = soundfont([LOOPED | {36: -2000, 37: 100, 8: 9000, 6: 20}, {43: 127 << 8}], [sine(440, 0.05), sine(660, 0.05)])
TABLES_AT = WHOLE.index(b"pdta")


def says(path: Path) -> str:
    with pytest.raises(SoundFontError) as fault:
        SoundFont(path)
    sentence = str(fault.value)
    assert "bad.sf2" in sentence and "\n" not in sentence and sentence.count(". ") == 0
    return sentence


@pytest.mark.parametrize(
    ("write", "said"),
    [
        (lambda path: None, "is not there"),
        (lambda path: path.mkdir(), "cannot be read"),
        (lambda path: path.write_bytes(b""), "is none by its contents"),
        (lambda path: path.write_text("not a sound, a text " * 9, encoding="utf-8"), "is none by its contents"),
        (lambda path: path.write_bytes(WHOLE[:-200]), "is cut off"),
        (lambda path: path.write_bytes(b"RIFF\xff\xff\xff\xffsfbk" + b"LIST\xff\xff\xff\xff"), "is cut off"),
    ],
)
def test_a_bad_file_is_one_sentence(write, said, tmp_path):
    write(tmp_path / "bad.sf2")
    assert said in says(tmp_path / "bad.sf2")


@needs_fluidsynth
def test_a_damaged_file_is_one_sentence_and_nothing_reaches_the_terminal(tmp_path, capfd):
    (tmp_path / "bad.sf2").write_bytes(b"RIFF\x04\0\0\0sfbk")
    assert "is damaged" in says(tmp_path / "bad.sf2")
    assert capfd.readouterr() == ("", "")


@needs_fluidsynth
def test_whatever_the_bytes_it_is_a_sentence_or_a_sound(tmp_path, deep, capfd):
    chance = np.random.default_rng(16)
    for _ in range(300 if deep else 3):
        data = bytearray(WHOLE)
        for at in chance.integers(TABLES_AT - 80, len(WHOLE), 6):
            data[at] = chance.integers(256)
        (tmp_path / "bad.sf2").write_bytes(data)
        try:
            font = SoundFont(tmp_path / "bad.sf2", 8000)
        except SoundFontError as error:
            assert str(error).count(". ") == 0
            continue
        try:
            sound = font.held_note(0, 0, int(chance.integers(128)), 90)
            assert sound is None or np.isfinite(sound).all()
        except SoundFontError:
            pass
        finally:
            font.close()
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize(
    ("library", "said"),
    [
        ("raise ImportError('no library')", "needs FluidSynth, which this computer does not have ("),
        ("raise OSError('wrong ELF class')", "needs FluidSynth"),
        ("import os; print('hello', flush=True); os.abort()", "FluidSynth fails over it"),
    ],
)
def test_a_library_that_is_missing_or_fails_is_one_sentence(library, said, tmp_path, monkeypatch, capfd):
    """In place of the one that binds it: another that does what the operating system may do to us."""
    (tmp_path / "fluidsynth.py").write_text(library, encoding="utf-8")
    (tmp_path / "bad.sf2").write_bytes(WHOLE)
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    assert said in says(tmp_path / "bad.sf2")
    assert capfd.readouterr() == ("", "")
