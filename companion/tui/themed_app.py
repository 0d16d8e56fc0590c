"""An app in one of our themes."""

from __future__ import annotations

from typing import ClassVar

from textual.app import App

from companion.tui.themes import THEMES
from companion.tui.widgets.drawing import ROLE_CLASSES


class ThemedApp(App[None]):
    """Its style sheet is read once for each theme: Textual of itself reads it for the theme that it ships, and once more at the start for the
    one that is wanted."""

    COMPONENT_CLASSES: ClassVar[set[str]] = set(ROLE_CLASSES)

    def __init__(self, colours: str) -> None:
        """colours: the name of one of THEMES."""
        super().__init__()
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = colours
        self.stylesheet.set_variables(self.get_css_variables())
        self._read_for = self._look

    @property
    def _look(self) -> tuple[str, bool]:
        return self.theme, self.native_ansi_color

    def refresh_css(self, animate: bool = True) -> None:
        """As Textual's, where the colours are others than those that the style sheet was read for."""
        if self._look != self._read_for:
            self._read_for = self._look
            super().refresh_css(animate)
