"""A canvas of dots, four to a character cell: half columns across, half rows downwards."""

from __future__ import annotations

from collections.abc import Sequence

from companion.tui.draw.glyphs import HEIGHT, dots

# By the four dots of a cell, upper left, upper right, lower left, lower right, as a number in that order.
_CELL = " ▗▖▄▝▐▞▟▘▚▌▙▀▜▛█"


class Canvas:
    """Dots that words are painted on. width: columns; height: character rows (two dots each way in a cell)."""

    def __init__(self, width: int, height: int) -> None:
        self.width = width
        self.height = height
        self._lines = [0] * (2 * height)  # the dots of a half row as bits, the leftmost the highest

    def paint(self, text: str, x: int, y: int, across: int = 2, down: int = 1, *, light: bool = False) -> int:
        """Paint a word with its upper left dot at x half columns and y half rows; return the half column after it. across, down: half columns
        and half rows to a dot of a glyph. light: with thin strokes. What lies outside is left out."""
        end = 2 * self.width
        for row, line in enumerate(_strokes(dots(text), across, down) if light else _solid(dots(text), across, down)):
            shift = end - x - len(line)
            bits = int(line or "0", 2)
            if y + row < 2 * self.height:
                self._lines[y + row] |= bits << shift if shift >= 0 else bits >> -shift
        return x + len(dots(text)[0]) * across

    def rows(self) -> list[str]:
        """The picture as one string a row, each `width` columns wide."""
        return [self._row(self._lines[y], self._lines[y + 1]) for y in range(0, 2 * self.height, 2)]

    def _row(self, upper: int, lower: int) -> str:
        return "".join(
            _CELL[(upper >> shift & 3) << 2 | (lower >> shift & 3)] for shift in range(2 * self.width - 2, -1, -2)
        )


def rows_for(down: int) -> int:
    """Character rows that a word needs at so many half rows to a dot."""
    return -(-HEIGHT * down // 2)


def _solid(rows: Sequence[str], across: int, down: int) -> list[str]:
    """Half rows of half columns, "1" for those that are inked."""
    return ["".join(("1" if dot == "#" else "0") * across for dot in row) for row in rows for _ in range(down)]


def _strokes(rows: Sequence[str], across: int, down: int) -> list[str]:
    """The same, with strokes half as thick: a dot reaches over to the next only where there is one. Lying strokes stay thick where half of
    one would need more than halves of a cell."""
    inked = max(1, across // 2) if down % 2 == 0 else max(2, across // 4 * 2)
    tall = down // 2 if across % 4 == 0 and down % 2 == 0 else down
    result = []
    for row, below in zip(rows, [*rows[1:], ""]):
        edge = f"{row}."
        upper = "".join(
            "1" * (across if edge[at + 1] == "#" else inked) + "0" * (0 if edge[at + 1] == "#" else across - inked)
            if dot == "#"
            else "0" * across
            for at, dot in enumerate(row)
        )
        lower = "".join(
            ("1" * inked).ljust(across, "0") if dot == "#" and _stands(row, below, at) else "0" * across
            for at, dot in enumerate(row)
        )
        result += [upper] * tall + [lower] * (down - tall)
    return result


def _stands(row: str, below: str, at: int) -> bool:
    """Whether a dot is part of a stroke that goes on downwards: straight, or aslant where no other dot leads there."""
    if below[at : at + 1] == "#":
        return True
    row, below = f".{row}.", f".{below}."
    return any(below[side : side + 1] == "#" and row[side] != "#" for side in (at, at + 2))
