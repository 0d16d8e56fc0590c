"""Which companion keeps something for a while, and whether it still runs.

Each locks a byte of one file, drawn at random; the system lets go of it however the companion ends. (A process id would be given to another
program in time, and to ask whether one lives ends it on Windows.)
"""

from __future__ import annotations

import contextlib
import os
import random
import sys
from pathlib import Path
from typing import IO

_BYTES = 2**31 - 2


class Owner:
    """id: names this companion, "" where nothing can be locked, or the log is in memory alone."""

    def __init__(self, file: IO[bytes] | None = None, id: str = "") -> None:
        self.id = id
        self._file = file

    @classmethod
    def begin(cls, path: Path) -> Owner:
        """This companion from now on. path: of the file whose bytes are locked."""
        try:
            file = open(path, "ab")  # held as long as it runs
        except OSError:
            return cls()
        place = random.SystemRandom().randrange(_BYTES)
        if _lock(file, place):
            return cls(file, str(place))
        file.close()
        return cls()

    def runs(self, id: str) -> bool:
        """Whether another companion is running that has this id."""
        if self._file is None or id == self.id or not id.isdecimal() or int(id) >= _BYTES:
            return False
        if not _lock(self._file, int(id)):
            return True
        _lock(self._file, int(id), free=True)
        return False

    def end(self) -> None:
        """It ends."""
        if self._file is not None:
            self._file.close()
        self._file, self.id = None, ""


def _lock(file: IO[bytes], place: int, *, free: bool = False) -> bool:
    """Lock a byte, or let it go; whether that could be done."""
    with contextlib.suppress(OSError):
        if sys.platform == "win32":
            import msvcrt

            os.lseek(file.fileno(), place, os.SEEK_SET)
            msvcrt.locking(file.fileno(), msvcrt.LK_UNLCK if free else msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.lockf(file, fcntl.LOCK_UN if free else fcntl.LOCK_EX | fcntl.LOCK_NB, 1, place)
        return True
    return False
