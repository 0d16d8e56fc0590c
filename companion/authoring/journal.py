"""Drafts on disk: every change of a song being written is kept at once, so that not a letter is lost, and offered again.

One JSON file a draft, written beside its place and renamed into it. It survives the end of the program at any moment as it is;
the flush to the disk itself, which a power cut would need, is asked for only where a bar is left (`firmly`): it may
take tens of milliseconds.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from companion.authoring.draft import Draft
from companion.authoring.draft_song import from_data, to_data
from companion.base.files import write_text
from companion.base.text import plural
from companion.store.paths import Paths

_FORM = 1  # of the file
_MOST_BYTES = 4_000_000


@dataclass(frozen=True, slots=True)
class KeptDraft:
    """A draft that was not saved as a song. written_at: local time of its last change."""

    id: str
    draft: Draft
    written_at: datetime

    @property
    def words(self) -> str:
        """What it is, in a line of a list to choose from."""
        bars = sum(bool(bar.text.strip()) for section in self.draft.page.sections for bar in section.bars)
        title = self.draft.page.title.strip() or "without a title yet"
        return f"{title}, {plural(bars, 'bar')}, written {self.written_at:%d %b %H:%M}"


class Journal:
    """Where one draft is kept. id: the song's, or a new one's own."""

    def __init__(self, paths: Paths, id: str) -> None:
        self.id = id
        self.path = paths.drafts / f"{id}.json"

    def keep(self, draft: Draft, *, firmly: bool = False) -> None:
        """Write the draft as it is now. Raises OSError."""
        text = json.dumps({"draft": _FORM, "at": draft.at, "page": to_data(draft.page)}, ensure_ascii=False)
        write_text(self.path, text, firmly=firmly)

    def forget(self) -> None:
        """The draft became a song, or was thrown away."""
        self.path.unlink(missing_ok=True)


def kept_drafts(paths: Paths) -> list[KeptDraft]:
    """Every draft that can be read, the newest first."""
    drafts = list(_read_all(paths.drafts))
    return sorted(drafts, key=lambda kept: kept.written_at, reverse=True)


def _read_all(folder: Path) -> Iterator[KeptDraft]:
    for path in sorted(folder.glob("[!.]*.json")) if folder.is_dir() else ():
        try:
            status = path.stat()
            if status.st_size > _MOST_BYTES:
                continue
            data = json.loads(path.read_text(encoding="utf-8"))
            page = from_data(data["page"])
            section, bar = data["at"]
        except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
            continue  # left where it is
        yield KeptDraft(path.stem, Draft(page).go_to(int(section), int(bar)), datetime.fromtimestamp(status.st_mtime))


def new_id(paths: Paths) -> str:
    """An id for the draft of a new song."""
    taken = {path.stem for path in paths.drafts.glob("*.json")}
    return next(name for name in (f"new-{number}" for number in range(1, 10_000)) if name not in taken)


def change_id(song_id: str) -> str:
    """The id of the draft that changes a song."""
    return f"change-{song_id}"
