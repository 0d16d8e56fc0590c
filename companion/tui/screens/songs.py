"""The songs: type to narrow the list, arrows to go through it, enter to put one on the stand."""

from __future__ import annotations

import os
from functools import cached_property
from typing import TYPE_CHECKING

from textual import events
from textual.app import ComposeResult
from textual.content import Content
from textual.widgets import Input, OptionList, Static

from companion.base.text import plural
from companion.errors import CompanionError
from companion.store.library import SONG_ORDERS, count_files, in_order, list_songs, start_here
from companion.store.listing import SongEntry
from companion.tui.actions import BY_ID
from companion.tui.background import failure_words
from companion.tui.draw.songs import ORDER_WORDS, head_row, matches, song_row
from companion.tui.draw.today import due_line
from companion.tui.draw.words import whole_clauses, whole_words
from companion.tui.notices import FAULT
from companion.tui.screens.app_screen import AppScreen, bindings
from companion.tui.widgets.foot import Foot
from companion.tui.widgets.option_list import ChangingList
from companion.tui.widgets.text_line import TextLine

if TYPE_CHECKING:
    from companion.tui.screens.authoring import Authoring
    from companion.tui.screens.importing import Importing

_READ_AT_ONCE = 200  # song files, about a third of a second
_SIDES = 7  # columns that the list needs beside its text
_COUNT_SIDES = 4  # and the line below it


class _FindLine(TextLine):
    """The line to type in. It clears itself at once: the screen is told of a key only after this line has taken the letters typed behind it."""

    def on_key(self, event: events.Key) -> None:
        """Clear what was typed before."""
        screen = self.screen
        if self.value and isinstance(screen, SongsScreen) and event.key in screen.keymap.keys(BY_ID["clear"], "songs"):
            event.stop()
            event.prevent_default()
            self.value = ""


class SongsScreen(AppScreen):
    """The list of songs, with a line to find them by."""

    place = "songs"
    BINDINGS = bindings("songs")
    AUTO_FOCUS = "#find"

    def __init__(self) -> None:
        super().__init__()
        self._entries: list[SongEntry] = []
        self._fault = ""  # why they could not be listed
        self._says_start = False  # whether a new student is shown where to start
        self.shown: list[SongEntry] = []
        self._shown_for = ""  # what was typed for these

    def compose(self) -> ComposeResult:
        """The line to type in, the heads of the columns, and the list."""
        yield Static("Which song?", id="songs-title", markup=False)
        yield _FindLine(placeholder="type to find: title, key, feel or form", id="find")
        yield Static("", id="songs-head", markup=False)
        songs = ChangingList(id="songs-list")
        songs.can_focus = False
        yield songs
        yield Static("", id="songs-count", markup=False)
        yield Foot(self.keymap, "songs", id="foot")

    @property
    def _list(self) -> OptionList:
        return self.query_one("#songs-list", OptionList)

    @property
    def marked(self) -> SongEntry | None:
        """The song the arrows are on."""
        index = self._list.highlighted
        return self.shown[index] if index is not None and index < len(self.shown) else None

    def on_mount(self) -> None:
        """Read the songs once the screen is painted, and offer drafts that were not saved."""
        self.call_after_refresh(self._read_first)  # the first paint does not wait for the files
        if os.path.exists(self.companion.paths.drafts):
            self.call_after_refresh(self._offer_drafts)

    def on_screen_resume(self) -> None:
        """A song may have been written meanwhile: read them again."""
        if self._entries:
            self.read_songs()  # a file may have been mended meanwhile
            self.companion.first_plan()  # and something done

    def on_resize(self, event: events.Resize) -> None:
        """Lay the columns out for the new width."""
        self._fill()

    def _read_first(self) -> None:
        """A folder of thousands takes a while when it is seen for the first time: in a thread of its own."""
        if count_files(self.companion.paths, self.companion.settings) <= _READ_AT_ONCE:
            self.read_songs()
            return
        companion = self.companion

        def have_some(entries: list[SongEntry]) -> None:
            self.app.call_later(self._have, entries)

        def read() -> list[SongEntry]:
            return list_songs(companion.paths, companion.settings, have_some)

        companion.in_background("Listing the songs", read, self._have, self._not_listed)

    def _have(self, entries: list[SongEntry]) -> None:
        is_first = not self._entries
        self._entries, self._fault = entries, ""
        self._fill()
        if is_first:
            self._mark(self.companion.settings.last_song)

    def _not_listed(self, why: str) -> None:
        """The list says so for good, for it would say that there are none."""
        self._fault = why
        self.companion.complain(why)
        self._fill()

    def read_songs(self) -> None:
        """List the songs again; what fails is said."""
        try:
            self._have(list_songs(self.companion.paths, self.companion.settings))
        except Exception as error:  # whatever it is, a start with no songs and no reason helps nobody
            self._not_listed(failure_words("Listing the songs", error))

    def on_input_changed(self, event: Input.Changed) -> None:
        """Show the songs that fit what is typed."""
        self.companion.unsay()  # it stands where the number of those found is told
        self._find()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """As Enter on the list."""
        self.action_put()

    @property
    def chosen(self) -> SongEntry | None:
        """The marked song of what is typed by now: of keys typed fast the list may not have been told yet."""
        self._find()
        return self.marked

    def _find(self) -> None:
        if self.query_one("#find", Input).value != self._shown_for:
            self._fill(first=True)

    def _fill(self, first: bool = False) -> None:
        marked = None if first else self.marked
        text = self.query_one("#find", Input).value
        self._shown_for = text
        self.shown = [entry for entry in self._entries if matches(entry, text)]
        width = max(1, self.size.width - _SIDES)
        self.query_one("#songs-head", Static).update(head_row(width))
        self._list.clear_options()
        self._says_start = self.companion.is_new
        easiest = start_here(self._entries) if self._says_start else None
        self._list.add_options([Content(song_row(entry, width, first=entry is easiest)) for entry in self.shown])
        if self.shown:
            self._list.highlighted = self.shown.index(marked) if marked in self.shown else 0
        self.show_notice()

    def action_order(self) -> None:
        """The next order of the list; it is kept."""
        orders = list(SONG_ORDERS)
        order = orders[(orders.index(self.companion.settings.song_order) + 1) % len(orders)]
        self.companion.keep_song_order(order)
        self._have(in_order(self._entries, order))
        self.companion.say(f"The songs stand in order: {ORDER_WORDS[order]}.")

    def type_on(self, text: str) -> None:
        """What was typed before this screen was shown."""
        self.query_one("#find", Input).insert_text_at_cursor(text)

    def show_song(self, song_id: str) -> None:
        """Read the songs anew and mark this one."""
        with self.prevent(Input.Changed):
            self.query_one("#find", Input).value = ""
        self.read_songs()
        self._mark(song_id)

    def _mark(self, song_id: str) -> None:
        ids = [entry.id for entry in self.shown]
        if song_id in ids:
            self._list.highlighted = ids.index(song_id)

    def _count_words(self, text: str) -> str:
        if self.companion.notice:
            return self.companion.notice
        if self._fault:
            return FAULT + self._fault
        if not self._entries:
            return f"No songs yet. Your own go into {self.companion.paths.songs}"
        if not self.shown:
            return f"No song has {text!r}; clear the line with esc."
        faults = sum(bool(entry.fault) for entry in self._entries)
        count = f"{len(self.shown)} of {plural(len(self._entries), 'song')}"
        if faults:  # they stand at the end, perhaps out of sight
            count = f"{FAULT}{len(self.shown)} of {len(self._entries)}, {faults} unreadable"
        return f"{count}   {whole_clauses(self.companion.sound_words, self._room - len(count) - 3)}".rstrip()

    @property
    def _room(self) -> int:
        """Columns for the line below the list."""
        return max(1, self.size.width - _COUNT_SIDES)

    def show_notice(self) -> None:
        """The line below the list: a notice, or how many songs there are and what sounds. Above it: what is left to do today. In it, once
        the log was looked at: where a new student starts."""
        if not self.query("#songs-list"):
            return  # taken down already, while the plan was read
        if self._entries and self._says_start != self.companion.is_new:
            self._fill()
            return
        due = due_line(self.companion.plan)
        self.query_one("#songs-title", Static).update(f"Which song?   {due}" if due else "Which song?")
        words = self._count_words(self.query_one("#find", Input).value)
        self.query_one("#songs-count", Static).update(whole_words(words, self._room))

    # --- songs that come in

    @cached_property
    def _authoring(self) -> Authoring:
        from companion.tui.screens.authoring import Authoring  # and all of writing with it

        return Authoring(self.companion, self.show_song)

    @cached_property
    def _importing(self) -> Importing:
        from companion.tui.screens.importing import Importing

        return Importing(self.companion, self.show_song)

    def _offer_drafts(self) -> None:
        if self.app.screen is self:
            self._authoring.offer_drafts()

    def action_write(self) -> None:
        """Write a song."""
        self._authoring.write()

    def action_change_song(self) -> None:
        """Change the marked song."""
        entry = self.chosen
        if entry is not None:
            self._authoring.change(entry)

    def action_import_song(self) -> None:
        """Take a lead sheet in."""
        self._importing.ask()

    # --- keys

    def action_up(self) -> None:
        """Mark the song above."""
        self._find()
        self._list.action_cursor_up()

    def action_down(self) -> None:
        """Mark the song below."""
        self._find()
        self._list.action_cursor_down()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """A click of the mouse."""
        self.action_put()

    def action_put(self) -> None:
        """Put the marked song on the stand, or tell what is wrong with its file."""
        entry = self.chosen
        if entry is None:
            return
        if entry.fault:
            text = f"{entry.fault}\n\nMend the file and choose it again."
            self.companion.open("read", f"{entry.id} cannot be read", text)
            return
        self.companion.put(entry)
        with self.prevent(Input.Changed):  # who comes back types another title; the song stays marked
            self.query_one("#find", Input).value = ""

    def action_song_chords(self) -> None:
        """Learn the chords of the marked song."""
        entry = self.chosen
        if entry is not None and not entry.fault:
            self.companion.learn_chords(entry)

    def action_progress(self) -> None:
        """Open the progress of the marked song."""
        entry = self.chosen
        if entry is None or entry.fault:
            return
        from companion.chart.reader import read_chart

        try:
            song = read_chart(entry.path)
        except (CompanionError, OSError) as error:
            self.companion.complain(str(error))
            return
        self.companion.show_progress(song)

    def action_clear(self) -> None:
        """Empty the line; where it is empty go back to the stand."""
        find = self.query_one("#find", Input)
        if find.value:
            find.value = ""
        else:
            self.companion.back_to_stand()
