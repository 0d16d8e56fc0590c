"""What the command palette offers: every action of the place one is in, with its keys, and the colours."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import Any

from textual.app import App, SystemCommand
from textual.screen import Screen

from companion.tui.keymap import Keymap
from companion.tui.screens.app_screen import AppScreen
from companion.tui.themes import choose_colours


def commands_of(app: App[Any], keymap: Keymap, screen: Screen[Any]) -> Iterator[SystemCommand]:
    """On that screen."""
    if isinstance(screen, AppScreen):
        for action in keymap.actions(screen.place):
            keys = keymap.key_list(action, screen.place)
            if (keys or action.listed) and action.palette and (not action.offered or action.id in screen.offers):
                yield SystemCommand(action.words, keys, partial(screen.obey, action.method))
    yield SystemCommand(
        "Theme: choose other colours", "dark, light or your terminal's own", partial(choose_colours, app)
    )
