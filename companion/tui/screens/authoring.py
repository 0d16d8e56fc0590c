"""Songs that come in: written in the app, changed, or imported from a file. Mixed into the screen of the songs."""

from __future__ import annotations

from companion.chart.reader import read_chart
from companion.errors import CompanionError
from companion.log.listing import SongEntry
from companion.session.draft import Draft, Page
from companion.session.draft_song import page_of
from companion.session.journal import Journal, KeptDraft, change_id, kept_drafts, new_id
from companion.tui.screens.ask import AskScreen
from companion.tui.screens.pick import Item, PickScreen
from companion.tui.screens.read import ReadScreen
from companion.tui.screens.writing import WritingScreen
from companion.tui.screens.writing_song import key_fault, title_fault

_NEW = "new"


class SongsWriting:
    """`marked` and `show_song` are the screen's."""

    # --- drafts that were left

    def offer_drafts(self) -> None:
        """At the start: what was written and not saved, even where the program was ended by force."""
        drafts = self._drafts()
        if drafts and self.app.screen is self:
            items = [*(Item(f"go on with {kept.words}", kept) for kept in drafts), Item("not now (F6 comes back to it)", None)]
            self.app.push_screen(PickScreen("You were writing and did not save it", items), self._taken)

    def _drafts(self) -> list[KeptDraft]:
        try:
            return kept_drafts(self.companion.paths)
        except OSError as error:
            self.companion.complain(str(error))
            return []

    def _taken(self, item: Item | None) -> None:
        if item is None or item.value is None:
            return
        if item.value == _NEW:
            self._ask_new()
            return
        kept: KeptDraft = item.value
        self._write(kept.draft, Journal(self.companion.paths, kept.id))

    # --- writing and changing

    def action_write(self) -> None:
        drafts = self._drafts()
        if not drafts:
            self._ask_new()
            return
        items = [Item("a new song", _NEW), *(Item(f"go on with {kept.words}", kept) for kept in drafts)]
        self.app.push_screen(PickScreen("Write", items), self._taken)

    def _ask_new(self) -> None:
        """Title and key; all else is as in most songs and can be changed on the page."""

        def titled(title: str | None) -> None:
            if title is None:
                return

            def keyed(key: str | None) -> None:
                if key is not None:
                    self._write(Draft(Page(title=title, key=key or "C")), Journal(self.companion.paths, new_id(self.companion.paths)))

            hint = "Such as Bb, F#m or G minor; empty for C."
            self.app.push_screen(AskScreen("Which key?", "", hint, lambda text: key_fault(text) if text else ""), keyed)

        hint = "It can wait until you save: enter goes on."
        self.app.push_screen(AskScreen("What is the song called?", "", hint, title_fault), titled)

    def action_change_song(self) -> None:
        entry: SongEntry | None = self.marked
        if entry is None:
            return
        kept = next((kept for kept in self._drafts() if kept.id == change_id(entry.id)), None)
        if kept is not None:
            self._write(kept.draft, Journal(self.companion.paths, kept.id))
            self.companion.say("Your changes that were not saved are here; F5 can throw them away.")
            return
        try:
            page = page_of(read_chart(entry.path))
        except (CompanionError, OSError) as error:
            self.app.push_screen(ReadScreen(f"{entry.id} cannot be read", f"{error}\n\nMend the file, then it can be changed here."))
            return
        self._write(Draft(page), Journal(self.companion.paths, change_id(entry.id)), saved=True)
        if not entry.own:
            self.companion.say("This song came with the program: saving puts your own version in its place.")

    def _write(self, draft: Draft, journal: Journal, *, saved: bool = False) -> None:
        def left(song_id: str | None) -> None:
            if song_id:
                self.show_song(song_id)

        self.app.push_screen(WritingScreen(draft, journal, saved=saved), left)
