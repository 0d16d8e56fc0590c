"""A widget that shows rows of (text, role) pairs. A role becomes a component class of the app: the style sheet has all colours."""

from __future__ import annotations

from typing import Any

from rich.segment import Segment
from rich.style import Style
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from companion.tui.draw.row import Row

ROLES = (
    "plain",
    "strong",
    "dim",
    "notice",
    "now",
    "cursor",
    "beat",
    "now-big",
    "next-big",
    "lit",
    "lit-fill",
    "astray",
    "white",
    "white-next",
    "octave",
    "black",
    "black-next",
    "hidden-big",
    "right",
    "slip",
    "between",
)


# Of the app and not of each drawing or screen, whose styles are worked out anew with each change: twenty roles in each of a dozen drawings
# took most of the time that a screen needs to come up, and in each screen still a tenth of it.
ROLE_CLASSES = frozenset(f"drawing--{role}" for role in ROLES)


class Drawing(Widget):
    """In an app that has ROLE_CLASSES. Subclasses say `picture(width, height)`. Only the lines that changed are painted again."""

    can_focus = False

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        self._rows: list[Row] = []
        self._for_size = (-1, -1)
        self._role_styles: dict[str, Style] = {}

    def notify_style_update(self) -> None:
        """The colours changed: look them up again."""
        self._role_styles.clear()  # another theme
        super().notify_style_update()

    def _style(self, role: str) -> Style:
        """Looked up once a theme: a keyboard asks some hundred times a beat. role: "" for what lies behind it all."""
        if role not in self._role_styles:
            self._role_styles[role] = (
                self.app.get_component_styles(f"drawing--{role}").rich_style if role else self.rich_style
            )
        return self._role_styles[role]

    def picture(self, width: int, height: int) -> list[Row]:
        """The rows of the drawing, at most `height`, each at most `width` cells."""
        raise NotImplementedError

    def redraw(self) -> None:
        """Draw anew and repaint the lines that differ."""
        old, old_size = self._rows, self._for_size
        self._draw()
        if old_size != self._for_size:
            self.refresh()
            return
        differ = [y for y in range(max(len(old), len(self._rows))) if old[y : y + 1] != self._rows[y : y + 1]]
        if differ:
            self.refresh(*(Region(0, y, self._for_size[0], 1) for y in differ))

    def _draw(self) -> None:
        self._for_size = (self.size.width, self.size.height)
        self._rows = self.picture(*self._for_size)

    def render_line(self, y: int) -> Strip:
        """One row of the picture, as Textual asks for it."""
        if self._for_size != (self.size.width, self.size.height):
            self._draw()
        row = self._rows[y] if y < len(self._rows) else []
        segments = [Segment(text, self._style(role)) for text, role in row if text]
        return Strip(segments).adjust_cell_length(self.size.width, self._style(""))

    def rows_as_text(self) -> list[str]:
        """What is drawn, without colours."""
        if self._for_size != (self.size.width, self.size.height):
            self._draw()
        return ["".join(text for text, _ in row) for row in self._rows]
