"""Naming a loop in words: a section, or bars of the chorus."""

from __future__ import annotations

import re

from companion.chart.loops import loop_name
from companion.errors import SettingsError
from companion.session.stand import Stand

_BARS = re.compile(r"(\d{1,5})(?:\s*-\s*(\d{1,5}))?")


def find_loop(stand: Stand, text: str) -> Stand:
    """Loop over "A" (a section) or "5-8" (bars of the chorus, from 1). Raises SettingsError naming what there is."""
    for name, indices in stand.section_loops():
        if text.strip().casefold() == name.casefold():
            return stand.with_loop(indices, name)
    match = _BARS.fullmatch(text.strip())
    if match is not None:
        first, last = int(match[1]), int(match[2] or match[1])
        if 1 <= first <= last <= len(stand.bars):
            return stand.with_loop(range(first - 1, last), loop_name(range(first - 1, last)))
    sections = ", ".join(name for name, _ in stand.section_loops()[1:])
    raise SettingsError(
        f"{text!r} is not a loop of this song: expected a section ({sections}) or bars from 1 to {len(stand.bars)}, such as 5-8"
    )
