"""A canvas of square dots, two to a character cell: dots in columns, half rows downwards."""

from __future__ import annotations

from companion.tui.draw.glyphs import dots

_CELL = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}


class Canvas:
    """Dots that words are painted on at a whole scale. width: columns; height: character rows (two dots each)."""

    def __init__(self, width: int, height: int) -> None:
        self.width = width
        self.height = height
        self._dots: set[tuple[int, int]] = set()

    def paint(self, text: str, x: int, y: int, scale: int = 1) -> int:
        """Paint a word with its upper left dot at (x, y), y in half rows; return the column after it."""
        rows = dots(text)
        for row, line in enumerate(rows):
            for column, dot in enumerate(line):
                if dot == "#":
                    self._fill(x + column * scale, y + row * scale, scale)
        return x + len(rows[0]) * scale

    def _fill(self, x: int, y: int, scale: int) -> None:
        self._dots.update((x + dx, y + dy) for dx in range(scale) for dy in range(scale))

    def rows(self) -> list[str]:
        """The picture as one string a row, each `width` columns wide."""
        return [
            "".join(_CELL[(x, 2 * y) in self._dots, (x, 2 * y + 1) in self._dots] for x in range(self.width))
            for y in range(self.height)
        ]
