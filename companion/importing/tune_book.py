"""The tunes of an ABC file: a book may hold hundreds.

Source: The abc music standard 2.1, 2.2 "Abc file structure".
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from itertools import pairwise

from companion.base.text import nearest, plain, quoted
from companion.errors import SheetError


@dataclass(frozen=True, slots=True)
class Tune:
    """One tune of a book. number: as its X: field has it, where these tell the tunes apart (a book put together from files
    may have X:1 over each), else its place in the file. title: "" without one."""

    number: int
    title: str
    lines: tuple[str, ...]

    @property
    def words(self) -> str:
        """Number and title, as a list shows them."""
        return f"{self.number} {self.title or 'without a title'}"


def tunes_of(text: str) -> list[Tune]:
    """The tunes of an ABC text in their order (ABC 2.1, 2.2). Raises SheetError where there is none."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    starts = [number for number, line in enumerate(lines) if re.match(r"X:\s*\d*", line)]
    if not starts and not any(line.startswith("K:") for line in lines):
        raise SheetError("the file has neither X: nor K:; expected a tune in ABC notation")
    tunes = []
    for place, (start, end) in enumerate(pairwise([*(starts or [0]), len(lines)]), 1):
        number = re.match(r"X:\s*(\d{1,6})", lines[start])
        title = next((line[2:].strip() for line in lines[start:end] if line.startswith("T:")), "")
        tunes.append(Tune(int(number[1]) if number else place, plain(title), tuple(lines[start:end])))
    if len({tune.number for tune in tunes}) < len(tunes):
        tunes = [replace(tune, number=place) for place, tune in enumerate(tunes, 1)]
    return tunes


def find_tune(tunes: list[Tune], wanted: str) -> Tune:
    """The tune of that number or title, the first for "". Raises SheetError, with the nearest title."""
    words = wanted.strip().casefold()
    for tune in tunes:
        if words in ("", str(tune.number), tune.title.casefold()):
            return tune
    hint = nearest(wanted, [tune.title for tune in tunes if tune.title])
    raise SheetError(f"the file has no tune {quoted(wanted)}; {hint}")
