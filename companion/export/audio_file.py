"""Samples as WAV, FLAC or MP3 with the song's title, and tempo, key and the rest in words, in their tags.

soundfile encodes all three; its wheels bring the encoders. It writes the tags of WAV (INFO list: INAM, ICMT) and FLAC
(Vorbis comments: TITLE, COMMENT) too. Into an MP3 it writes thirty letters of ISO 8859-1 and no more (ID3 version 1), so
that tag is ours. Where soundfile cannot be loaded, pydub writes a WAV without tags by itself and the others, tags too,
through ffmpeg. Sources: Microsoft, "Multimedia Programming Interface and Data Specifications 1.0" (INFO list);
xiph.org, vorbis-comment field names; id3.org, ID3v2.4.0-structure and ID3v2.4.0-frames.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from companion.export.options import ExportError

if TYPE_CHECKING:
    import numpy as np

# ending -> format, its samples, and what else the encoder is told; the MP3 has 224 kilobits a second.
_FORMATS: dict[str, tuple[str, str, dict[str, Any]]] = {
    ".wav": ("WAV", "PCM_16", {}),
    ".flac": ("FLAC", "PCM_16", {}),
    ".mp3": ("MP3", "MPEG_LAYER_III", {"compression_level": 0.3, "bitrate_mode": "CONSTANT"}),
}


@dataclass(frozen=True, slots=True)
class Tags:
    """comment: what is on the track, in words. key: as ID3 writes it, at most three signs such as "Ebm"."""

    title: str
    tempo_bpm: float
    key: str
    comment: str


def encoded(stereo: np.ndarray, rate: int, kind: str, tags: Tags) -> bytes:
    """A whole file. stereo: float samples of shape (2, frames), full scale 1. kind: ".wav", ".flac" or ".mp3".

    Raises ExportError where no encoder is there.
    """
    import numpy as np

    samples = np.ascontiguousarray(np.round(stereo.T * 32767).astype("<i2"))
    try:
        import soundfile
    except (ImportError, OSError):  # OSError: its library is not there on this machine
        return _through_pydub(samples, rate, kind, tags)
    if kind == ".mp3":
        # Whole numbers reach its MP3 encoder garbled (libsndfile 1.2.2, found by decoding what it wrote).
        samples = samples.astype("float32") / 32768
    name, subtype, more = _FORMATS[kind]
    # Into memory: of a full disk an encoder says "system error", or something at the wrong moment on stderr.
    into = io.BytesIO()
    try:
        with soundfile.SoundFile(into, "w", rate, 2, subtype, format=name, **more) as file:
            if kind != ".mp3":
                file.title, file.comment = tags.title, tags.comment
            file.write(samples)
    except soundfile.SoundFileError as error:
        raise ExportError(f"{kind} could not be encoded here ({error})") from error
    return (_id3(tags) if kind == ".mp3" else b"") + into.getvalue()


def _through_pydub(samples: np.ndarray, rate: int, kind: str, tags: Tags) -> bytes:
    """samples: whole numbers of 16 bits, of shape (frames, 2)."""
    try:
        from pydub import AudioSegment
        from pydub.exceptions import CouldntEncodeError
    except ImportError as error:
        raise ExportError(f"{kind} needs the soundfile library, which cannot be loaded here ({error})") from error
    sound = AudioSegment(samples.tobytes(), sample_width=2, frame_rate=rate, channels=2)
    try:
        written: bytes = sound.export(
            io.BytesIO(), format=kind[1:], bitrate="224k", tags={"title": tags.title, "comment": tags.comment}
        ).getvalue()
    except FileNotFoundError as error:
        raise ExportError(f"{kind} needs the soundfile library or ffmpeg, and neither is there; export .wav") from error
    except CouldntEncodeError as error:
        raise ExportError(f"{kind} could not be encoded here by ffmpeg") from error
    return written


def _id3(tags: Tags) -> bytes:
    """An ID3v2.4 tag, which stands before the sound: title, whole beats a minute, key, comment."""
    texts = (("TIT2", tags.title), ("TBPM", f"{tags.tempo_bpm:.0f}"), ("TKEY", tags.key))
    frames = b"".join(_frame(name, b"\x03" + text.encode()) for name, text in texts)
    frames += _frame("COMM", b"\x03eng\0" + tags.comment.encode())  # a language, and a description without a word
    return b"ID3\x04\x00\x00" + _synchsafe(len(frames)) + frames


def _frame(name: str, body: bytes) -> bytes:
    """Section 4: name, size, two bytes of flags. A body of text begins with its code, 3 for UTF-8."""
    return name.encode() + _synchsafe(len(body)) + b"\0\0" + body


def _synchsafe(number: int) -> bytes:
    """Section 6.2: four bytes of seven bits, so that no size looks like the start of a frame of sound."""
    return bytes(number >> shift & 0x7F for shift in (21, 14, 7, 0))
