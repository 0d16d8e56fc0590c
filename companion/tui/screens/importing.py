"""Importing a lead sheet: its path is typed, a thread has it read, and what was not understood is shown bar by bar."""

from __future__ import annotations

import contextlib
import os
import threading
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from companion.errors import CompanionError
from companion.store.library import song_folders
from companion.tui.screens.ask import AskScreen
from companion.tui.screens.read import ReadScreen

if TYPE_CHECKING:
    from companion.tui.app import CompanionApp
    from companion.tui.screens.songs import SongsScreen

ENDINGS = (".musicxml", ".xml", ".mxl", ".abc")


class Importing:
    """screen: the songs, over which the pages open."""

    def __init__(self, screen: SongsScreen) -> None:
        self._screen = screen
        self._app: CompanionApp = screen.companion
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
                self._app.say(f"Reading {Path(text).name} ...")
                path = Path(os.path.expanduser(text))
                threading.Thread(target=self._import, args=(path,), name="companion import", daemon=True).start()

        hint = "A lead sheet in MusicXML or ABC. tab or → completes."
        self._app.push_screen(AskScreen("Which file?", self._folder, hint, check, ENDINGS), typed)

    def _import(self, path: Path) -> None:
        from companion.chart.writer import create_chart
        from companion.importing import import_file
        from companion.store.song_file import id_for

        own, shipped = song_folders(self._app.paths, self._app.settings)
        try:
            result = import_file(path)
            taken = {each.stem for folder in (own, shipped) for each in folder.glob("*.toml")}
            song = result.song
            made = create_chart(replace(song, id=id_for(song.title, taken)), own)
            outcome = made, result.notes, ""
        except (CompanionError, OSError) as error:
            outcome = None, (), str(error)
        with contextlib.suppress(RuntimeError):  # the app was closed meanwhile
            self._app.call_from_thread(self._imported, path, *outcome)

    def _imported(self, path: Path, made: Path | None, notes: tuple[str, ...], fault: str) -> None:
        if made is None:
            self._app.push_screen(ReadScreen(f"{path.name} was not imported", fault))
            return
        self._screen.show_song(made.stem)
        self._app.say(f"Imported: {made}")
        if notes:
            lines = [f"{made}", "", "Not understood, or chosen for you (F7 changes the song):", "", *notes]
            self._app.push_screen(ReadScreen(f"{path.name} was imported", "\n".join(lines)))
