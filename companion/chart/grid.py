"""Bars in lines of four, their barlines under one another, as a person writes them."""

from __future__ import annotations

from collections.abc import Callable

BARS_A_LINE = 4  # as lead sheets have them
FEWER_A_LINE = (BARS_A_LINE, 2, 1)  # where a line would grow too wide for a page
_WIDEST_LINE = 120


def grid(count: int, row: Callable[[int, int], list[str]]) -> str:
    """Lines of `count` bars. row: the texts of the bars of one line, from its first bar and the bars a line holds."""
    rows: list[list[str]] = []
    widths: list[int] = []
    for columns in FEWER_A_LINE:
        rows = [row(start, columns) for start in range(0, count, columns)]
        widths = [max(len(cells[at]) for cells in rows if at < len(cells)) for at in range(min(columns, count))]
        if sum(widths) + 3 * len(widths) <= _WIDEST_LINE:
            break
    lines = ("".join(f"{cell:<{width}} | " for cell, width in zip(cells, widths)).rstrip() for cells in rows)
    return "".join(line + "\n" for line in lines)
