"""The form of a sheet, as a musician would write it: which bars are pickups, which make one bar of the chart, and where its
sections begin.

A strain that is repeated from its upbeat is one section with a pickup, and its last bar, which the upbeat fills, a whole bar
with a rest (common practice). Sections begin where the order of playing parts, at rehearsal marks or, on a sheet without
any, at double bars, and where meter or key change.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from companion.chart.bars import is_countable
from companion.errors import SheetError
from companion.importing.score import Sheet, SheetBar

BarGroup = tuple[
    int, ...
]  # numbers, from 0, of the sheet's bars that make one bar of the chart: two where a repeat sign parts one


@dataclass(frozen=True, slots=True)
class FormStretch:
    """A section to be. groups: its bars. pickup: the number of the bar that leads to it, None without one. each_time: whether
    the pickup comes each time, and not only where the tune begins."""

    groups: tuple[BarGroup, ...]
    pickup: int | None = None
    each_time: bool = False


@dataclass(frozen=True, slots=True)
class ChartBars:
    """groups: the bars of the chart in playing order. pickups: the bars that are pickups -> whether their section is always led
    to by them. filled: the bars that are filled with a rest up to their meter's length."""

    groups: tuple[BarGroup, ...]
    pickups: dict[int, bool]
    filled: frozenset[int]


def chart_bars(sheet: Sheet, order: Sequence[int]) -> ChartBars:
    """The bars of the chart, where those of the sheet are played in this order. Marks on a pickup go to the bar behind it.

    Raises SheetError where there is nothing but a pickup.
    """
    bars = sheet.bars
    pickups = _pickups(sheet, order)
    for at in pickups:
        bars[at + 1].mark = bars[at + 1].mark or bars[at].mark
    filled = _filled(bars, order, pickups)
    groups = _groups(sheet, order, pickups, filled)
    if not groups:
        raise SheetError("the file has nothing but a pickup; expected a lead sheet")
    return ChartBars(tuple(groups), pickups, filled)


# --- pickups


def _pickups(sheet: Sheet, order: Sequence[int]) -> dict[int, bool]:
    """The bars that are pickups -> whether their section is always led to by them."""
    bars = sheet.bars
    found: dict[int, bool] = {}
    for at in range(len(bars) - 1):
        if not _opens_strain(bars, at) or not _fits(bars[at], bars[at + 1]):
            continue
        comes = [place for place, bar in enumerate(order) if bar == at]
        without = [place for place, bar in enumerate(order) if bar == at + 1 and (place == 0 or order[place - 1] != at)]
        before = [bars[order[place - 1]] for place in comes if place]
        is_upbeat = not before or any(bar.is_short for bar in before) or 2 * bars[at].length <= bars[at].full_length
        if not comes or not is_upbeat:
            continue
        if not without:
            found[at] = True
            if any(not bar.is_short for bar in before):
                sheet.remark(bars[at].number, "the pickup takes the place of the end of the bar before it")
        elif at == 0 and comes == [0]:
            found[at] = False
        elif all(place and _leads_alike(bars[order[place - 1]], bars[at]) for place in without):
            found[at] = True
        elif at == 0:
            found[at] = False
    return found


def _opens_strain(bars: list[SheetBar], at: int) -> bool:
    """Whether a short bar stands where a strain begins."""
    here, after = bars[at], bars[at + 1]
    if not here.is_short or here.times or (here.endings and not after.starts_repeat):
        return False
    if at == 0 or here.starts_repeat or here.mark or after.starts_repeat or after.mark:
        return True
    before = bars[at - 1]
    return bool(before.times or before.ends_section or before.endings)


def _leads_alike(before: SheetBar, pickup: SheetBar) -> bool:
    """Whether a bar that is written out to its end ends with just the notes of a pickup."""
    start = before.length - pickup.length
    tail = [(note.offset - start, note.length, note.pitch) for note in before.notes if note.offset >= start]
    return not before.is_short and tail == [(note.offset, note.length, note.pitch) for note in pickup.notes]


def _fits(pickup: SheetBar, after: SheetBar) -> bool:
    """Whether a chart can have it: shorter than the bar behind it, and of a length that can be counted."""
    beats = pickup.length * after.meter.unit / 4
    return pickup.length < after.full_length and is_countable(beats, after.meter)


def _filled(bars: list[SheetBar], order: Sequence[int], pickups: dict[int, bool]) -> frozenset[int]:
    """Short bars at the end of a strain, whose rest is what a pickup takes, and those that lack less than half."""
    upbeats = [bars[at].length for at in pickups]
    filled = set()
    for at, following in zip(order, [*order[1:], None]):
        bar = bars[at]
        if not bar.is_short or at in pickups:
            continue
        is_end = bar.times or bar.ends_section or bar.endings or following is None or following != at + 1
        completes = any(bar.length + upbeat == bar.full_length for upbeat in upbeats)
        is_nearly_whole = 2 * bar.length > bar.full_length  # no bar of a meter of its own, but a slip of the writer's
        if (following is not None and pickups.get(following)) or (is_end and completes) or is_nearly_whole:
            filled.add(at)
    return frozenset(filled)


# --- bars of the chart


def _groups(sheet: Sheet, order: Sequence[int], pickups: dict[int, bool], filled: frozenset[int]) -> list[BarGroup]:
    """The bars of the chart in playing order."""
    bars = sheet.bars
    kept: list[int] = []
    for place, at in enumerate(order):
        if pickups.get(at) or (at in pickups and place == 0):
            continue
        if at in pickups and not bars[order[place - 1]].is_short:
            sheet.remark(bars[at].number, "the pickup comes again behind a whole bar; left out there")
            continue
        kept.append(at)
    groups: list[BarGroup] = []
    place = 0
    while place < len(kept):
        here = kept[place]
        after = kept[place + 1] if place + 1 < len(kept) else None
        # A pickup that comes again only now and then is written out in the bar before it.
        joins = after is not None and _join(bars[here], bars[after])
        groups.append((here, after) if joins and after is not None else (here,))
        place += 2 if joins else 1
    return groups


def _join(left: SheetBar, right: SheetBar) -> bool:
    """Whether two short bars are the halves of one."""
    is_whole: bool = left.length + right.length == left.full_length
    return left.is_short and right.is_short and left.meter == right.meter and is_whole


# --- sections


def form_of(
    sheet: Sheet, chart: ChartBars, turns: Callable[[BarGroup, BarGroup], bool]
) -> tuple[tuple[FormStretch, ...], tuple[int, ...]]:
    """The stretches in the order in which they are first played, and their numbers in playing order.

    A stretch ends where what follows it is not always the same, and where the sheet says that a section does. turns:
    whether meter or key change between two bars.
    """
    bars, groups, pickups = sheet.bars, chart.groups, chart.pickups
    behind: dict[BarGroup, set[BarGroup | None]] = {groups[-1]: {None}}
    before: dict[BarGroup, set[BarGroup | None]] = {groups[0]: {None}}
    for left, right in pairwise(groups):
        behind.setdefault(left, set()).add(right)
        before.setdefault(right, set()).add(left)
    has_marks = any(bar.mark for bar in bars)
    found: dict[BarGroup, list[BarGroup]] = {}
    played: list[BarGroup] = []
    is_new = True
    for place, group in enumerate(groups):
        previous = groups[place - 1] if place else None
        if (
            previous is None
            or len(behind[previous]) > 1
            or len(before[group]) > 1
            or group[0] - 1 in pickups
            or turns(previous, group)
            or any(bars[at].mark for at in group)
            or (bars[previous[-1]].endings and not bars[group[0]].endings)
            or (not has_marks and bars[previous[-1]].ends_section)
        ):
            is_new = group not in found
            found.setdefault(group, [])
            played.append(group)
        if is_new:
            found[played[-1]].append(group)
    stretches = []
    for first, bars_of in found.items():
        lead = first[0] - 1
        stretches.append(FormStretch(tuple(bars_of), lead if lead in pickups else None, pickups.get(lead, False)))
    numbers = {first: number for number, first in enumerate(found)}
    return tuple(stretches), tuple(numbers[first] for first in played)


def beats_of(bar: SheetBar, after: SheetBar) -> Fraction:
    """The beats of a pickup, in those of the bar behind it."""
    return bar.length * after.meter.unit / 4
