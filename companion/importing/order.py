"""The order in which the bars of a lead sheet are played: repeats, endings, D.C., D.S., Fine and coda.

Common practice: a repeat is played twice unless a number is written; a repeat sign without a beginning goes back to
the end of the last repeat or to the start; after D.C. or D.S. repeats are not taken again and only the last ending is
played; "al Coda" leaves at the sign To Coda, "al Fine" ends at Fine.
"""

from __future__ import annotations

from companion.importing.score import Sheet, SheetBar

_MOST_PLAYED = 2000  # bars of a chorus, as charts allow


def playing_order(sheet: Sheet) -> list[int]:
    """Numbers of the bars, from 0, in playing order. What leads nowhere is remarked upon and passed over."""
    bars = sheet.bars
    _settle_codas(bars)
    _settle_endings(bars)
    _check_targets(sheet)
    order: list[int] = []
    is_endless = False
    for first, last in _stretches(sheet):
        player = _BarOrder(bars[first:last])
        order += [first + at for at in player.play()]
        is_endless |= player.is_endless or len(order) > _MOST_PLAYED
    if is_endless:
        sheet.remark("", f"the repeats lead on for more than {_MOST_PLAYED} bars; the bars are taken as they stand")
        return list(range(len(bars)))
    return order


def _stretches(sheet: Sheet) -> list[tuple[int, int]]:
    """The stretches of bars to be played one after the other: all of them, or the parts that the sheet's form names."""
    starts = [at for at, bar in enumerate(sheet.bars) if bar.mark]
    parts: dict[str, tuple[int, int]] = {}
    for start, end in zip(starts, [*starts[1:], len(sheet.bars)]):
        parts.setdefault(sheet.bars[start].mark, (start, end))
    missing = [name for name in sheet.form if name not in parts]
    if missing:
        sheet.remark("", f"the form names part {missing[0]}, which the tune does not have; the form is left out")
    if missing or not sheet.form:
        return [(0, len(sheet.bars))]
    opening = [(0, starts[0])] if starts[0] > 0 else []  # a pickup before the first part
    return opening + [parts[name] for name in sheet.form[:_MOST_PLAYED]]


def _settle_codas(bars: list[SheetBar]) -> None:
    """The coda sign stands at the leap and at its goal alike: where nothing else tells them apart, the first is the leap."""
    for bar in bars:
        if bar.steering.to_coda:
            bar.steering.is_coda = False
    codas = [bar for bar in bars if bar.steering.is_coda]
    if len(codas) > 1 and not any(bar.steering.to_coda for bar in bars):
        codas[0].steering.to_coda, codas[0].steering.is_coda = True, False


def _settle_endings(bars: list[SheetBar]) -> None:
    """Behind a first ending that is repeated and has no second beside it stands the second, as long as the first unless a strain
    ends or begins before (common practice: tune books often print the 1 alone)."""
    for last in range(len(bars) - 1):
        numbers, after = bars[last].endings, bars[last + 1]
        if not numbers or not bars[last].times > max(numbers) or after.endings or after.starts_repeat or after.mark:
            continue
        first = last
        while first > 0 and bars[first - 1].endings == numbers:
            first -= 1
        for at in range(last + 1, min(len(bars), 2 * last - first + 2)):
            if bars[at].starts_repeat or bars[at].mark:
                break
            bars[at].endings = frozenset((max(numbers) + 1,))
            if bars[at].times or bars[at].ends_section:
                break


def _check_targets(sheet: Sheet) -> None:
    bars = sheet.bars
    has = {
        "coda": any(bar.steering.is_coda for bar in bars),
        "to coda": any(bar.steering.to_coda for bar in bars),
        "fine": any(bar.steering.is_fine for bar in bars),
    }
    for at, bar in enumerate(bars):
        if bar.steering.jump == "segno" and not any(before.steering.is_segno for before in bars[:at]):
            sheet.remark(bar.number, "D.S. leads to no segno; left out")
            bar.steering.jump = bar.steering.until = ""
        if bar.steering.jump and bar.steering.until == "":
            # Bare D.C. or D.S.: a Fine or a To Coda before it is what it is for.
            bar.steering.until = "coda" if has["coda"] and has["to coda"] else "fine" if has["fine"] else ""
        if bar.steering.until == "coda" and not (has["coda"] and has["to coda"]):
            sheet.remark(bar.number, "al Coda finds no coda, or no sign To Coda; played to the end")
            bar.steering.until = ""
        if bar.steering.until == "fine" and not has["fine"]:
            sheet.remark(bar.number, "al Fine finds no Fine; played to the end")
            bar.steering.until = ""
    if not any(bar.steering.jump for bar in bars):
        for bar in bars:
            if bar.steering.to_coda or bar.steering.is_fine:
                sheet.remark(
                    bar.number, f"{'To Coda' if bar.steering.to_coda else 'Fine'} has no D.C. or D.S.; left out"
                )


class _BarOrder:
    """Walks through the bars as a player reads them."""

    def __init__(self, bars: list[SheetBar]) -> None:
        self.bars = bars
        self.start = 0  # where the running repeat begins
        self.turn = 1  # how often it is being played
        self.has_jumped = False
        self.until = ""
        self.is_endless = False

    def play(self) -> list[int]:
        order: list[int] = []
        at = 0
        steps = 0
        while at < len(self.bars):
            steps += 1
            if len(order) > _MOST_PLAYED or steps > 4 * _MOST_PLAYED:
                self.is_endless = True
                break
            bar = self.bars[at]
            if bar.starts_repeat and self.start != at:
                self.start, self.turn = at, 1
            if bar.endings and not self._plays_ending(at):
                at = self._behind_ending(at)
                continue
            order.append(at)
            if self.until == "fine" and bar.steering.is_fine:
                break
            at = self._next(at, bar)
        return order

    def _next(self, at: int, bar: SheetBar) -> int:
        if self.until == "coda" and bar.steering.to_coda:
            self.until = ""
            return self._first("is_coda", at)
        if bar.times and not self.has_jumped:
            if self.turn < self._times(at, bar):
                self.turn += 1
                return self.start
            self.start, self.turn = at + 1, 1
        elif bar.endings and not (at + 1 < len(self.bars) and self.bars[at + 1].endings):
            self.start, self.turn = at + 1, 1  # behind the last ending a new stretch begins
        if bar.steering.jump and not self.has_jumped:
            self.has_jumped, self.until = True, bar.steering.until
            return 0 if bar.steering.jump == "start" else self._first("is_segno", -1)
        return at + 1

    def _times(self, at: int, bar: SheetBar) -> int:
        """How often the repeat that ends here is played; endings say it by their numbers."""
        return max(bar.times, *self._group(at)) if bar.endings else bar.times

    def _group(self, at: int) -> frozenset[int]:
        """The numbers of all endings that stand side by side around this bar."""
        first, last = at, at
        while first > 0 and self.bars[first - 1].endings:
            first -= 1
        while last + 1 < len(self.bars) and self.bars[last + 1].endings:
            last += 1
        return frozenset().union(*(bar.endings for bar in self.bars[first : last + 1]))

    def _plays_ending(self, at: int) -> bool:
        endings = self.bars[at].endings
        if self.has_jumped:
            return max(endings) == max(self._group(at))
        return self.turn in endings

    def _behind_ending(self, at: int) -> int:
        endings = self.bars[at].endings
        while at < len(self.bars) and self.bars[at].endings == endings:
            at += 1
        return at

    def _first(self, sign: str, behind: int) -> int:
        """The first bar behind one that has a sign; the sign's first bar at all where none follows."""
        marked = [at for at, bar in enumerate(self.bars) if getattr(bar.steering, sign)]
        return next((at for at in marked if at > behind), marked[0])
