"""The song being written: its draft, which is in the journal before anything is drawn, until the song is saved."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from pathlib import Path

from companion.authoring.draft import Draft
from companion.authoring.draft_song import song_of
from companion.authoring.journal import Journal, change_id
from companion.store.paths import Paths
from companion.store.settings import Settings
from companion.store.song_file import save_song


class Manuscript:
    """draft: what is written so far. journal: where it is kept. saved: the draft's page is what the song's file says.
    saved_id: the song as it was saved last, "" where it was not."""

    def __init__(self, draft: Draft, journal: Journal, *, saved: bool = False) -> None:
        self.draft = draft
        self.saved_id = ""
        self._journal = journal
        self._saved_page = draft.page if saved else None

    @property
    def is_saved(self) -> bool:
        """Whether the song's file says the same."""
        return self.draft.page == self._saved_page

    @property
    def is_empty(self) -> bool:
        """Whether it is a new song of which no bar was written."""
        page = self.draft.page
        return not page.song_id and not any(bar.text.strip() for section in page.sections for bar in section.bars)

    def change(self, make: Callable[[Draft], Draft]) -> None:
        """Change the draft and keep it. Raises OSError where it is changed and cannot be kept."""
        before, self.draft = self.draft, make(self.draft)
        if self.draft.page != before.page or self.draft.at != before.at:
            self.keep(firmly=self.draft.at != before.at)

    def keep(self, *, firmly: bool = False) -> None:
        """Keep what is not saved, `firmly` also over a power cut. Raises OSError."""
        if self.is_saved:
            self.forget()
        else:
            self._journal.keep(self.draft, firmly=firmly)

    def forget(self) -> None:
        """Give up what is not saved. On a disk that can only be read the draft is offered once more, which does no harm."""
        with contextlib.suppress(OSError):
            self._journal.forget()

    def save(self, paths: Paths, settings: Settings) -> Path:
        """Write the song's file, which is given back. Raises ChartError."""
        path = save_song(song_of(self.draft.page), paths, settings)
        self.draft = self.draft.saved_as(path.stem)
        self._saved_page, self.saved_id = self.draft.page, path.stem
        self.forget()
        self._journal = Journal(paths, change_id(path.stem))
        return path
