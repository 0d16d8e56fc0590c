"""Textual's command palette, closed once only."""

from __future__ import annotations

from textual.command import CommandPalette

from companion.tui.screens.place import OnTop


class Palette(CommandPalette, OnTop):
    """Two clicks or keys that close it, typed fast, would close the screen below it too."""
