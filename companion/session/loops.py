"""Naming a loop in words: a section, bars of the chorus or of a section."""

from __future__ import annotations

import re

from companion.chart.loops import WHOLE_FORM, loop_name
from companion.errors import SettingsError
from companion.session.drill import ONE_PASS, ROUND_BY_ROUND
from companion.session.stand import Stand

_BARS = re.compile(r"(\d{1,5})(?:\s*-\s*(\d{1,5}))?")


def find_loop(stand: Stand, text: str) -> Stand:
    """Loop over "A" (a section), "5-8" (bars of the chorus, from 1), "B 3-4" (bars of a section where it comes first), or "whole". Raises
    SettingsError naming what there is."""
    wanted = " ".join(text.split()).casefold()
    loops = stand.section_loops()
    chorus = loops[0][1]
    if wanted == "whole":
        return stand.with_loop(chorus, WHOLE_FORM)
    for name, indices in loops:
        if wanted == name.casefold():
            return stand.with_loop(indices, name)
    for name, indices in (("", chorus), *loops[1:]):
        bars = _bars(wanted.removeprefix(name.casefold()).strip()) if wanted.startswith(name.casefold()) else None
        if bars is not None and 1 <= bars[0] <= bars[1] <= len(indices):
            loop = indices[bars[0] - 1 : bars[1]]
            return stand.with_loop(loop, loop_name(loop))
    sections = ", ".join(name for name, _ in loops[1:])
    raise SettingsError(
        f"{text!r} is not a loop of this song: expected a section ({sections}) or bars from 1 to {len(stand.bars)}, such as 5-8, or bars "
        f"of a section, such as {loops[1][0]} 1-2, or whole"
    )


def is_much_for(stand: Stand, kind: str, before: str) -> bool:
    """Whether a way to practise would take cues from a whole form that was not chosen for that: a section is learned sooner. before: the way
    until now."""
    is_whole, chosen = len(stand.loop) == len(stand.bars), before in (*ROUND_BY_ROUND, *ONE_PASS)
    return kind in ROUND_BY_ROUND and is_whole and not chosen and len(stand.section_loops()) > 2


def _bars(text: str) -> tuple[int, int] | None:
    match = _BARS.fullmatch(text)
    return (int(match[1]), int(match[2] or match[1])) if match is not None else None


def find_bars(stand: Stand, text: str) -> frozenset[int]:
    """Bars of the loop by their names: "3 5-6" of the chorus, from 1, or "A 3, B 1" of a section, wherever that comes in the loop. Gives
    their indices. Raises SettingsError where one is not in the loop."""
    sections = "|".join(re.escape(name) for name in dict.fromkeys(stand.song.form))
    one = re.compile(
        rf"(?:(?P<section>{sections})[ .]?)?(?P<first>\d{{1,5}})(?:\s*-\s*(?P<last>\d{{1,5}}))?(?:[\s,]+|$)", re.I
    )
    found: set[int] = set()
    at, text = 0, text.strip()
    while at < len(text):
        match = one.match(text, at)
        named = _named_bars(stand, match) if match is not None else frozenset()
        if match is None or not named:
            raise SettingsError(
                f"{text[at:]!r}: no bar of this loop; expected bars of the chorus, such as {stand.loop[0] + 1}, or of a section, such as "
                f"{stand.bars[stand.loop[0]].section} {stand.bars[stand.loop[0]].bar}"
            )
        found |= named
        at = match.end()
    return frozenset(found)


def _named_bars(stand: Stand, match: re.Match[str]) -> frozenset[int]:
    first, last = int(match["first"]), int(match["last"] or match["first"])
    section = (match["section"] or "").casefold()
    return frozenset(
        index
        for index in stand.loop
        if first <= (stand.bars[index].bar if section else index + 1) <= last
        and section in ("", stand.bars[index].section.casefold())
    )
