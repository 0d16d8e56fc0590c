"""A line to be typed into."""

from __future__ import annotations

from typing import Any

from textual.widgets import Input

MOST_SIGNS = 1024  # no path is longer on macOS; Textual looks at every sign at every key


class TextLine(Input):
    """A line of MOST_SIGNS at most."""

    def __init__(self, value: str = "", **options: Any) -> None:
        super().__init__(value, **options)
        self.cursor_blink = False  # a blinking cursor repaints for ever

    def replace(self, text: str, start: int, end: int) -> None:
        """Put a text where another stood; what does not fit is left out."""
        room = MOST_SIGNS - len(self.value) + abs(end - start)
        super().replace(text[: max(0, room)], start, end)
