"""SoundFonts: read and played as their specification says; FluidSynth as the outside reference; bad files."""

from __future__ import annotations

import shutil
import subprocess
import wave
from pathlib import Path

import mido
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sound.soundfonts_made import RATE, general_midi, sine, soundfont

from companion.sound.font_note import held_note
from companion.sound.soundfont import SoundFont, SoundFontError

LOOPED = {54: 1}


@pytest.fixture
def played(tmp_path):
    """Writes a SoundFont and plays a key of it: the two sides, or None."""

    def play(data: bytes, note: int = 69, velocity: int = 127, bank: int = 0, program: int = 0) -> np.ndarray | None:
        path = tmp_path / "made.sf2"
        path.write_bytes(data)
        font = SoundFont(path)
        try:
            return held_note(font, bank, program, note, velocity, RATE)
        finally:
            font.close()

    return play


def hertz(samples: np.ndarray) -> float:
    """The strongest line of the first second, refined by a parabola."""
    size = 1 << 19
    spectrum = np.log(np.abs(np.fft.rfft(samples[:RATE] * np.hanning(RATE), size)) + 1e-9)
    peak = int(np.argmax(spectrum))
    left, middle, right = spectrum[peak - 1 : peak + 2]
    return float((peak + 0.5 * (left - right) / (left - 2 * middle + right)) * RATE / size)


def level_db(samples: np.ndarray, at_s: float, seconds: float = 0.05) -> float:
    part = samples[..., round(at_s * RATE) : round((at_s + seconds) * RATE)].astype(float)
    return float(10 * np.log10(np.mean(part**2)))


@pytest.mark.parametrize(
    ("note", "zone", "expected_hz"),
    [
        (69, {}, 440.0),
        (57, {}, 220.0),
        (72, {}, 523.2511),  # ISO 16 and equal temperament
        (69, {51: 12}, 880.0),  # coarse tune, in semitones
        (69, {52: 50}, 440 * 2 ** (50 / 1200)),  # fine tune, in cents
        (81, {56: 50}, 440 * 2**0.5),  # scale tuning: 50 cents a key
        (69, {58: 57}, 880.0),  # another root key
    ],
)
def test_keys_sound_at_their_pitch(played, note, zone, expected_hz):
    """Specification 8.1.2, generators 51, 52, 56 and 58."""
    sound = played(soundfont([LOOPED | zone], [sine(440)]), note)
    assert abs(1200 * np.log2(hertz(sound[0]) / expected_hz)) < 1


def test_it_begins_on_its_frame_and_lasts_while_the_key_is_held(played):
    sound = played(soundfont([LOOPED], [np.cos(np.linspace(0, 200 * np.pi, 8820, endpoint=False))]))
    assert abs(sound[0, 0]) > 0.2, "the first frame is that of the sample"
    assert sound.shape[1] == 6 * RATE and level_db(sound, 5.8) == pytest.approx(level_db(sound, 0.1), abs=0.1)
    once = played(soundfont([{}], [sine(440, 0.5)]))
    assert once.shape[1] == pytest.approx(0.5 * RATE, abs=200)


def test_the_envelope_falls_as_it_says(played):
    """Decay of one second: 100 dB a second, down to the 60 dB that sustain says (8.1.2, generators 36 and 37); attack of a second: half way up after half of it."""
    sound = played(soundfont([LOOPED | {36: 0, 37: 600}], [sine(440)]))
    assert level_db(sound, 0.1) - level_db(sound, 0.4) == pytest.approx(30, abs=0.5)
    assert level_db(sound, 0.01) - level_db(sound, 2.0) == pytest.approx(60 - 3.5, abs=1)
    slow = played(soundfont([LOOPED | {34: 0}], [sine(440)]))
    assert level_db(slow, 1.5) - level_db(slow, 0.475) == pytest.approx(6.02, abs=0.3)


def test_velocity_is_40_db_times_its_logarithm(played):
    """Specification 8.4.1, as a concave curve: 127 over 64 is 11.9 dB."""
    loud, soft = (played(soundfont([LOOPED], [sine(440)]), 69, velocity) for velocity in (127, 64))
    assert level_db(loud, 0.1) - level_db(soft, 0.1) == pytest.approx(40 * np.log10(127 / 64), abs=0.05)


def test_ranges_choose_the_sample(played):
    keys, soft, loud = 60 << 8, 0 | 63 << 8, 64 | 127 << 8
    data = soundfont([LOOPED | {43: keys, 44: soft}, LOOPED | {43: keys, 44: loud}], [sine(440), sine(660)])
    assert hertz(played(data, 57, 30)[0]) == pytest.approx(220, rel=1e-3)
    assert hertz(played(data, 57, 100)[0]) == pytest.approx(330, rel=1e-3)
    assert played(data, 61, 100) is None, "no sample for that key"
    assert played(data, 57, 100, bank=128) is None and played(data, 57, 100, program=3) is None


def test_a_global_zone_and_the_preset_count_too(played):
    """7.7: what a first zone without a sample says holds for all; 8.5: the preset's are added."""
    data = soundfont([{-1: 1, 51: 12, 54: 1}, {}], [sine(440)], preset={51: -24})
    assert hertz(played(data)[0]) == pytest.approx(220, rel=1e-3)


@pytest.mark.parametrize(("pan", "left_db"), [(-500, 60), (0, 0), (500, -60), (250, -7.66)])
def test_pan(played, pan, left_db):
    """Equal power: at half way 20 log10(tan(22.5 degrees)) = -7.66 dB."""
    left, right = played(soundfont([LOOPED | {17: pan}], [sine(440)]))
    difference = level_db(left + 1e-9, 0.1) - level_db(right + 1e-9, 0.1)
    assert difference == pytest.approx(left_db, abs=0.1) if abs(left_db) < 60 else difference * np.sign(left_db) > 60


def test_the_filter_takes_twelve_decibels_an_octave(played):
    """A second-order low-pass at 1 kHz: 3 dB at 1 kHz, 24.1 dB at 4 kHz (handbook values of a Butterworth of second order: 10 log10(1 + 4**4) = 24.1)."""
    cents = round(1200 * np.log2(1000 / 8.176))
    for high_hz, lost_db in ((200, 0.0), (1000, 3.0), (4000, 24.1)):
        open_, closed = (played(soundfont([LOOPED | zone], [sine(high_hz)])) for zone in ({}, {8: cents}))
        assert level_db(open_, 1.0) - level_db(closed, 1.0) == pytest.approx(lost_db, abs=1.0)


def test_samples_in_ogg_vorbis(played):
    """.sf3: the same table, the sample compressed. The file: 8000 frames of a sine of 441 Hz at 44.1 kHz, 0.5 high, by libsndfile."""
    pytest.importorskip("soundfile")
    sound = played(soundfont([LOOPED], [(Path(__file__).parent / "sine_441_hz.ogg").read_bytes()]))
    assert hertz(sound[0]) == pytest.approx(441, rel=1e-3) and sound.shape[1] == 6 * RATE


def fluidsynth(font: Path, program: int, note: int, channel: int, folder: Path) -> np.ndarray:
    track = mido.MidiTrack([mido.Message("program_change", program=program, channel=channel)])
    track.append(mido.Message("note_on", note=note, velocity=90, channel=channel))
    track.append(mido.Message("note_off", note=note, channel=channel, time=3 * 960))
    file = mido.MidiFile(ticks_per_beat=480)
    file.tracks.append(track)
    file.save(folder / "note.mid")
    command = [
        "fluidsynth",
        "-q",
        "-ni",
        "-F",
        str(folder / "note.wav"),
        "-T",
        "wav",
        "-O",
        "s16",
        "-r",
        str(RATE),
        "-g",
        "1",
    ]
    command += ["-o", "synth.reverb.active=0", "-o", "synth.chorus.active=0", str(font), str(folder / "note.mid")]
    subprocess.run(command, check=True, capture_output=True, timeout=300)
    with wave.open(str(folder / "note.wav")) as heard:
        both = np.frombuffer(heard.readframes(heard.getnframes()), "<i2").reshape(-1, 2).T / 32768
    return both[:, int(np.argmax(np.abs(both).max(axis=0) > 0.02 * np.abs(both).max())) :]


@pytest.mark.rig
@pytest.mark.parametrize(("bank", "program", "note"), [(0, 0, 40), (0, 0, 55), (0, 32, 33), (128, 0, 51)])
def test_against_fluidsynth(bank, program, note, tmp_path):
    """Piano, double bass and a ride of a General MIDI SoundFont, dry: the same pitch, and the level falls alike within 1.5 dB."""
    if shutil.which("fluidsynth") is None:
        pytest.skip("no FluidSynth (apt install fluidsynth)")
    theirs = fluidsynth(general_midi(), program, note, 9 if bank else 0, tmp_path)
    font = SoundFont(general_midi())
    ours = held_note(font, bank, program, note, 90, RATE)
    font.close()
    ours = ours[:, int(np.argmax(np.abs(ours).max(axis=0) > 0.02 * np.abs(ours).max())) :]
    gain_db = level_db(theirs, 0.02) - level_db(ours, 0.02)
    for at_s in (0.2, 0.5, 1.0, 2.0):
        assert level_db(ours, at_s) + gain_db == pytest.approx(level_db(theirs, at_s), abs=1.5)
    if not bank:
        assert abs(1200 * np.log2(hertz(ours.sum(axis=0)) / hertz(theirs.sum(axis=0)))) < 1


# --- bad files


@pytest.mark.parametrize(
    ("write", "said"),
    [
        (lambda path: None, "is not there"),
        (lambda path: path.mkdir(), "cannot be read"),
        (lambda path: path.write_bytes(b""), "is none by its contents"),
        (lambda path: path.write_text("not a sound, a text " * 9, encoding="utf-8"), "is none by its contents"),
        (lambda path: path.write_bytes(soundfont([{}], [sine(440)])[:-200]), "is cut off"),
        (lambda path: path.write_bytes(b"RIFF\x04\0\0\0sfbk"), "tables are missing"),
        (lambda path: path.write_bytes(b"RIFF\xff\xff\xff\xffsfbk" + b"LIST\xff\xff\xff\xff"), "is cut off"),
    ],
)
def test_a_bad_file_is_one_sentence(write, said, tmp_path):
    path = tmp_path / "bad.sf2"
    write(path)
    with pytest.raises(SoundFontError) as fault:
        SoundFont(path)
    assert (
        said in str(fault.value)
        and "bad.sf2" in str(fault.value)
        and len(str(fault.value)) < 80
        and "\n" not in str(fault.value)
    )


WHOLE = soundfont([LOOPED | {36: -2000, 37: 100, 8: 9000, 6: 20}, {43: 127 << 8}], [sine(440, 0.05), sine(660, 0.05)])
_TABLES_AT = WHOLE.index(b"pdta")


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    st.lists(st.tuples(st.integers(_TABLES_AT - 80, len(WHOLE) - 1), st.integers(0, 255)), min_size=1, max_size=6),
    st.integers(0, 127),
)
def test_whatever_the_bytes_it_is_a_sentence_or_a_sound(tmp_path, changes, note):
    data = bytearray(WHOLE)
    for at, value in changes:
        data[at] = value
    path = tmp_path / "changed.sf2"
    path.write_bytes(data)
    try:
        font = SoundFont(path)
    except SoundFontError:
        return
    try:
        sound = held_note(font, 0, 0, note, 90, 8000)
        assert sound is None or np.isfinite(sound).all()
    except SoundFontError:
        pass
    finally:
        font.close()
