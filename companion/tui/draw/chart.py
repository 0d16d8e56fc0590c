"""The chart: four bars a line, a new line for each section, scrolled so that the line to be played next is in view."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from companion.chart.model import FormBar
from companion.tui.draw.keyboard import Row
from companion.tui.draw.words import shorten, signs

BARS_A_LINE = 4  # as lead sheets have them; fewer in windows too narrow for them
GUTTER = 4  # columns for the section's name
SOUNDING, CURSOR = "▶", "›"


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the chart. section: its name where the section starts here, else ""; bars: indices in the chorus."""

    section: str
    bars: tuple[int, ...]


def bars_a_line(width: int) -> int:
    """How many bars of a readable width fit on a line of `width` columns: four, two or one."""
    return next((count for count in (BARS_A_LINE, 2) if (width - GUTTER - 1) // count >= 9), 1)


def lay_out(bars: tuple[FormBar, ...], a_line: int = BARS_A_LINE) -> list[Line]:
    """The lines of one chorus."""
    lines: list[Line] = []
    for bar in bars:
        if bar.bar == 1:
            lines.append(Line(bar.section, (bar.index,)))
        elif len(lines[-1].bars) == a_line:
            lines.append(Line("", (bar.index,)))
        else:
            lines[-1] = Line(lines[-1].section, (*lines[-1].bars, bar.index))
    return lines


def line_of(lines: list[Line], index: int) -> int:
    """The number of the line that holds a bar."""
    return next(number for number, line in enumerate(lines) if index in line.bars)


def line_to_come(lines: list[Line], index: int, next_index: Callable[[int], int]) -> int:
    """The line that play reaches when it leaves the line of bar `index`; that same line where the loop stays in it."""
    here = line_of(lines, index)
    for _ in range(BARS_A_LINE):
        index = next_index(index)
        if index not in lines[here].bars:
            break
    return line_of(lines, index)


def visible(count: int, here: int, to_come: int, height: int) -> list[int]:
    """Which lines to show, from top to bottom: always `here`, and `to_come` wherever two lines fit.

    The line above `here` stays in view where there is room. Where the loop jumps to a line out of view, that line takes
    the lowest place.
    """
    if height <= 0:
        return []
    above = 1 if height >= 3 else 0
    top = max(0, min(here - above, count - height))
    shown = list(range(top, min(count, top + height)))
    if to_come not in shown and len(shown) >= 2:
        shown = (shown[1:] if shown[-1] == here else shown[:-1]) + [to_come]
    return shown


def spread(bar: FormBar, width: int) -> str:
    """The chords of a bar over `width` columns, each at the place of its beat where the symbols leave room."""
    names = [signs(placed.chord.symbol) if placed.chord else "N.C." for placed in bar.chords]
    text = ""
    for name, placed in zip(names, bar.chords, strict=True):
        column = int(placed.beat * width / bar.meter.beats)
        text = text.ljust(column) if len(text) < column else text + " " * bool(text)
        text += name
    if len(text) > width:
        text = " ".join(names)
    return shorten(text, width)


@dataclass(frozen=True, slots=True)
class ChartState:
    """here: the bar that sounds or is marked; sounding: which of the two; loop: the bars in the loop."""

    here: int
    sounding: bool
    loop: frozenset[int]


def cell_width(width: int) -> int:
    """Columns of one bar, its bar line included."""
    return max(3, (width - GUTTER - 1) // bars_a_line(width))


def draw_line(line: Line, bars: tuple[FormBar, ...], state: ChartState, width: int, jump: bool = False) -> Row:
    """One line: section, bar lines, chords. The loop stands between double bar lines with dots; jump: the loop
    comes back here from a line further down."""
    mark = "↻" if jump else ""
    row: Row = [(shorten(mark + line.section, GUTTER - 1).ljust(GUTTER), "strong")]
    size = cell_width(width)
    for index in line.bars:
        row += _cell(index, bars[index], state, size)
    last = line.bars[-1]
    row.append(("║" if last in state.loop and last + 1 not in state.loop else "│", "dim"))
    return row


def _cell(index: int, bar: FormBar, state: ChartState, size: int) -> Row:
    inside, starts = index in state.loop, index in state.loop and index - 1 not in state.loop
    ends = inside and index + 1 not in state.loop
    after_end = index - 1 in state.loop and not inside
    here = index == state.here
    sign = (SOUNDING if state.sounding else CURSOR) if here else ":" if starts else " "
    text = spread(bar, size - 3).ljust(size - 3) + (":" if ends else " ")
    role = ("now" if state.sounding else "cursor") if here else "plain" if inside else "dim"
    return [("║" if starts or after_end else "│", "dim"), (sign, role if here else "dim"), (text, role)]


def draw_shells(line: Line, words: Callable[[int], str], width: int) -> Row:
    """A line below the chords: the notes of each bar's shells."""
    size = cell_width(width)
    row: Row = [(" " * GUTTER, "dim")]
    row += [(("│ " + shorten(words(index), size - 3)).ljust(size), "dim") for index in line.bars]
    return [*row, ("│", "dim")]
