"""What all drawing here comes to: rows of (text, role) pairs. Roles are the colours and weights of widgets.drawing."""

from __future__ import annotations

Row = list[tuple[str, str]]


def length(row: Row) -> int:
    """Columns that a row takes."""
    return sum(len(text) for text, _ in row)


def cut(row: Row, width: int) -> Row:
    """The row in at most `width` columns."""
    result: Row = []
    for text, role in row:
        text = text[: max(0, width)]
        width -= len(text)
        if text:
            result.append((text, role))
    return result


def sides(left: Row, right: Row, width: int) -> Row:
    """One row with something at each end; the right end gives way where there is no room."""
    gap = width - length(left) - length(right)
    if gap < 1:
        return cut(left, width)
    return [*left, (" " * gap, "plain"), *right]
