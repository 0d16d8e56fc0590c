"""Which bars make a line and which lines a page.

Four bars make a line where they fit, and a section begins one (common practice of lead sheets); a page is turned between two sections where that takes no
page more (Elaine Gould, Behind Bars, 2011, "Page turns", from memory). Lengths in any one unit.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from companion.chart.grid import BARS_A_LINE

# What a line of so many bars costs (ours): one alone would be stretched over the page.
_BARS_COST = {1: 40.0, 2: 4.0, 3: 1.0, BARS_A_LINE: 0.0, 5: 2.0, 6: 5.0}
_MANY_BARS = 15.0
_SECTION_INSIDE = 12.0  # a line that goes on into the next section
_ENDING_BROKEN = 10.0  # a short first or second ending on two lines
_SQUEEZED, _PRESSED = 1.02, 1.04  # of the room may a line fill before it is pressed together; where lines must be few
_ONE_LINE = 10.0  # each, where they must be few
_LOOSE, _LOOSE_COST = 0.4, 2.0  # a line whose notes fill less of it
_TURN_INSIDE = 0.3  # a page that ends in the middle of a section
_UNEQUAL = 2.0  # times the squares of how full each page is, which are least where all are equally full
_ANY = 1e9


def lines_of(
    widths: Sequence[float],
    head: float,
    room: float,
    sections: Collection[int],
    together: Collection[int] = (),
    *,
    pickup: bool = False,
    few: bool = False,
) -> list[int]:
    """The first bar of each line. widths: of each bar by itself; head: what clef and key take at the start of a line; room: of a whole line; sections:
    bars that begin one; together: bars that belong to the one before them; pickup: whether the first bar is one, which counts as none; few: as few lines as
    may be, and pressed together more."""
    count = len(widths)
    best = [0.0] + [_ANY] * count
    came_from = [0] * (count + 1)
    for end in range(1, count + 1):
        width = head
        for start in range(end - 1, -1, -1):
            width += widths[start]
            fits = width <= room * (_PRESSED if few else _SQUEEZED)
            if not fits and start < end - 1:
                break
            bars = end - start - (1 if pickup and start == 0 else 0)
            cost = best[start] + _BARS_COST.get(max(1, bars), _MANY_BARS)
            cost += _SECTION_INSIDE * sum(start < section < end for section in sections)
            cost += _ENDING_BROKEN if start in together else 0.0
            cost += _ONE_LINE if few else 0.0
            cost += _LOOSE_COST if width < room * _LOOSE else 0.0
            if cost < best[end]:
                best[end], came_from[end] = cost, start
    lines = []
    at = count
    while at:
        at = came_from[at]
        lines.append(at)
    return lines[::-1]


@dataclass(frozen=True, slots=True)
class PageOfLines:
    """first: its first line; full: how much of it the lines fill as they stand, 1 for all."""

    first: int
    full: float


def pages_of_lines(
    tops: Sequence[float], line: float, rooms: tuple[float, float], sections: Collection[int]
) -> list[PageOfLines]:
    """The pages, as few as hold the lines. tops: where each line would lie if all stood on one page; line: height of one with what stands above and below it;
    rooms: of the first page and of the others; sections: lines that begin one."""
    count = len(tops)

    def full(start: int, end: int) -> float:
        return (tops[end - 1] - tops[start] + line) / (rooms[0] if start == 0 else rooms[1])

    # By pages first, then by what a turn inside a section and pages of unequal filling cost.
    best: list[tuple[int, float]] = [(0, 0.0)] + [(count + 1, _ANY)] * count
    came_from = [0] * (count + 1)
    for end in range(1, count + 1):
        for start in range(end):
            if full(start, end) > 1 and start < end - 1:
                continue
            pages, cost = best[start]
            cost += _TURN_INSIDE if end < count and end not in sections else 0.0
            found = (pages + 1, cost + _UNEQUAL * full(start, end) ** 2)
            if found < best[end]:
                best[end], came_from[end] = found, start
    pages_at = []
    end = count
    while end:
        pages_at.append(PageOfLines(came_from[end], full(came_from[end], end)))
        end = came_from[end]
    return pages_at[::-1]
