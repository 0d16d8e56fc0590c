"""What is heard, written into a sound file as it goes: for a performance that the student asked to have recorded, and for nothing else.

WAV, mono, 16 bits at RATE. A thread writes it, as a disk may be slow and who listens must not wait: beside its place, flushed to the disk and renamed into it at its end, so that under
its name lies a whole one or none. Python's own `wave` writes it: it says of a full disk what the system says, which encoders do not.
"""

from __future__ import annotations

import contextlib
import os
import queue
import threading
import wave
from collections.abc import Callable
from pathlib import Path

import numpy as np

from companion.base.files import finish, unfinished
from companion.sound.listening import LONGEST_S, RATE
from companion.sound.listening.clocks import LOST_S
from companion.sound.listening.messages import EndRecord, Record, Recorded, RecordFailed
from companion.sound.listening.spectra import Array

NOTHING_CAME = "No sound came from the microphone, so the performance is not recorded."
FAILED = "{path} cannot be written, so the performance is not recorded: {why}"
_CLOSE_S = 0.5  # less than the app waits for the process to leave
_MOST = LONGEST_S * RATE


class Recorder:
    """At most one file at a time. late_s: see Recorded."""

    def __init__(self) -> None:
        self._writer: Writer | None = None
        self._told: queue.SimpleQueue[Recorded | RecordFailed] = queue.SimpleQueue()
        self._count = 0
        self._start_s = self._end_s = 0.0

    def obey(self, message: Record | EndRecord, late_s: float | None) -> None:
        """Begin or end."""
        if isinstance(message, Record):
            self._end(None)
            self._count = 0
            self._writer = Writer(Path(message.path), self._told.put)
            self._writer.start()
        else:
            self._end(late_s, keep=message.keep)

    def hear(self, block: Array, start_s: float, late_s: float | None) -> None:
        """block: mono at RATE; start_s: when its first sample was heard. What was lost between two blocks is made good with silence."""
        if self._writer is None:
            return
        if not self._count:
            self._start_s = self._end_s = start_s
        lost_s = start_s - self._end_s
        silence = np.zeros(round(lost_s * RATE) if lost_s > LOST_S else 0, np.float32)
        sound = np.concatenate([silence, block])[: _MOST - self._count]
        self._count, self._end_s = self._count + len(sound), start_s + len(block) / RATE
        self._writer.put((np.clip(sound, -1.0, 1.0) * 32767.0).astype(np.int16).tobytes())
        if self._count >= _MOST:
            self._end(late_s, keep=True)

    def take(self) -> list[object]:
        """What is to be reported by now."""
        told: list[object] = []
        with contextlib.suppress(queue.Empty):
            while True:
                told.append(self._told.get_nowait())
        return told

    def close(self, late_s: float | None, *, keep: bool) -> list[object]:
        """Nothing is heard any more; what was is kept, or not. Waits for the disk, for a moment. What is to be reported of it."""
        if writer := self._writer:
            self._end(late_s, keep=keep)
            writer.join(_CLOSE_S)
        return self.take()

    def _end(self, late_s: float | None, *, keep: bool = False) -> None:
        if self._writer is None:
            return
        if keep and not self._count:
            self._told.put(RecordFailed(NOTHING_CAME))
        has_any = keep and self._count
        path = str(self._writer.path)
        self._writer.end(Recorded(path, self._start_s, self._end_s, late_s) if has_any else None)
        self._writer = None


class Writer(threading.Thread):
    """One file. tell: told how it went, from this thread."""

    def __init__(self, path: Path, tell: Callable[[Recorded | RecordFailed], None]) -> None:
        super().__init__(daemon=True, name="companion recording")
        self.path = path
        self._tell = tell
        self._waiting: queue.SimpleQueue[bytes | Recorded | None] = queue.SimpleQueue()

    def put(self, samples: bytes) -> None:
        """More of it. Never waits."""
        self._waiting.put(samples)

    def end(self, report: Recorded | None) -> None:
        """That was all. report: told once the file is there; None where nothing is to stay."""
        self._waiting.put(report)

    def run(self) -> None:
        """The thread."""
        try:
            report = self._write()
            if report is not None:
                finish(self.path)
                self._tell(report)
                return
        except OSError as error:
            self._tell(RecordFailed(FAILED.format(path=self.path, why=error.strerror or error)))
        with contextlib.suppress(OSError):
            unfinished(self.path).unlink(missing_ok=True)

    def _write(self) -> Recorded | None:
        self.path.parent.mkdir(parents=True, exist_ok=True)
        with open(unfinished(self.path), "xb") as file:
            with wave.open(file, "wb") as sound:
                sound.setnchannels(1)
                sound.setsampwidth(2)
                sound.setframerate(RATE)
                while isinstance(piece := self._waiting.get(), bytes):
                    sound.writeframesraw(piece)
            file.flush()
            os.fsync(file.fileno())
        return piece
