"""The sound of one performance, which the listening process writes into a file because the student asked for it: begun, ended, and what came of it."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from pathlib import Path

from companion.base.files import unfinished
from companion.sound.listening.messages import EndRecord, MicrophoneOff, Record, Recorded, RecordFailed

PATIENCE_S = 10.0  # so long it is waited for that a file is written to its end
LOST = "Listening ended before the sound was written, so this performance is not kept."
NO_ANSWER = "The sound of this performance is not written to its end, so it is not marked: is the disk busy?"


class SoundRecording:
    """path: of the file; send: tells the listening process. recorded: what is told once it is there, None before; fault: why it is not kept, "" else."""

    def __init__(self, path: Path, send: Callable[[object], None]) -> None:
        self.path = path
        self.recorded: Recorded | None = None
        self.fault = ""
        self._send = send
        send(Record(str(path)))

    @property
    def is_over(self) -> bool:
        """Whether nothing is waited for any more."""
        return self.recorded is not None or bool(self.fault)

    def end(self, *, keep: bool) -> None:
        """Write no longer. keep: else nothing of it stays, and nothing is told."""
        self._send(EndRecord(keep))

    def give_up(self) -> None:
        """It was waited for long enough."""
        self.fault = NO_ANSWER

    def hear(self, report: object) -> None:
        """A report of the listening process. One that died leaves a piece that nobody can use."""
        if isinstance(report, Recorded) and report.path == str(self.path):
            self.recorded = report
        elif isinstance(report, RecordFailed) and not self.is_over:
            self.fault = report.sentence
        elif isinstance(report, MicrophoneOff) and not self.is_over:
            self.fault = LOST
            with contextlib.suppress(OSError):
                unfinished(self.path).unlink(missing_ok=True)
