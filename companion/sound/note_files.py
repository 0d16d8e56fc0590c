"""Notes that were made, kept on disk: a file each, of 16 bits in two sides. A file that is cut off, changed or of another kind counts as none, and is made anew.

Each is written beside its place and renamed into it, so that several companions may keep the same notes.
"""

from __future__ import annotations

import contextlib
import struct
import zlib
from pathlib import Path

import numpy as np

from companion.base.files import write_whole

MOST_BYTES = 300_000_000  # of all notes together; those that were not asked for the longest go first
_KIND = b"note"
_HEAD = struct.Struct("<4sII")  # kind, frames, CRC-32 of the samples
_ENDING = ".note"
_LONGEST_FRAMES = 60 * 48000


class NoteFiles:
    """folder: made as soon as a note is kept; None keeps nothing. A disk that is full or refuses is no fault: the note is made again next time."""

    def __init__(self, folder: Path | None, most_bytes: int = MOST_BYTES) -> None:
        self._folder = folder
        self._most_bytes = most_bytes

    def read(self, name: str) -> np.ndarray | None:
        """The samples as int16, shape (2, frames); None where there are none that are whole."""
        if self._folder is None:
            return None
        path = self._folder / f"{name}{_ENDING}"
        try:
            with path.open("rb") as file:
                kind, frames, checksum = _HEAD.unpack(file.read(_HEAD.size))
                if kind != _KIND or not 0 < frames <= _LONGEST_FRAMES:
                    return None
                data = file.read(4 * frames + 1)
            path.touch()  # asked for today
        except (OSError, struct.error):
            return None
        if len(data) != 4 * frames or zlib.crc32(data) != checksum:
            return None
        return np.frombuffer(data, "<i2").reshape(2, frames)

    def write(self, name: str, samples: np.ndarray) -> None:
        """samples: as `read` gives them."""
        if self._folder is None:
            return
        data = samples.astype("<i2").tobytes()
        with contextlib.suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True)
            head = _HEAD.pack(_KIND, samples.shape[1], zlib.crc32(data))
            write_whole(self._folder / f"{name}{_ENDING}", head + data, firmly=False, follow=False)

    def tidy(self) -> None:
        """Remove what was not asked for the longest, where there is too much, and what was left half written."""
        if self._folder is None:
            return
        found = []
        with contextlib.suppress(OSError):
            for path in self._folder.iterdir():
                if path.suffix in (_ENDING, ".new"):
                    with contextlib.suppress(OSError):
                        status = path.stat()
                        found.append((status.st_mtime, status.st_size, path))
        left = sum(size for _, size, _ in found) - self._most_bytes
        for _, size, path in sorted(found):
            if left <= 0:
                return
            with contextlib.suppress(OSError):
                path.unlink()
                left -= size
