"""Importing a lead sheet: its path is typed, a thread has it read, and what was not understood is shown bar by bar. A song that was sent comes
in the same way, with all that came along."""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote

if TYPE_CHECKING:
    from companion.importing.tune_book import Tune
    from companion.reports.envelope import Received
    from companion.tui.companion_app import Companion

ENDINGS = (".musicxml", ".xml", ".mxl", ".abc")
_SENT = ".zip"


class Importing:
    """show_song: told the id of a song that came in."""

    def __init__(self, companion: Companion, show_song: Callable[[str], None]) -> None:
        self._companion, self._show_song = companion, show_song
        self._folder = "~" + os.sep

    def ask(self) -> None:
        """Ask for a file, and import it."""
        from companion.importing import why_not  # not needed before a file is asked for

        def check(text: str) -> str:
            path = path_typed(text, self._folder)
            if not _was_sent(path) and (why := why_not(path)):
                return f"{why[0].upper()}{why[1:]}."
            return "" if os.path.isfile(path) else "There is no such file."

        def typed(text: str | None) -> None:
            if text:
                path = path_typed(text, self._folder)
                self._folder = os.path.join(path.parent, "")
                (self._receive if _was_sent(path) else self._choose)(path)

        hint = "A lead sheet in MusicXML or ABC, or a song that was sent to you (.zip). tab or → completes."
        self._companion.open("ask", "Which file?", self._folder, hint, check, (*ENDINGS, _SENT), taken=typed)

    def _choose(self, path: Path) -> None:
        """Of a book of tunes one is chosen first."""
        from companion.importing import tunes_in

        def listed(tunes: list[Tune]) -> None:
            if not tunes:
                self._import(path, "")
                return
            items = [(tune.words, str(tune.number)) for tune in tunes]
            self._companion.open("pick", "Which tune?", items, taken=taken)

        def taken(item: Any) -> None:
            if item is not None:
                self._import(path, item.value)

        self._companion.in_background(f"Reading {path.name}", lambda: tunes_in(path), listed, self._failed(path))

    def _failed(self, path: Path) -> Callable[[str], None]:
        def failed(why: str) -> None:
            self._companion.unsay()
            self._companion.open("read", f"{path.name} was not imported", why)

        return failed

    def _import(self, path: Path, tune: str) -> None:
        def work() -> tuple[Path, tuple[str, ...]]:
            from companion.importing import import_file
            from companion.store.song_file import add_song

            result = import_file(path, tune=tune)
            return add_song(result.song, self._companion.paths, self._companion.settings), result.notes

        self._companion.say(f"Reading {path.name} ...")
        what = f"Importing {path.name}"
        self._companion.in_background(what, work, lambda done: self._imported(path, *done), self._failed(path))

    def _receive(self, path: Path) -> None:
        paths, settings = self._companion.paths, self._companion.settings

        def work() -> Received:
            from companion.reports.envelope import receive

            return receive(path, paths, settings)

        def received(got: Received) -> None:
            self._show_song(got.path.stem)
            self._companion.say(f"Taken in: {got.path}")
            if got.came_along:
                self._companion.open("read", f"{path.name} was taken in", f"{got.path}\n  {got.came_along}")

        self._companion.say(f"Reading {path.name} ...")
        self._companion.in_background(f"Taking in {path.name}", work, received, self._failed(path))

    def _imported(self, path: Path, made: Path, notes: tuple[str, ...]) -> None:
        self._show_song(made.stem)
        self._companion.say(f"Imported: {made}")
        if notes:
            lines = [f"{made}", "", "Not understood, or chosen for you (F7 changes the song):", "", *notes]
            self._companion.open("read", f"{path.name} was imported", "\n".join(lines))


def _was_sent(path: Path) -> bool:
    return path.suffix.lower() == _SENT


def path_typed(text: str, prefilled: str = "") -> Path:
    """The file that is meant by what was typed or pasted, also behind the folder that stood there already: a whole path, one in
    quotes, one with its blanks escaped as a shell shows it, or a file:// address (RFC 8089), as dragging a file gives them."""
    rest = text.removeprefix(prefilled).strip()
    bare = rest.strip("'\"")
    is_whole = bare.startswith(("/", "~", "file://")) or re.match(r"[A-Za-z]:[\\/]", bare)
    text = bare if is_whole else text.strip().strip("'\"")
    if text.startswith("file://"):
        text = unquote(text.removeprefix("file://").removeprefix("localhost"))
    path = Path(os.path.expanduser(text))
    if os.sep == "/" and "\\" in text and not path.exists():
        path = Path(os.path.expanduser(re.sub(r"\\(.)", r"\1", text)))
    return path
