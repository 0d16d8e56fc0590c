"""A keyboard on a desk in free time, with the seconds told by hand."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from companion.session.free import FreeTime
from companion.sound.messages import NoteIn

BEGAN = datetime(2026, 1, 5, 18, 0, tzinfo=UTC)


class Keys:
    """A keyboard on a desk in free time. At second 100 it begins."""

    def __init__(self, stand, log, **options) -> None:
        self.now_s = 100.0
        self.free = FreeTime(stand, log, 100.0, lambda: BEGAN + timedelta(seconds=self.now_s), **options)

    @property
    def found(self):
        return self.free._waiting.found

    def wait(self, seconds: float) -> None:
        self.now_s += seconds

    def down(self, *notes: int) -> None:
        for note in notes:
            self.free.hear(NoteIn(self.now_s, note, 70, "keys"))

    def up(self, *notes: int) -> None:
        for note in notes:
            self.free.hear(NoteIn(self.now_s, note, 0, "keys"))

    def find(self, after_s: float = 1.0) -> None:
        """Strike what is waited for and let go."""
        self.wait(after_s)
        notes = self.free.target.notes
        self.down(*notes)
        self.up(*notes)
