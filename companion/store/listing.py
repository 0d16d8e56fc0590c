"""The list of songs as it was seen last, so that a folder of thousands is listed at once.

A file is known again by its path, size and time of change. The list is only a convenience: damaged, missing or not writable, the files are
read anew and nothing is said. What was counted depends on the hand, so another hand counts anew.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from companion import __version__
from companion.base.files import write_text
from companion.hands.hand import Hand

_FIELDS = ("title", "key", "meter", "tempo_bpm", "feel", "form", "bars", "changes", "shells", "lesson", "fault")
_COUNTED = 1  # raised when what is counted of a song changes


@dataclass(frozen=True, slots=True)
class SongEntry:
    """One line of the list of songs. bars: in one chorus. changes: of chord, a minute at the target; shells: different ones that the
    student's hand plays, 0 where it cannot (see planning/difficulty.py). lesson: whether it has one with steps. own: from the student's
    folder. fault: "" or why the file could not be read; then only id, path and own are filled."""

    id: str
    path: Path
    own: bool
    title: str = ""
    key: str = ""
    meter: str = ""
    tempo_bpm: float = 0
    feel: str = ""
    form: tuple[str, ...] = ()
    bars: int = 0
    changes: float = 0
    shells: int = 0
    lesson: bool = False
    fault: str = ""


class KeptList:
    """What each file said, by path. Read at once, written by `save` where it changed."""

    def __init__(self, path: Path, hand: Hand) -> None:
        self._path = path
        self._version = f"{__version__} {_COUNTED} {hand!r}"
        self._changed = False
        self._rows: dict[str, list[Any]] = {}
        try:
            kept = json.loads(path.read_text(encoding="utf-8"))
            if kept["version"] == self._version:
                self._rows = {str(name): list(row) for name, row in kept["songs"].items()}
        except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
            self._changed = True

    def entry(self, path: Path, own: bool) -> SongEntry | None:
        """The song as it was seen, None where the file is new or changed."""
        row = self._rows.get(str(path))
        if row is None or len(row) != 2 + len(_FIELDS) or row[:2] != _mark(path):
            return None
        fields = dict(zip(_FIELDS, row[2:], strict=True))
        try:
            return SongEntry(path.stem, path, own, **{**fields, "form": tuple(fields["form"])})
        except TypeError:
            return None

    def keep(self, entry: SongEntry) -> SongEntry:
        """Remember a file that was just read."""
        fields = asdict(entry)
        self._rows[str(entry.path)] = [*_mark(entry.path), *(fields[name] for name in _FIELDS)]
        self._changed = True
        return entry

    def save(self, entries: list[SongEntry]) -> None:
        """Write the list if it changed, without the files that are gone."""
        there = {str(entry.path) for entry in entries}
        if not self._changed and there == self._rows.keys():
            return
        rows = {name: row for name, row in self._rows.items() if name in there}
        try:  # in ASCII, which can hold every name, also one that is no Unicode
            write_text(self._path, json.dumps({"version": self._version, "songs": rows}))
        except OSError:
            return


def _mark(path: Path) -> list[int]:
    """Size and time of change in nanoseconds; zeros for a file that is gone."""
    try:
        status = path.stat()
    except OSError:
        return [0, 0]
    return [status.st_size, status.st_mtime_ns]
