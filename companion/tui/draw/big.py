"""Chord symbols and note names large enough to read from a metre, as a lead sheet sets them: the root large, its sharp
or flat beside its head, the rest smaller on the foot line. What does not fit falls back to smaller letters, then to
plain text.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache

from companion.tui.draw.canvas import Canvas
from companion.tui.draw.glyphs import HEIGHT, dots_width, known
from companion.tui.draw.words import shorten, signs

_SYMBOL = re.compile(r"([A-G])([♯♭]*)(.*)")
# Scale of the root and of the rest, the largest first. 0: the rest in plain text beside the root.
_SCALES = ((4, 2), (3, 1), (2, 1), (2, 0), (1, 0))


@lru_cache(maxsize=256)  # a chorus has few chords, and each comes again
def big_symbol(symbol: str, width: int, height: int) -> Sequence[str]:
    """A chord symbol in exactly `height` rows of exactly `width` columns (none where there is no room)."""
    if width <= 0 or height <= 0:
        return []
    text = signs(symbol)
    match = _SYMBOL.fullmatch(text)
    if match is None:
        return _word(text, width, height)
    root, sign, rest = match.groups()
    for scale, small in _SCALES:
        rows = _lead_sheet(root, sign, rest, scale, small, width, height)
        if rows is not None:
            return rows
    return _plain(text, width, height)


def _lead_sheet(root: str, sign: str, rest: str, scale: int, small: int, width: int, height: int) -> list[str] | None:
    """The symbol at one pair of scales, None where it does not fit or a letter is missing."""
    root_width = dots_width(root) * scale
    rows_needed = -(-HEIGHT * scale // 2)
    sign_scale = max(small, 1)
    if rows_needed > height or not known(sign + rest):
        return None
    right = max(dots_width(sign) * sign_scale, dots_width(rest) * small if small else len(rest))
    if root_width + bool(right) * sign_scale + right > width:
        return None
    canvas = Canvas(width, height)
    top = height * 2 - HEIGHT * scale if height > rows_needed else 0
    top -= top % 2
    canvas.paint(root, 0, top, scale)
    left = root_width + sign_scale
    if sign:
        canvas.paint(sign, left, top, sign_scale)
    if rest and small:
        canvas.paint(rest, left, top + HEIGHT * (scale - small), small)
    rows = canvas.rows()
    if not small:
        foot = top // 2 + rows_needed - 1
        rows[foot] = _write(rows[foot], left, rest)
    return rows


def _word(text: str, width: int, height: int) -> list[str]:
    """A word that is no chord symbol, such as N.C., in letters of one size."""
    for scale in (2, 1):
        if height * 2 >= HEIGHT * scale and known(text) and dots_width(text) * scale <= width:
            canvas = Canvas(width, height)
            canvas.paint(text, 0, 0, scale)
            return canvas.rows()
    return _plain(text, width, height)


def _plain(text: str, width: int, height: int) -> list[str]:
    rows = [" " * width] * height
    rows[height - 1] = shorten(text, width).ljust(width)
    return rows


def _write(row: str, column: int, text: str) -> str:
    return (row[:column] + text + row[column + len(text) :])[: len(row)]


@lru_cache(maxsize=256)
def big_notes(upper: str, lower: str, width: int, height: int) -> Sequence[str]:
    """Two note names, the upper one above, in exactly `height` rows of `width` columns."""
    upper, lower = signs(upper), signs(lower)
    for scale in (2, 1):
        needed = 2 * HEIGHT * scale + scale
        if 2 * height >= needed - 1 and width >= max(dots_width(upper), dots_width(lower)) * scale:
            canvas = Canvas(width, height)
            canvas.paint(upper, 0, 0, scale)
            canvas.paint(lower, 0, 2 * height - HEIGHT * scale, scale)
            return canvas.rows()
    rows = [" " * width for _ in range(height)]
    if height:
        rows[0] = shorten(upper, width).ljust(width)
    if height > 1:
        rows[min(height - 1, max(1, height - 2))] = shorten(lower, width).ljust(width)
    elif height:
        rows[0] = shorten(f"{lower} {upper}", width).ljust(width)
    return rows
