"""The acoustic pianos that the companion has learned to hear, kept by name, a file each: figures, no sound. What is in a file is for `sound/listening/piano.py`."""

from __future__ import annotations

from pathlib import Path

from companion.base.files import unfit, write_whole
from companion.errors import PianoError, WriteError
from companion.store.paths import Paths

MOST_BYTES = 5_000_000
LONGEST_NAME = 40
_RESPONSE = "loudspeaker.response"  # of the place, whichever the piano


def piano_path(paths: Paths, name: str) -> Path:
    """Where a piano of that name is kept. Raises PianoError for what cannot be the name of a file."""
    name = name.strip()
    if (
        not name
        or len(name) > LONGEST_NAME
        or name.startswith(".")
        or any(sign in "/\\\0" or sign < " " for sign in name)
    ):
        raise PianoError(
            f"{name!r} cannot be the name of a piano; expected 1 to {LONGEST_NAME} letters without a slash, not beginning with a dot"
        )
    path = paths.pianos / f"{name}.npz"
    if reason := unfit(path.name):
        raise PianoError(f"{name!r} cannot be the name of a piano: {reason}")
    return path


def kept_pianos(paths: Paths) -> list[str]:
    """Their names, in order."""
    return sorted((path.stem for path in paths.pianos.glob("*.npz")), key=str.casefold) if paths.pianos.is_dir() else []


def read_piano(paths: Paths, name: str) -> tuple[Path, bytes]:
    """Raises PianoError, one sentence, where there is none of that name."""
    path = piano_path(paths, name)
    try:
        if path.stat().st_size > MOST_BYTES:
            raise PianoError(f"{path}: is not a piano that the companion has learned; learn it anew")
        return path, path.read_bytes()
    except FileNotFoundError:
        names = ", ".join(kept_pianos(paths)) or "none yet"
        raise PianoError(
            f"there is no piano named {name!r}; expected one that was learned ({names}), "
            "as by: companion listen --scale SCALE.wav --as NAME"
        ) from None
    except OSError as error:
        raise PianoError(f"{path}: cannot be read: {error.strerror}") from error


def write_piano(paths: Paths, name: str, data: bytes) -> Path:
    """Keep a piano; one of that name is replaced. Raises PianoError for the name, WriteError where it cannot be written."""
    path = piano_path(paths, name)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, data)
    except OSError as error:
        raise WriteError(f"{path} cannot be written: {error.strerror or error}") from error
    return path


def read_response(paths: Paths) -> bytes:
    """How what is played comes back into the microphone, as it was measured last; b"" where it was not, or cannot be read."""
    try:
        data = (paths.pianos / _RESPONSE).read_bytes()
    except OSError:
        return b""
    return data if len(data) <= MOST_BYTES and len(data) % 4 == 0 else b""


def write_response(paths: Paths, data: bytes) -> None:
    """Keep it. Raises WriteError."""
    path = paths.pianos / _RESPONSE
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, data)
    except OSError as error:
        raise WriteError(f"{path} cannot be written: {error.strerror or error}") from error
