"""Slips of a writer that a musician sees through: a meter that no bar has, a bar line left out, a bar
that is too long by less than a pulse. All of them are told."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from copy import copy
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from companion.chart.bars import counted
from companion.importing.score import Sheet, SheetBar, Steering
from companion.theory.meter import TICKS_PER_QUARTER, Meter

_SELDOM = 4  # a bar line is missing in at most one bar of so many; else the sheet means it


def mend_bars(sheet: Sheet) -> None:
    """Give the bars of a sheet the meter that most of them have, the bar lines that are missing, and their right length."""
    for meter in dict.fromkeys(bar.meter for bar in sheet.bars):
        _take_real_meter(sheet, [bar for bar in sheet.bars if bar.meter == meter])
    lengths = Counter(bar.length for bar in sheet.bars)
    seldom = {length for length, count in lengths.items() if _SELDOM * count <= len(sheet.bars)}
    sheet.bars = [piece for at, bar in enumerate(sheet.bars) for piece in _pieces(sheet, at, bar, bar.length in seldom)]


def meter_of_length(length: Fraction, meter: Meter) -> Meter | None:
    """The meter of a bar of this length in quarters, in the unit of another or a shorter one; None where there is none."""
    beats = length * meter.unit / 4
    for factor in (1, 2, 4):
        try:
            if (beats * factor).denominator == 1:
                return Meter.parse(f"{beats * factor}/{meter.unit * factor}")
        except ValueError:
            continue
    return None


def _take_real_meter(sheet: Sheet, bars: list[SheetBar]) -> None:
    """Where more than half of the bars of a meter have one other length, that one is meant."""
    length, count = Counter(bar.length for bar in bars).most_common(1)[0]
    written = bars[0].meter
    real = meter_of_length(length, written)
    if length in (0, bars[0].full_length) or real is None or len(bars) < 3 or 2 * count <= len(bars):
        return
    beats = counted(length * written.unit / 4, "beat")
    sheet.remark("", f"most bars hold {beats} where {written} has {written.beats}; read in {real}")
    for bar in bars:
        bar.meter = real


def _pieces(sheet: Sheet, at: int, bar: SheetBar, is_seldom: bool) -> Iterator[SheetBar]:
    """The bars that stand in one, where bar lines are missing; most often the bar itself."""
    full, excess = bar.full_length, bar.length - bar.full_length
    if excess <= 0 or not is_seldom:
        yield bar
    elif 2 * excess <= full and excess in _upbeats(sheet.bars, at):
        sheet.remark(bar.number, "no bar line stands behind its pickup; set")
        yield from _cut(bar, [excess])
    elif not excess % full or 2 * (excess % full) > full:
        beats = counted(bar.length * bar.meter.unit / 4, "beat")
        sheet.remark(
            bar.number, f"it holds {beats} where {bar.meter} has {bar.meter.beats}; the missing bar line is set"
        )
        yield from _cut(bar, [full * number for number in range(1, -(-bar.length // full))])
    elif excess * TICKS_PER_QUARTER < bar.meter.pulse_ticks and any(note.length > excess for note in bar.notes):
        beats = counted(bar.length * bar.meter.unit / 4, "beat")
        sheet.remark(bar.number, f"it holds {beats} where {bar.meter} has {bar.meter.beats}; a note is shortened")
        yield _shortened(bar, excess)
    else:
        yield bar


def _shortened(bar: SheetBar, excess: Fraction) -> SheetBar:
    """The bar with its last note that is long enough shortened, so that no note is lost."""
    at = max(number for number, note in enumerate(bar.notes) if note.length > excess)
    end = bar.notes[at].offset + bar.notes[at].length
    bar.notes[at] = replace(bar.notes[at], length=bar.notes[at].length - excess)
    bar.notes[at + 1 :] = [replace(note, offset=note.offset - excess) for note in bar.notes[at + 1 :]]
    bar.chords = [(offset - excess if offset >= end else offset, symbol) for offset, symbol in bar.chords]
    bar.length -= excess
    return bar


def _ends_strain(bars: list[SheetBar], at: int) -> bool:
    return bool(bars[at].times or bars[at].ends_section or at == len(bars) - 1)


def _upbeats(bars: list[SheetBar], at: int) -> set[Fraction]:
    """The lengths of a pickup that this bar may open a strain with: those that make a short bar whole."""
    if at == 0:
        return {bar.full_length - bar.length for bar in bars if bar.is_short}
    before = bars[at - 1]
    is_start = bars[at].starts_repeat or bars[at].mark or _ends_strain(bars, at - 1)
    return {before.full_length - before.length} if is_start and before.is_short else set()


def _cut(bar: SheetBar, places: list[Fraction]) -> Iterator[SheetBar]:
    """The bar in pieces. What stands at its start stays with the first, what stands at its end with the last."""
    edges = [Fraction(0), *places, bar.length]
    for start, end in pairwise(edges):
        is_first, is_last = start == 0, end == bar.length
        piece = copy(bar)
        piece.length = end - start
        piece.chords = [(offset - start, symbol) for offset, symbol in bar.chords if start <= offset < end]
        piece.notes = [
            replace(
                note,
                offset=max(note.offset, start) - start,
                length=min(note.offset + note.length, end) - max(note.offset, start),
                is_tied=note.is_tied or (note.pitch is not None and note.offset + note.length > end),
            )
            for note in bar.notes
            if note.offset < end and note.offset + note.length > start
        ]
        piece.mark, piece.starts_repeat = (bar.mark, bar.starts_repeat) if is_first else ("", False)
        piece.times, piece.ends_section = (bar.times, bar.ends_section) if is_last else (0, False)
        signs = bar.steering
        piece.steering = Steering(is_segno=signs.is_segno, is_coda=signs.is_coda) if is_first else Steering()
        if is_last:
            piece.steering.add(replace(signs, is_segno=False, is_coda=False))
        yield piece
