"""Which SoundFont plays in place of the built-in voices: asked for by its path, looked at in the background, kept where it can be read."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from companion.base.text import shown
from companion.tui.companion_app import Companion
from companion.tui.screens.importing import path_typed

ENDINGS = (".sf2", ".sf3")


def instrument_words(soundfont: str) -> str:
    """What plays, for the row that changes it."""
    return f"{shown(Path(soundfont).name)}, a SoundFont of yours" if soundfont else "the built-in piano, bass and click"


def ask_soundfont(companion: Companion, said: Callable[[str], None]) -> None:
    """Ask for one; an empty line is the built-in sound. said: told in a sentence what came of it."""
    now = companion.settings.sound.soundfont
    folder = os.path.join(os.path.dirname(now), "") if now else "~" + os.sep

    def check(text: str) -> str:
        return "" if not text.strip() or os.path.isfile(path_typed(text, folder)) else "There is no such file."

    def typed(text: str | None) -> None:
        if text is None:
            return
        if not text.strip():
            companion.play_soundfont("")
            said("The built-in sound plays.")
            return
        path = path_typed(text, folder)
        companion.in_background(f"Reading {path.name}", lambda: _look(path), lambda _: taken(path), said)

    def taken(path: Path) -> None:
        companion.play_soundfont(str(path))
        said(f"{shown(path.name)} plays where the built-in sound would; what it lacks is built in.")

    hint = "A SoundFont, .sf2 or .sf3. An empty line: the built-in sound. tab or → completes."
    companion.open("ask", "Which SoundFont?", now or folder, hint, check, ENDINGS, taken=typed)


def _look(path: Path) -> None:
    """Raises SoundFontError where it cannot be played."""
    from companion.sound.soundfont import SoundFont  # numpy: 60 ms

    SoundFont(path).close()
