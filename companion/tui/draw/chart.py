"""The chart: four bars a line, a new line for each section, scrolled so that the line to be played next is in view.

In a drill each bar shows what its cue allows; a sign behind each chord says how it went.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from companion.chart.grid import BARS_A_LINE
from companion.chart.model import FormBar
from companion.practice.drills.fading import Cue
from companion.practice.model import VERDICTS
from companion.session.changes import Sign
from companion.tui.draw.cues import shown
from companion.tui.draw.row import Row
from companion.tui.draw.view import View
from companion.tui.draw.words import shorten, signs, whole_words

_NARROW = 60  # columns of a window
SOUNDING, CURSOR = "▶", "›"
# How a chord went. None of these stands in a chord symbol.
VERDICT_SIGNS = {"right": "•", "early": "<", "late": ">", "short": "'", "wrong": "×", "missing": "_", "not sure": "?"}


@dataclass(frozen=True, slots=True)
class ChartLine:
    """One line of the chart. section: its name where the section starts here, else ""; bars: indices in the chorus."""

    section: str
    bars: tuple[int, ...]


def gutter(width: int) -> int:
    """Columns for the sign of a jump and the section's name. In a window of 80 a bar is no narrower for six than for four."""
    return 4 if width < _NARROW else 6


def bars_a_line(width: int) -> int:
    """How many bars of a readable width fit on a line of `width` columns: four, two or one."""
    return next((count for count in (BARS_A_LINE, 2) if (width - gutter(width) - 1) // count >= 9), 1)


def lay_out(bars: tuple[FormBar, ...], a_line: int = BARS_A_LINE) -> list[ChartLine]:
    """The lines of one chorus."""
    lines: list[ChartLine] = []
    for bar in bars:
        if bar.bar == 1:
            lines.append(ChartLine(bar.section, (bar.index,)))
        elif len(lines[-1].bars) == a_line:
            lines.append(ChartLine("", (bar.index,)))
        else:
            lines[-1] = ChartLine(lines[-1].section, (*lines[-1].bars, bar.index))
    return lines


def line_of(lines: list[ChartLine], index: int) -> int:
    """The number of the line that holds a bar."""
    return next(number for number, line in enumerate(lines) if index in line.bars)


def line_to_come(lines: list[ChartLine], index: int, next_index: Callable[[int], int]) -> int:
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


def spread(bar: FormBar, width: int, words: Sequence[str] | None = None) -> str:
    """The chords of a bar over `width` columns, each at the place of its beat where the symbols leave room. words: in place
    of their symbols."""
    if words is None:
        words = [signs(placed.symbol) for placed in bar.chords]
    text = ""
    for name, placed in zip(words, bar.chords, strict=True):
        column = int(placed.beat * width / bar.meter.beats)
        text = text.ljust(column) if len(text) < column else text + " " * bool(text)
        text += name
    if len(text) > width:
        text = " ".join(words)
    # Whole symbols and a mark by itself: cut within, "Cm7♭5" would be the "C…" of a hidden chord.
    return whole_words(text, width)


def bar_text(view: View, index: int, width: int) -> str:
    """What a bar shows under its cue: its chords, an empty bar's beats, or only its number; each chord's sign behind it."""
    bar = view.stand.bars[index]
    chords = [shown(view, index, number) for number in range(len(bar.chords))]
    behind = [_sign_of(view.signs.get((index, number))) for number in range(len(chords))]
    cue = chords[0].cue
    if cue >= Cue.ROOT:
        names = [chord.symbol for chord in chords]
        if view.signs:
            names = [f"{name} {sign or ' '}" for name, sign in zip(names, behind, strict=True)]
        text = spread(bar, width, names)
        return (
            text
            if len(text.rstrip()) <= width and "…" not in text
            else spread(bar, width, [name.replace(" ", "") for name in names])
        )
    worst = max(filter(None, behind), key=list(VERDICT_SIGNS.values()).index, default="")
    step, place = max(2, (width - 2) // bar.meter.pulses), chords[0].cue_words
    text = "".join("·".ljust(step) for _ in range(bar.meter.pulses))
    if cue == Cue.PLACE:
        text = place if len(place) + 2 <= width else str(bar.bar)
    return f"{shorten(text, max(0, width - 2)).rstrip()} {worst}"


def _sign_of(sign: Sign | None) -> str:
    return VERDICT_SIGNS[sign.verdict] if sign else ""


def signs_of_bar(view: View, index: int) -> list[Sign]:
    """In the order of the bar's chords; only those there are. A hidden bar has the worst of its own."""
    found = [
        view.signs[place] for n in range(len(view.stand.bars[index].chords)) if (place := (index, n)) in view.signs
    ]
    if found and view.cue(index) < Cue.ROOT:
        return [max(found, key=lambda sign: VERDICTS.index(sign.verdict))]
    return found


@dataclass(frozen=True, slots=True)
class ChartState:
    """here: the bar that sounds or is marked; sounding: which of the two; loop: the bars in the loop."""

    here: int
    sounding: bool
    loop: frozenset[int]

    @classmethod
    def of(cls, view: View) -> ChartState:
        """What the chart shows of the stand."""
        return cls(view.here, view.sounding, frozenset(view.stand.loop))


def cell_width(width: int) -> int:
    """Columns of one bar, its bar line included."""
    return max(3, (width - gutter(width) - 1) // bars_a_line(width))


def draw_line(
    line: ChartLine,
    bars: tuple[FormBar, ...],
    state: ChartState,
    width: int,
    jump: bool = False,
    view: View | None = None,
) -> Row:
    """One line: section, bar lines, chords. The loop stands between double bar lines with dots; jump: the loop
    comes back here from a line further down. view: for what a drill hides and how the chords went."""
    mark = "↻" if jump else ""
    row: Row = [((mark + section_name(line.section, gutter(width) - 1 - len(mark))).ljust(gutter(width)), "strong")]
    size = cell_width(width)
    for index in line.bars:
        row += _cell(index, bars[index], state, size, view)
    last = line.bars[-1]
    row.append(("║" if last in state.loop and last + 1 not in state.loop else "│", "dim"))
    return row


def _cell(index: int, bar: FormBar, state: ChartState, size: int, view: View | None) -> Row:
    inside, starts = index in state.loop, index in state.loop and index - 1 not in state.loop
    ends = inside and index + 1 not in state.loop
    after_end = index - 1 in state.loop and not inside
    here = index == state.here
    sign = (SOUNDING if state.sounding else CURSOR) if here else ":" if starts else " "
    text = (bar_text(view, index, size - 3) if view else spread(bar, size - 3)).ljust(size - 3)
    role = ("now" if state.sounding else "cursor") if here else "plain" if inside else "dim"
    if view is not None and view.cue(index) < Cue.ROOT and not here:
        role = "dim"
    line = "║" if starts or after_end else "│"
    marks = signs_of_bar(view, index) if view and view.signs else []
    return [
        (line, "dim"),
        (sign, role if here else "dim"),
        *_with_signs(text, marks, role),
        (":" if ends else " ", role),
    ]


def _with_signs(text: str, marks: list[Sign], role: str) -> Row:
    """The text with the sign characters in roles of their own: faint where they are of the pass before."""
    row: Row = []
    rest = text
    for mark in marks:
        before, sign, rest = rest.partition(VERDICT_SIGNS[mark.verdict])
        row += [(before, role)]
        if sign:
            row += [
                (
                    sign,
                    role
                    if role == "now"
                    else "dim"
                    if not mark.fresh
                    else "right"
                    if mark.verdict == "right"
                    else "slip",
                )
            ]
    return [*row, (rest, role)]


def section_name(name: str, width: int) -> str:
    """A section's name in so many columns. Cut in the middle, for names such as "Ending 1" and "Ending 2" differ at their ends."""
    if len(name) <= width:
        return name
    return f"{name[: width - 2]}…{name[-1]}" if width > 2 else name[:width]


def draw_shells(line: ChartLine, bars: Sequence[FormBar], words: Callable[[int], list[str]], width: int) -> Row:
    """A line below the chords: the notes of each bar's shells, each below its chord. words: of a bar's chords, "" for none."""
    size = cell_width(width)
    row: Row = [(" " * gutter(width), "dim")]
    row += [(("│ " + spread(bars[index], size - 3, words(index))).ljust(size), "dim") for index in line.bars]
    return [*row, ("│", "dim")]


def lines_with_shells(count: int, height: int) -> int:
    """How many of a chart's lines, from the first, have their shells below them in so many rows. A form that fits is never cut for
    them; one that does not fit scrolls, and then has all of them or none."""
    if count > height:
        return count if height >= 8 else 0
    room = min(count, height - count)
    return room if 2 * room >= count else 0
