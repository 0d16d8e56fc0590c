"""The student's own SoundFont, .sf2 or .sf3: a key of one of its instruments as an array, by FluidSynth, in a process of its own (font_player.py)."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import threading
from pathlib import Path

import numpy as np

from companion.base.text import plain
from companion.errors import SoundError
from companion.sound.font_player import ANSWER, QUESTION

PERCUSSION_BANK = 128
_COMMAND = "from companion.sound.font_player import main; main()"
_SILENT = 3e-4  # of a note's peak: what is softer at its end is cut
_PATIENCE_S = 120  # for one answer: a large instrument comes from a slow disk


class SoundFontError(SoundError):
    """A file that is no SoundFont, or none that can be played: one sentence."""


class SoundFont:
    """One that is ready to play at `rate` frames a second. Raises SoundFontError for one that cannot be. To be closed."""

    def __init__(self, path: Path, rate: int = 44_100) -> None:
        self._name = plain(path.name)
        self._look_at(path)
        try:
            self._process = subprocess.Popen(
                [sys.executable, "-P", "-c", _COMMAND, os.path.abspath(path), str(rate)],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                cwd=Path(__file__).parent,  # on Windows the binding looks for libraries there: not among downloads
                start_new_session=True,  # the terminal's signals are for the app
            )
        except OSError as error:
            raise self._fault("cannot be played: its process cannot be started") from error
        try:
            self._answer()
        except SoundFontError:
            self.close()
            raise

    def held_note(self, bank: int, program: int, note: int, velocity: int) -> np.ndarray | None:
        """float32, shape (2, frames), from the very frame of the key on, some seconds at most; None where the instrument has no such key. program: 0 to 127. Louder with velocity, as the
        SoundFont says. Raises SoundFontError."""
        assert self._process.stdin is not None
        with contextlib.suppress(OSError):  # it has ended: no answer comes either
            self._process.stdin.write(QUESTION.pack(bank, program, note, velocity))
            self._process.stdin.flush()
        sound = self._answer()
        loud = np.abs(sound).max(axis=0, initial=0)
        if not loud.any():
            return None
        return sound[:, : np.flatnonzero(loud > _SILENT * loud.max())[-1] + 1]

    def close(self) -> None:
        """End its process."""
        self._process.kill()
        self._process.communicate()

    def _look_at(self, path: Path) -> None:
        """What is wrong with most files is told here, as the library tells no reasons."""
        try:
            with path.open("rb") as file:
                head, size = file.read(12), os.fstat(file.fileno()).st_size
        except FileNotFoundError as error:
            raise self._fault("is not there") from error
        except (OSError, ValueError) as error:  # ValueError: a path with a null character
            raise self._fault(f"cannot be read: {plain(getattr(error, 'strerror', '') or str(error))}") from error
        if len(head) < 12 or head[:4] != b"RIFF" or head[8:] != b"sfbk":
            raise self._fault("is none by its contents; expected .sf2 or .sf3")
        if int.from_bytes(head[4:8], "little") + 8 > size:
            raise self._fault("is cut off")

    def _answer(self) -> np.ndarray:
        hangs = threading.Timer(_PATIENCE_S, self._process.kill)
        hangs.start()
        try:
            length, frames, divide_by = ANSWER.unpack(self._read(ANSWER.size))
            if length:
                raise self._fault(self._read(length).decode())
            return np.frombuffer(self._read(4 * frames), "<i2").reshape(-1, 2).T / np.float32(32768 * divide_by)
        finally:
            hangs.cancel()

    def _read(self, count: int) -> bytes:
        assert self._process.stdout is not None
        data = self._process.stdout.read(count)
        if len(data) != count:
            raise self._fault("cannot be played: FluidSynth fails over it")
        return data

    def _fault(self, what: str) -> SoundFontError:
        return SoundFontError(f"The SoundFont {self._name} {what}.")
