"""Reading a recording, such as a telephone makes, as mono sound for the listener. Nothing of it is kept.

WAV, FLAC, MP3 and OGG are read by soundfile; all else, and these where soundfile cannot be loaded, by ffmpeg where that is there.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.errors import TakeError
from companion.sound.listening import LONGEST_S, RATE

if TYPE_CHECKING:
    from companion.sound.listening.spectra import Array

LONGEST_MIN = LONGEST_S // 60
SHORTEST_S = 1.0
ENDINGS = (
    ".wav",
    ".flac",
    ".mp3",
    ".ogg",
    ".oga",
    ".m4a",
    ".aac",
    ".mp4",
    ".opus",
    ".aif",
    ".aiff",
    ".wma",
    ".webm",
    ".caf",
    ".3gp",
    ".amr",
)
EXPECTED = "a recording as WAV, FLAC, MP3 or OGG"
_CHUNK_S = 8  # resampled at a time, with as much on either side as a filter could ring
_EDGE_S = 1
_FFMPEG_S = 300.0
_SILENCE = 1e-4  # -80 dB below full scale


def is_sound_file(path: str | os.PathLike[str]) -> bool:
    """By its ending: whether it is a recording, not a MIDI file."""
    return Path(path).suffix.casefold() in ENDINGS


def read_sound(path: str | os.PathLike[str]) -> Array:
    """Mono float32 at RATE. Raises TakeError, one sentence, for what is not there, no sound, broken, silent, too short or too long."""
    import numpy as np

    path = Path(os.path.expanduser(path))
    try:
        if not path.is_file():
            raise TakeError(f"{path}: there is no such file; expected {EXPECTED}")
        if path.stat().st_size == 0:
            raise TakeError(f"{path}: is empty; expected {EXPECTED}")
        with path.open("rb"):
            pass
    except OSError as error:
        raise TakeError(f"{path}: cannot be read: {error.strerror}") from error
    sound = _by_soundfile(path)
    sound = _by_ffmpeg(path) if sound is None else sound
    if len(sound) < SHORTEST_S * RATE:
        raise TakeError(f"{path}: lasts {len(sound) / RATE:.1f} s; expected a recording of at least {SHORTEST_S:g} s")
    if not np.isfinite(sound).all():
        raise TakeError(f"{path}: has samples that are no numbers; expected {EXPECTED}")
    if float(np.abs(sound).max()) < _SILENCE:
        raise TakeError(f"{path}: is silent; expected a recording of a piano")
    return sound


def _too_long(path: Path) -> TakeError:
    return TakeError(f"{path}: is longer than {LONGEST_MIN} minutes; expected one take at a time")


def _by_soundfile(path: Path) -> Array | None:
    """None where soundfile is not there or does not know the format."""
    import numpy as np

    try:
        import soundfile
    except (ImportError, OSError):  # OSError: its library is not there on this machine
        return None
    try:
        with _silenced(), soundfile.SoundFile(path) as file:
            rate = int(file.samplerate)
            if rate < 8000:
                raise TakeError(f"{path}: has {rate} samples a second; expected at least 8000")
            if file.frames > LONGEST_MIN * 60 * rate and file.seekable():
                raise _too_long(path)
            pieces = []
            while len(piece := file.read(60 * rate, dtype="float32", always_2d=True)):
                pieces.append(piece.mean(axis=1))
                if len(pieces) > LONGEST_MIN:
                    raise _too_long(path)
    except soundfile.SoundFileError:
        return None
    except (ValueError, RuntimeError) as error:
        raise TakeError(f"{path}: is a recording with faults ({error}); expected {EXPECTED}") from error
    return resampled(np.concatenate(pieces) if pieces else np.zeros(0, dtype=np.float32), rate)


@contextmanager
def _silenced() -> Iterator[None]:
    """Nothing goes to the terminal meanwhile: the library that reads MP3 writes remarks of its own there, also about files that it reads well."""
    try:
        kept, nowhere = os.dup(2), os.open(os.devnull, os.O_WRONLY)
    except OSError:  # no terminal, or a full table of files
        yield
        return
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)


def _by_ffmpeg(path: Path) -> Array:
    import numpy as np

    program = shutil.which("ffmpeg")
    if program is None:
        raise TakeError(
            f"{path}: is not {EXPECTED}, or is broken; other formats, such as M4A, need ffmpeg, which is not on this computer"
        )
    # "file:" lets no name be taken for an address.
    command = [program, "-v", "error", "-nostdin", "-t", str(LONGEST_MIN * 60 + 1), "-i", f"file:{path}"]
    command += ["-vn", "-ac", "1", "-ar", str(RATE), "-f", "f32le", "-"]
    try:
        done: Any = subprocess.run(
            command, check=False, stdin=subprocess.DEVNULL, capture_output=True, timeout=_FFMPEG_S
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        raise TakeError(f"{path}: ffmpeg could not read it ({error}); expected {EXPECTED}") from error
    if done.returncode or not done.stdout:
        raise TakeError(f"{path}: is not a recording that soundfile or ffmpeg can read; expected {EXPECTED}")
    sound = np.frombuffer(done.stdout[: len(done.stdout) // 4 * 4], dtype="<f4").astype(np.float32)
    if len(sound) > LONGEST_MIN * 60 * RATE:
        raise _too_long(path)
    return sound


def resampled(sound: Array, rate: int, into: int = RATE) -> Array:
    """At the rate `into`, without what lies above half of it: piece by piece through the spectrum, the pieces' edges left off."""
    import numpy as np

    if rate == into:
        return np.asarray(sound, dtype=np.float32)
    step, edge = _CHUNK_S * rate, _EDGE_S * rate
    size, size_out = step + 2 * edge, (_CHUNK_S + 2 * _EDGE_S) * into
    padded = np.concatenate([np.zeros(edge), sound, np.zeros(step + edge)]).astype(np.float64)
    pieces = []
    for at in range(0, len(sound), step):
        spectrum = np.fft.rfft(padded[at : at + size])[: size_out // 2 + 1]
        piece = np.fft.irfft(spectrum, size_out) * (size_out / size)
        pieces.append(piece[_EDGE_S * into : (_EDGE_S + _CHUNK_S) * into])
    whole = np.concatenate(pieces) if pieces else np.zeros(0)
    return whole[: int(len(sound) * into / rate)].astype(np.float32)
