"""Importing a lead sheet: its path is typed, a thread has it read, and what was not understood is shown bar by bar."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from companion.store.library import song_folders

if TYPE_CHECKING:
    from companion.tui.companion_app import Companion

ENDINGS = (".musicxml", ".xml", ".mxl", ".abc")


class Importing:
    """show_song: told the id of a song that came in."""

    def __init__(self, companion: Companion, show_song: Callable[[str], None]) -> None:
        self._companion, self._show_song = companion, show_song
        self._folder = "~" + os.sep

    def ask(self) -> None:
        def check(text: str) -> str:
            path = Path(os.path.expanduser(text))
            if path.suffix.lower() not in ENDINGS:
                return "Expected a file that ends in .musicxml, .xml, .mxl or .abc."
            return "" if os.path.isfile(path) else "There is no such file."

        def typed(text: str | None) -> None:
            if text:
                self._folder = os.path.join(os.path.dirname(text), "")
                self._import(Path(os.path.expanduser(text)))

        hint = "A lead sheet in MusicXML or ABC. tab or → completes."
        self._companion.open("ask", "Which file?", self._folder, hint, check, ENDINGS, taken=typed)

    def _import(self, path: Path) -> None:
        own, shipped = song_folders(self._companion.paths, self._companion.settings)

        def work() -> tuple[Path, tuple[str, ...]]:
            from companion.chart.writer import create_chart
            from companion.importing import import_file
            from companion.store.song_file import id_for

            result = import_file(path)
            taken = {each.stem for folder in (own, shipped) for each in folder.glob("*.toml")}
            made = create_chart(replace(result.song, id=id_for(result.song.title, taken)), own)
            return made, result.notes

        def failed(why: str) -> None:
            self._companion.unsay()
            self._companion.open("read", f"{path.name} was not imported", why)

        self._companion.say(f"Reading {path.name} ...")
        self._companion.in_background(f"Importing {path.name}", work, lambda done: self._imported(path, *done), failed)

    def _imported(self, path: Path, made: Path, notes: tuple[str, ...]) -> None:
        self._show_song(made.stem)
        self._companion.say(f"Imported: {made}")
        if notes:
            lines = [f"{made}", "", "Not understood, or chosen for you (F7 changes the song):", "", *notes]
            self._companion.open("read", f"{path.name} was imported", "\n".join(lines))
