"""Words large enough to read from two metres: chord symbols, all of whose letters are of one size, for a quality matters as much as the
root; note names; the count-in; what a pass came to. What does not fit in one line takes two, then plain text.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache

from companion.tui.draw.canvas import Canvas, rows_for
from companion.tui.draw.glyphs import dots_width, known
from companion.tui.draw.row import Row
from companion.tui.draw.words import shorten, signs

# Half columns and half rows to a dot of a glyph, the best first: the tallest, and of these the widest, down to letters half as wide as
# square dots would make them. Never both odd, so that nothing but halves of a cell is needed, which every font has.
SIZES = ((8, 4), (6, 4), (6, 3), (4, 3), (4, 2), (3, 2), (2, 2), (2, 1))
# Where a symbol is broken that is too long for one line: before an added note, an alteration or a bass.
_BREAK = re.compile(r"(?=[(/,]|add|sus|[♭♯]\d)")


def size_for(text: str, width: int, height: int) -> tuple[int, int] | None:
    """The best of SIZES for one line of text in `width` columns and `height` rows, None where none fits or a letter is missing."""
    if not text or not known(text):
        return None
    across = dots_width(text)
    return next(
        (size for size in SIZES if rows_for(size[1]) <= height and across * size[0] <= 2 * width),
        None,
    )


@lru_cache(maxsize=256)  # a chorus has few chords, and each comes again
def big_symbol(symbol: str, width: int, height: int, *, light: bool = False) -> Sequence[str]:
    """A chord symbol or another word in exactly `height` rows of exactly `width` columns (none where there is no room). light: thin, for what
    is not to be played yet."""
    if width <= 0 or height <= 0:
        return []
    text = signs(symbol)
    size = size_for(text, width, height)
    if size is not None and (size[1] > 1 or height < 2 * rows_for(1)):
        return _painted([(text, 0)], size, width, height, light)
    lines = _two_lines(text, width, height // 2)
    if lines is not None:
        return _painted([(lines[0], 0), (lines[1], 2 * (height // 2))], lines[2], width, height, light)
    return _plain(text, width, height) if size is None else _painted([(text, 0)], size, width, height, light)


def is_large(symbol: str, width: int, height: int) -> bool:
    """Whether `big_symbol` draws it in large letters there, and not as plain text."""
    text = signs(symbol)
    return size_for(text, width, height) is not None or _two_lines(text, width, height // 2) is not None


def _two_lines(text: str, width: int, height: int) -> tuple[str, str, tuple[int, int]] | None:
    """The symbol broken where its lines come out largest, both in one size; None where that is no better than one line."""
    best: tuple[str, str, tuple[int, int]] | None = None
    for place in (match.start() for match in _BREAK.finditer(text) if match.start() > 1):
        sizes = [size_for(part, width, height) for part in (text[:place], text[place:])]
        if None in sizes:
            continue
        size = min((each for each in sizes if each), key=lambda each: (each[1], each[0]))
        if best is None or (size[1], size[0]) > (best[2][1], best[2][0]):
            best = text[:place], text[place:], size
    return best


def _painted(
    lines: Sequence[tuple[str, int]], size: tuple[int, int], width: int, height: int, light: bool = False
) -> list[str]:
    """lines: each with the half row that it begins at."""
    canvas = Canvas(width, height)
    for text, y in lines:
        canvas.paint(text, 0, y, *size, light=light)
    return canvas.rows()


def _plain(text: str, width: int, height: int) -> list[str]:
    rows = [" " * width] * height
    rows[height - 1] = shorten(text, width).ljust(width)
    return rows


@lru_cache(maxsize=256)
def big_notes(upper: str, lower: str, width: int, height: int) -> Sequence[str]:
    """Two note names, the upper one above, in exactly `height` rows of `width` columns."""
    upper, lower = signs(upper), signs(lower)
    half = height // 2
    sizes = [size_for(name, width, half) for name in (upper, lower) if name]
    if sizes and None not in sizes:
        size = min((each for each in sizes if each), key=lambda each: (each[1], each[0]))
        names = [(upper, 0), (lower, 2 * (height - rows_for(size[1])))]
        return _painted([name for name in names if name[0]], size, width, height)
    rows = [" " * width for _ in range(height)]
    if height > 1:
        rows[0] = shorten(upper, width).ljust(width)
        rows[-1] = shorten(lower, width).ljust(width)
    elif height:
        rows[0] = shorten(f"{lower} {upper}", width).ljust(width)
    return rows


def open_frame(head: str, rows: Sequence[tuple[str, str]], foot: str | None, width: int) -> list[Row]:
    """Around what is not to be played yet: an edge at its left, words in its upper and lower edge. rows: each with its role. foot: None where
    the last of them has the room of the lower edge."""
    middle: list[Row] = [[("│ ", "plain"), row] for row in rows]
    return [_edge("┌─", head, width), *middle, *([] if foot is None else [_edge("└─", foot, width)])]


def _edge(corner: str, words: str, width: int) -> Row:
    words = shorten(words, max(0, width - 3))
    return [(corner, "plain"), (words, "strong"), ("─" * (width - len(words) - 2), "plain")]
