"""The stand's parts and its footer as one picture: how the rows of the window are shared, and what is drawn anew."""

from __future__ import annotations

from collections.abc import Iterator

from textual.geometry import Size

from companion.tui.draw.lines import saying
from companion.tui.draw.view import View
from companion.tui.widgets.drawing import Drawing
from companion.tui.widgets.foot import Foot
from companion.tui.widgets.stand_parts import rows_of_parts, stand_parts

# Fields of the View by which rows are shared out anew.
_SHARED_BY = ("tells", "need", "large_beat", "stand")


class StandPicture:
    """foot: the last line."""

    def __init__(self, foot: Foot) -> None:
        self._parts = stand_parts()
        self._foot = foot
        self._rows: dict[str, int] = {}

    def widgets(self) -> Iterator[Drawing]:
        """All of it from top to bottom."""
        yield from self._parts
        yield self._foot

    def share(self, view: View, size: Size) -> None:
        """Share the rows of the window out. size: the window's, in cells."""
        self._rows = rows_of_parts(view, size.width, size.height)
        for widget in self.widgets():
            rows = self._rows[str(widget.id)]
            widget.styles.height = rows
            widget.display = rows > 0

    def show(self, view: View, before: View, size: Size) -> None:
        """Draw what may look other than it did. before: the view that is drawn now."""
        if any(getattr(view, name) != getattr(before, name) for name in _SHARED_BY):
            self.share(view, size)
        says = None if self._rows["state"] else saying(view, size.width)
        self._foot.show(view.offers, visible=not view.is_dark, says=says)
        changed = view.changed_parts(before)
        for part in self._parts:
            if part.id in changed or part.view is None:
                part.show(view)
