"""Writing samples as WAV, FLAC or MP3 with title and tempo in their tags.

pydub wraps the samples; it writes WAV by itself and the others through ffmpeg. Where ffmpeg is missing, soundfile does,
whose wheels bring the encoders. Tags are mutagen's: ID3 2.4 for WAV and MP3 (TIT2 title, TBPM beats a minute, TKEY
key), Vorbis comments for FLAC (TITLE, BPM, KEY). Sources: id3.org, ID3v2.4.0-frames; xiph.org, vorbis-comment field
names, where BPM and KEY are common practice.
"""

from __future__ import annotations

import io
import shutil
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from companion.export.options import ExportError

if TYPE_CHECKING:
    import numpy as np

_MP3_KBPS = 192
_SOUNDFILE_FORMATS = {".flac": ("FLAC", "PCM_16"), ".mp3": ("MP3", "MPEG_LAYER_III")}


@dataclass(frozen=True, slots=True)
class Tags:
    """comment: what is on the track, in words. key: as ID3 writes it, at most three signs such as "Ebm"."""

    title: str
    tempo_bpm: float
    key: str
    comment: str


def write_audio(path: Path, stereo: np.ndarray, rate: int, tags: Tags) -> None:
    """Write float samples of shape (2, frames) by the path's ending. Raises ExportError where no encoder is there."""
    import numpy as np

    samples = np.ascontiguousarray(np.round(stereo.T * 32767).astype("<i2"))
    kind = path.suffix.casefold()
    encode = _through_pydub if kind == ".wav" or shutil.which("ffmpeg") else _through_soundfile
    # Into memory first: of a full disk an encoder says "system error", or something at the wrong moment on stderr.
    path.write_bytes(encode(samples, rate, kind))
    _tag(path, kind, tags)


def _through_pydub(samples: np.ndarray, rate: int, kind: str) -> bytes:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # that ffmpeg is missing, which we looked for
        warnings.simplefilter("ignore", DeprecationWarning)
        from pydub import AudioSegment
        from pydub.exceptions import CouldntEncodeError
    segment = AudioSegment(samples.tobytes(), sample_width=2, frame_rate=rate, channels=2)
    into = io.BytesIO()
    try:
        segment.export(into, format=kind[1:], bitrate=f"{_MP3_KBPS}k" if kind == ".mp3" else None)
    except CouldntEncodeError:
        return _through_soundfile(samples, rate, kind)  # an ffmpeg built without that encoder
    return into.getvalue()


def _through_soundfile(samples: np.ndarray, rate: int, kind: str) -> bytes:
    try:
        import soundfile
    except (ImportError, OSError) as error:  # OSError: its library is not there on this machine
        raise ExportError(
            f"{kind} needs ffmpeg or the soundfile library on this machine; .wav needs neither"
        ) from error
    name, subtype = _SOUNDFILE_FORMATS[kind]
    more = {"compression_level": 0.3, "bitrate_mode": "CONSTANT"} if kind == ".mp3" else {}
    if kind == ".mp3":
        # Whole numbers reach its MP3 encoder garbled (libsndfile 1.2.2, found by decoding what it wrote).
        samples = samples.astype("float32") / 32768
    into = io.BytesIO()
    try:
        soundfile.write(into, samples, rate, format=name, subtype=subtype, **more)
    except soundfile.SoundFileError as error:
        raise ExportError(f"{kind} could not be encoded here ({error}); .wav needs no encoder") from error
    return into.getvalue()


def _tag(path: Path, kind: str, tags: Tags) -> None:
    from mutagen import MutagenError

    try:
        _write_tags(path, kind, tags)
    except MutagenError as error:  # its own word for an OSError
        raise OSError(getattr(error.args[0], "strerror", None) or str(error)) from error


def _write_tags(path: Path, kind: str, tags: Tags) -> None:
    tempo = f"{tags.tempo_bpm:.0f}"  # whole beats a minute, as TBPM wants them
    if kind == ".flac":
        from mutagen.flac import FLAC

        file = FLAC(path)
        file.update({"TITLE": tags.title, "BPM": tempo, "KEY": tags.key, "COMMENT": tags.comment})
        file.save()
        return
    from mutagen.id3 import COMM, TBPM, TIT2, TKEY
    from mutagen.mp3 import MP3
    from mutagen.wave import WAVE

    file = (WAVE if kind == ".wav" else MP3)(path)
    if file.tags is None:
        file.add_tags()
    for frame in (TIT2(3, tags.title), TBPM(3, tempo), TKEY(3, tags.key), COMM(3, "eng", "", tags.comment)):
        file.tags.add(frame)
    file.save()
