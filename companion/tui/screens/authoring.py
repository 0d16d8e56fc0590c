"""Songs written in the app or changed there, and the drafts that were left."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from companion.authoring.draft import Draft, Page
from companion.authoring.draft_song import page_of
from companion.authoring.field_faults import key_fault, title_fault
from companion.authoring.journal import Journal, KeptDraft, change_id, kept_drafts, new_id
from companion.chart.reader import read_chart
from companion.errors import CompanionError
from companion.store.listing import SongEntry
from companion.tui.screens.pick import Item

if TYPE_CHECKING:
    from companion.tui.companion_app import Companion

_NEW = "new"


class Authoring:
    """show_song: told the id of a song that was saved."""

    def __init__(self, companion: Companion, show_song: Callable[[str], None]) -> None:
        self._app, self._show_song = companion, show_song

    def offer_drafts(self) -> None:
        """At the start: what was written and not saved, even where the program was ended by force."""
        drafts = self._drafts()
        if drafts:
            items = [
                *(Item(f"go on with {kept.words}", kept) for kept in drafts),
                Item("not now (F6 comes back to it)", None),
            ]
            self._app.open("pick", "You were writing and did not save it", items, taken=self._taken)

    def _drafts(self) -> list[KeptDraft]:
        try:
            return kept_drafts(self._app.paths)
        except OSError as error:
            self._app.complain(str(error))
            return []

    def _taken(self, item: Item | None) -> None:
        if item is None or item.value is None:
            return
        if item.value == _NEW:
            self._ask_new()
            return
        kept: KeptDraft = item.value
        self._write(kept.draft, Journal(self._app.paths, kept.id))

    # --- writing and changing

    def write(self) -> None:
        """A new song, or one of the drafts that were not saved."""
        drafts = self._drafts()
        if not drafts:
            self._ask_new()
            return
        items = [Item("a new song", _NEW), *(Item(f"go on with {kept.words}", kept) for kept in drafts)]
        self._app.open("pick", "Write", items, taken=self._taken)

    def _ask_new(self) -> None:
        """Title and key; all else is as in most songs and can be changed on the page."""

        def titled(title: str | None) -> None:
            if title is None:
                return

            def keyed(key: str | None) -> None:
                if key is not None:
                    self._write(
                        Draft(Page(title=title, key=key or "C")), Journal(self._app.paths, new_id(self._app.paths))
                    )

            hint = "Such as Bb, F#m or G minor; empty for C."
            self._app.open("ask", "Which key?", "", hint, lambda text: key_fault(text) if text else "", taken=keyed)

        hint = "It can wait until you save: enter goes on."
        self._app.open("ask", "What is the song called?", "", hint, title_fault, taken=titled)

    def change(self, entry: SongEntry) -> None:
        """Change a song; the draft of an earlier change is taken up."""
        kept = next((kept for kept in self._drafts() if kept.id == change_id(entry.id)), None)
        if kept is not None:
            self._write(kept.draft, Journal(self._app.paths, kept.id))
            self._app.say("Your changes that were not saved are here; F5 can throw them away.")
            return
        try:
            page = page_of(read_chart(entry.path))
        except (CompanionError, OSError) as error:
            self._app.open(
                "read", f"{entry.id} cannot be read", f"{error}\n\nMend the file, then it can be changed here."
            )
            return
        self._write(Draft(page), Journal(self._app.paths, change_id(entry.id)), saved=True)
        if not entry.own:
            self._app.say("This song came with the program: saving puts your own version in its place.")

    def _write(self, draft: Draft, journal: Journal, *, saved: bool = False) -> None:
        def left(song_id: str | None) -> None:
            if song_id:
                self._show_song(song_id)

        self._app.open("writing", draft, journal, saved=saved, taken=left)
