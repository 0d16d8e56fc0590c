"""The practice track, measured on the decoded file: onsets, pitch, level and tags."""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np
import pytest
import soundfile

from companion.export.audio_file import Tags, encoded
from companion.export.formats import export
from companion.export.options import ExportError, ExportOptions
from companion.export.performance import perform
from companion.export.track import PEAK_DBFS, RATE, TARGET_LUFS, limited, loudness_lufs, mix
from companion.groove.model import NoteEvent
from companion.theory.meter import TICKS_PER_QUARTER

ENDINGS = (".wav", ".flac", ".mp3")
LEAD_S = 0.5  # of silence before the first click
MP3_DELAY_S = 0.06  # how far a decoded MP3 may lie behind: encoder and decoder delay, 528 to some 2,000 samples


def onsets_s(samples: np.ndarray, rate: int, least: float = 0.35) -> np.ndarray:
    """Where the level jumps: the first of each run of 2 ms frames that is loud and was not before."""
    size = rate // 500
    samples = np.concatenate([np.zeros(size), samples[: len(samples) // size * size]])
    frames = np.abs(samples).reshape(-1, size).max(axis=1)
    rising = np.flatnonzero((frames[1:] > least * frames.max()) & (frames[:-1] < 0.3 * frames[1:]))
    apart = rising[np.insert(np.diff(rising) > 20, 0, True)]
    return apart * size / rate


def pitch_hz(samples: np.ndarray, rate: int) -> float:
    """The strongest line of the spectrum."""
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), 1 << 18))
    return float(np.fft.rfftfreq(1 << 18, 1 / rate)[spectrum.argmax()])


def decoded(path) -> tuple[np.ndarray, int]:
    samples, rate = soundfile.read(path, dtype="float32")
    assert samples.shape[1] == 2
    return samples, rate


# Readers of tags of our own, from the formats' own papers and not from what wrote them.


def wav_tags(data: bytes) -> dict[str, str]:
    """Chunks of a name, a size (least byte first) and a body padded to even length; a list of kind INFO holds more of
    them (Microsoft, "Multimedia Programming Interface and Data Specifications 1.0")."""
    texts: dict[bytes, bytes] = {}

    def chunks(start: int, end: int) -> None:
        while start < end:
            name, size = data[start : start + 4], int.from_bytes(data[start + 4 : start + 8], "little")
            if name == b"LIST" and data[start + 8 : start + 12] == b"INFO":
                chunks(start + 12, start + 8 + size)
            texts[name] = data[start + 8 : start + 8 + size]
            start += 8 + size + size % 2

    assert data[:4] == b"RIFF" and data[8:12] == b"WAVE"
    chunks(12, len(data))
    return {name: texts[tag].rstrip(b"\0").decode() for name, tag in (("title", b"INAM"), ("comment", b"ICMT"))}


def flac_tags(data: bytes) -> dict[str, str]:
    """Blocks of a kind (4: comments) and a size; comments with their length before them, least byte first, the writer's
    name the first (RFC 9639, 8.1 and 8.6)."""
    assert data[:4] == b"fLaC"
    at = 4
    while data[at] & 0x7F != 4:
        at += 4 + int.from_bytes(data[at + 1 : at + 4], "big")
    at += 4

    def number() -> int:
        nonlocal at
        at += 4
        return int.from_bytes(data[at - 4 : at], "little")

    def text() -> str:
        nonlocal at
        length = number()
        at += length
        return data[at - length : at].decode()

    text()
    pairs = [text().split("=", 1) for _ in range(number())]
    return {name.lower(): value for name, value in pairs}


def mp3_tags(data: bytes) -> dict[str, str]:
    """A head of ten bytes, then frames of a name, a size in four times seven bits, two flags and a body whose first
    byte 3 says UTF-8; then the sound begins with eleven bits set (id3.org, ID3v2.4.0-structure; ISO 11172-3)."""

    def size(at: int) -> int:
        assert max(data[at : at + 4]) < 0x80
        return sum(byte << shift for byte, shift in zip(data[at : at + 4], (21, 14, 7, 0), strict=True))

    assert data[:6] == b"ID3\x04\x00\x00"
    at, end, texts = 10, 10 + size(6), {}
    while at < end:
        name, length = data[at : at + 4].decode(), size(at + 4)
        assert data[at + 10] == 3
        texts[name] = data[at + 11 : at + 10 + length].decode()
        at += 10 + length
    assert at == end and data[at] == 0xFF and data[at + 1] >= 0xE0
    return {**texts, "title": texts["TIT2"], "comment": texts["COMM"].removeprefix("eng\0")}


READERS = {".wav": wav_tags, ".flac": flac_tags, ".mp3": mp3_tags}


@pytest.mark.parametrize("ending", ENDINGS)
def test_clicks_are_heard_where_the_groove_says(on_stand, settings, tmp_path, ending: str) -> None:
    stand = on_stand("left-sock-blues").change(count_in_bars=1)
    options = ExportOptions(parts=("click",), choruses=1)
    (path,) = export(stand, tmp_path / f"track{ending}", options, settings)
    samples, rate = decoded(path)
    performance = perform(stand, options)
    said = LEAD_S + np.array(performance.seconds([event.tick for event in performance.events]))
    heard = onsets_s(samples.sum(axis=1), rate)
    assert len(heard) == len(said) == 13 * 4
    assert np.abs(samples[: round((LEAD_S - 0.02) * rate)]).max() < 1e-3
    late = heard - said
    assert late.max() - late.min() <= 0.005  # one frame of measuring and one of rounding: none drifts
    assert abs(np.median(late)) <= (MP3_DELAY_S if ending == ".mp3" else 0.003)


@pytest.mark.parametrize("ending", ENDINGS)
def test_level_and_tags(on_stand, settings, tmp_path, ending: str) -> None:
    stand = on_stand("left-sock-blues").with_tempo(240)
    (path,) = export(stand, tmp_path / f"track{ending}", ExportOptions(choruses=1), settings)
    samples, rate = decoded(path)
    assert np.abs(samples).max() <= 10 ** (-1 / 20), "no clipping, a decibel in hand"
    assert loudness_lufs(samples.T, rate) == pytest.approx(TARGET_LUFS, abs=0.7)
    tags = READERS[ending](path.read_bytes())
    assert tags["title"] == "Left Sock Blues"
    assert tags["comment"].startswith("whole form in Eb, 1 chorus, 240 beats a minute; left hand, bass, click")
    if ending == ".mp3":
        assert (tags["TBPM"], tags["TKEY"]) == ("240", "Eb")


@pytest.mark.parametrize("ending", ENDINGS)
def test_tags_hold_any_sign_and_any_length(ending: str) -> None:
    tags = Tags("Café “B♭” " * 40, 90, "F#m", "ohne Schlagzeug, für dich")
    silence = np.zeros((2, RATE // 10), np.float32)
    read = READERS[ending](encoded(silence, RATE, ending, tags))
    assert (read["title"], read["comment"]) == (tags.title, tags.comment)


def test_bass_and_left_hand_sound_in_tune(on_stand, settings, tmp_path) -> None:
    """A4 = 440 Hz, equal temperament (ISO 16): Eb1 is note 27, 38.89 Hz an octave above that 77.78 Hz."""
    stand = on_stand("left-sock-blues").change(count_in_bars=0, pattern="whole")
    for part in ("bass", "left"):
        options = ExportOptions(parts=(part,), choruses=1)
        (path,) = export(stand, tmp_path / f"{part}.wav", options, settings)
        samples, rate = decoded(path)
        performance = perform(stand, options)
        for event in performance.events[:6]:
            start = LEAD_S + performance.seconds([event.tick])[0]
            slice_ = samples[round((start + 0.05) * rate) : round((start + 0.75) * rate)].sum(axis=1)
            partials = pitch_hz(slice_, rate) / (440 * 2 ** ((event.note - 69) / 12))
            together = [other for other in performance.events if other.tick == event.tick]
            ratios = [
                pitch_hz(slice_, rate) / (440 * 2 ** ((other.note - 69) / 12)) / number
                for other in together
                for number in (1, 2, 3)
            ]
            assert min(abs(1200 * np.log2(ratio)) for ratio in ratios) < 12, (part, event, partials)


def test_loudness_against_the_standards_own_signals() -> None:
    """EBU Tech 3341, table 1: a stereo sine of 1 kHz at -23 dBFS reads -23 LUFS, at -33 dBFS -33; ITU-R BS.1770-4:
    997 Hz at 0 dBFS in one channel reads -3.01."""
    for rate in (44100, 48000):
        seconds = np.arange(20 * rate) / rate
        for level in (-23.0, -33.0):
            sine = 10 ** (level / 20) * np.sin(2 * np.pi * 1000 * seconds)
            assert loudness_lufs(np.stack([sine, sine]), rate) == pytest.approx(level, abs=0.1)
        one = np.sin(2 * np.pi * 997 * seconds)
        assert loudness_lufs(np.stack([one, np.zeros_like(one)]), rate) == pytest.approx(-3.01, abs=0.1)
    assert loudness_lufs(np.zeros((2, 44100)), 44100) == -70.0


def test_loudness_against_pyloudnorm(on_stand, deep) -> None:
    """The whole reckoning of BS.1770-4 on music, by another implementation."""
    pyloudnorm = pytest.importorskip("pyloudnorm")
    for song_id in ("a-borrowed-umbrella", "ferry-at-half-past-six")[: None if deep else 1]:
        samples = mix(perform(on_stand(song_id), ExportOptions(choruses=1)))
        assert pyloudnorm.Meter(RATE).integrated_loudness(samples.T.astype(float)) == pytest.approx(
            TARGET_LUFS, abs=0.5
        )


def test_the_limiter_holds_peaks_and_leaves_the_rest_alone() -> None:
    rng = np.random.default_rng(0)
    quiet = rng.uniform(-0.5, 0.5, (2, RATE)).astype(np.float32)
    assert limited(quiet, RATE) is quiet
    loud = quiet.copy()
    loud[:, RATE // 2 : RATE // 2 + 200] *= 4
    held = limited(loud, RATE)
    assert np.abs(held).max() <= 10 ** (PEAK_DBFS / 20) + 1e-6
    away = np.r_[0 : RATE // 2 - 1000, RATE // 2 + 1200 : RATE]
    assert np.allclose(held[:, away], loud[:, away], atol=1e-6)


def test_a_climb_inside_one_file(on_stand, settings, tmp_path) -> None:
    stand = on_stand("left-sock-blues").with_tempo(180)
    options = ExportOptions(parts=("click",), choruses=3, from_tempo_bpm=80)
    (path,) = export(stand, tmp_path / "climb.wav", options, settings)
    samples, rate = decoded(path)
    gaps = np.diff(onsets_s(samples.sum(axis=1), rate))
    assert gaps[:51] == pytest.approx(60 / 80, abs=0.005)  # count-in and first chorus
    assert gaps[52:99] == pytest.approx(60 / 120, abs=0.005)
    assert gaps[100:] == pytest.approx(60 / 180, abs=0.005)


def test_parts_are_left_out_and_volumes_heard(on_stand, settings) -> None:
    stand = on_stand("left-sock-blues")
    both = perform(stand, ExportOptions(parts=("left", "bass"), choruses=1))
    assert {event.part for event in both.events if event.tick >= both.music_tick} == {"left", "bass"}
    low = mix(perform(stand, ExportOptions(parts=("bass",), choruses=1)))
    assert mix(both).shape == low.shape
    silent = replace(both, events=())
    assert not mix(silent).any()
    assert not mix(both, {"left": 0.0, "bass": 0.0, "click": 0.0}).any()


def test_a_note_is_let_go_and_voices_stand_apart(on_stand) -> None:
    """A beat long at 60 a minute, a second before the end: silent before it and once it was let go, the left hand to the left."""
    slow = perform(on_stand("left-sock-blues").with_tempo(60), ExportOptions(choruses=1))
    one = replace(slow, events=(NoteEvent(2 * TICKS_PER_QUARTER, TICKS_PER_QUARTER, "left", 60, 80),))
    left, right = mix(one)
    at = round((LEAD_S + 2) * RATE)
    assert not left[:at].any() and np.abs(left[at : at + 500]).max() > 0
    assert not left[at + round(1.1 * RATE) :].any()
    assert 1.05 < np.sqrt((left**2).sum() / (right**2).sum()) < 1.6
    assert np.corrcoef(left, right)[0, 1] < 0.9, "the room and the two ears differ"
    mono = (left + right) / 2
    assert (mono**2).sum() > 0.6 * (left**2 + right**2).sum() / 2, "on one loudspeaker at most 2 dB are lost"


def test_too_long_a_track_is_refused(on_stand, settings, tmp_path) -> None:
    with pytest.raises(ExportError, match="at most 30"):
        export(on_stand("what-the-window-kept"), tmp_path / "x.wav", ExportOptions(choruses=200), settings)
    assert list(tmp_path.glob("*.wav")) == []


def test_without_soundfile_a_wav_is_written_all_the_same(monkeypatch, tmp_path) -> None:
    tone = np.sin(np.arange(RATE) * 2 * np.pi * 440 / RATE) * np.array([[0.5], [0.25]])
    with monkeypatch.context() as without:
        without.setitem(sys.modules, "soundfile", None)
        (tmp_path / "tone.wav").write_bytes(encoded(tone, RATE, ".wav", Tags("A tone", 90, "C", "")))
        without.setenv("PATH", str(tmp_path))  # nor ffmpeg
        with pytest.raises(ExportError, match=r"\.flac needs the soundfile library or ffmpeg"):
            encoded(tone, RATE, ".flac", Tags("A tone", 90, "C", ""))
    samples, rate = decoded(tmp_path / "tone.wav")
    assert rate == RATE
    assert samples == pytest.approx(tone.T, abs=1 / 32000)
