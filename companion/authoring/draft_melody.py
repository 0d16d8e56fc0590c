"""A section's melody as typed, when bars come or go under it."""

from __future__ import annotations

import re
from functools import lru_cache

from companion.chart.bars import split_bars
from companion.chart.grid import grid

REST_BAR = "Z"  # a bar of rest (ABC 2.1, 4.5)
_RESTS = re.compile(r"Z(\d{1,3})")
_UNIT = re.compile(r"\[L:[^\]]*\]")


def with_bars_changed(melody: str, first: int, removed: int, added: int, has_pickup: bool) -> str:
    """The melody with so many bars taken away at bar `first` (from 0) and as many bars of rest put there as were added.

    has_pickup: whether notes before the first barline are the song's pickup; they stay. A unit of length that was set in a
    bar taken away is set in the next one.
    """
    if not melody.strip():
        return melody
    opening, cells = bars_of(melody, has_pickup)
    if first >= len(cells):
        return melody  # behind its end; what is missing there is filled when the song is made
    units = _UNIT.findall(" ".join(cells[first : first + removed]))
    cells[first : first + removed] = [REST_BAR] * added
    after = first + added
    if units and after < len(cells):
        cells[after] = f"{units[-1]} {cells[after]}"
    return _text(opening, cells)


def filled(melody: str, bar_count: int, has_pickup: bool) -> str:
    """The melody with bars of rest behind its end where the section is longer, without those it has too many."""
    if not melody.strip():
        return ""
    opening, cells = bars_of(melody, has_pickup)
    wanted = list(cells)
    while len(wanted) > bar_count and wanted[-1] == REST_BAR:
        wanted.pop()
    wanted += [REST_BAR] * (bar_count - len(wanted))
    return melody if wanted == cells else _text(opening, wanted)


def bar_text(melody: str, bar: int, has_pickup: bool) -> str:
    """The notes of a bar, from 0; "" for a bar of rest and behind the melody's end."""
    cells = bars_of(melody, has_pickup)[1] if melody.strip() else []
    return cells[bar] if bar < len(cells) and cells[bar] != REST_BAR else ""


def with_bar(melody: str, bar: int, text: str, has_pickup: bool) -> str:
    """The melody with other notes in a bar, from 0; bars of rest are put before it where the melody is shorter. Without a note "" is left."""
    opening, cells = bars_of(melody, has_pickup) if melody.strip() else ("| " if has_pickup else "", [])
    cells += [REST_BAR] * (bar + 1 - len(cells))
    text = text.strip()
    cells[bar] = REST_BAR if not text or _RESTS.fullmatch(text) else text
    if opening in ("", "| ") and set(cells) == {REST_BAR}:
        return ""
    return _text(opening, cells)


def pickup_text(melody: str, has_pickup: bool) -> str:
    """The notes before the first bar, "" for none."""
    opening = bars_of(melody, has_pickup)[0] if melody.strip() else ""
    return opening.rstrip().removesuffix("|").strip()


def with_pickup(melody: str, text: str) -> str:
    """The melody of a section that has a pickup, with other notes in it, "" for none."""
    cells = bars_of(melody, has_pickup=True)[1] if melody.strip() else [REST_BAR]
    return _text(f"{text.strip()} |\n" if text.strip() else "| ", cells)


def bars_of(melody: str, has_pickup: bool) -> tuple[str, list[str]]:
    """What stands before the first bar (a barline or the pickup), and each bar."""
    opening, cells = _bars_of(melody, has_pickup)
    return opening, list(cells)


@lru_cache(64)  # the page that is drawn asks for each bar by itself, at every key
def _bars_of(melody: str, has_pickup: bool) -> tuple[str, tuple[str, ...]]:
    cells: list[str] = []
    for cell, _ in split_bars(melody):
        rests = _RESTS.fullmatch(cell)
        cells += [REST_BAR] * int(rests[1]) if rests else [cell]
    if not has_pickup:
        return "", tuple(cells)
    if melody.lstrip().startswith("|"):
        return "| ", tuple(cells)
    return f"{cells[0]} |\n", tuple(cells[1:])


def _text(opening: str, cells: list[str]) -> str:
    return opening + grid(len(cells), lambda start, columns: cells[start : start + columns])
