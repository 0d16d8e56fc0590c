"""The last thing before the terminal: no sign that steers it gets through, wherever it came from.

Textual writes what a widget holds as it is, a terminal's own commands with it. What comes from outside is spelled out where it is said
(`chart.words.shown`); this catches what is typed, pasted or was forgotten. The width of a line stays as it was laid out.
"""

from __future__ import annotations

from rich.cells import cell_len
from rich.segment import Segment
from textual.color import Color
from textual.filter import LineFilter

from companion.base.text import is_printable


class TerminalFilter(LineFilter):
    """Lets nothing that steers a terminal through to it."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """The segments with every such sign spelled out."""
        if all(segment.text.isprintable() for segment in segments):  # nearly always
            return segments
        return [Segment("".join(map(_harmless, text)), style, control) for text, style, control in segments]


def _harmless(sign: str) -> str:
    return sign if is_printable(sign) else "\N{REPLACEMENT CHARACTER}" * cell_len(sign)
