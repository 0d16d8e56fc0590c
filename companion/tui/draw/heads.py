"""The heads of notes on a staff in characters, set so that two of them never melt into one.

A row holds two half rows, and a head is two of these high: on a line it is a row, in a space it lies across two. So heads a third apart touch:
on lines the lower one is cut by an eighth of a row, in spaces their common row is filled, with the staff's own line let through between them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

COLUMNS = 2  # of a head
NOW = "cursor"  # the role of a head that is due now: letters of that colour, as a block of ink has no ground


@dataclass(frozen=True, slots=True)
class Head:
    """half: half rows from the top of the page to the upper edge. role: of its colour."""

    half: int
    column: int
    hollow: bool
    role: str


def head_cells(heads: Iterable[Head]) -> Iterator[tuple[int, int, str, str]]:
    """(row, column, text, role) of every part of a row that heads take; the first of two heads keeps what both would have."""
    halves: dict[tuple[int, int], Head] = {}
    for head in heads:
        for half in (head.half, head.half + 1):
            halves.setdefault((half, head.column), head)
    for row, column in {(half // 2, column): None for half, column in halves}:
        upper, lower = halves.get((2 * row, column)), halves.get((2 * row + 1, column))
        yield row, column, *_cell(upper, lower, halves.get((2 * row - 1, column)))


def _cell(upper: Head | None, lower: Head | None, above: Head | None) -> tuple[str, str]:
    """One part of a row, by what lies in its halves and what touches it from above."""
    if upper is None or lower is None:
        head = upper or lower
        assert head is not None
        signs = ("╰╯", "▀▀") if head is upper else ("╭╮", "▄▄")
        return signs[0 if head.hollow else 1], head.role
    if upper is lower:
        touched = above is not None and above is not upper and not above.hollow
        return "()" if upper.hollow else "▇▇" if touched else "██", upper.role
    if upper.hollow and lower.hollow:
        return "├┤", upper.role
    if upper.hollow or lower.hollow:
        return ("▄▄", lower.role) if upper.hollow else ("▀▀", upper.role)
    return "━━", "now" if upper.role == lower.role == NOW else "between"
