"""The melody as a strip of note names: each bar's beats, names that last as long as their line, and fingers below.

What stands where is by time: half a bar is half of its columns. The staff beside it is `draw.staff`.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from companion.export.notation import Span
from companion.export.score import HIDDEN, Sung
from companion.theory.pitch import Pitch
from companion.tui.draw.row import Row
from companion.tui.draw.staff import StaffBar
from companion.tui.draw.words import signs

_LABELS = ("", "beat", "note", "finger")  # a bare figure could be either
_ORNAMENT = "with"
ROWS = len(_LABELS)
_LABEL_COLUMNS = 7
LEAST_COLUMNS = 36  # of a bar
_HOLD, _REST = "─", "·"


def draw_strip(bars: Sequence[StaffBar], width: int, voices: int = 1) -> list[Row]:
    """The bars side by side in `width` columns and ROWS rows, with one more for each of the voices under the melody, and one for ornaments where there are any.
    voices: of the right hand."""
    has_marks = any(mark for bar in bars for mark in bar.marks)
    labels = (*_LABELS[:3], *["under"] * (voices - 1), *_LABELS[3:], *([_ORNAMENT] if has_marks else []))
    rows: list[Row] = [[(f"{label:<{_LABEL_COLUMNS}}", "dim")] for label in labels]
    room = width - _LABEL_COLUMNS
    for number, bar in enumerate(bars):
        columns = room * (number + 1) // len(bars) - room * number // len(bars)
        for row, part in zip(rows, _bar(bar, columns, voices, has_marks=has_marks), strict=True):
            row += part
    return rows


def _bar(bar: StaffBar, width: int, voices: int, *, has_marks: bool) -> list[Row]:
    score = bar.score
    room = width - 2  # a bar line, and a blank behind it
    length = score.quarters

    def column(start: Fraction) -> int:
        return int(start / length * room)

    symbols, beats, fingers, marks = ([" "] * room for _ in range(4))
    under = [[" "] * room for _ in range(voices - 1)]
    for symbol in score.symbols:
        words = "N.C." if symbol.chord is None else symbol.chord.root.name if symbol.root_only else symbol.chord.symbol
        _put(symbols, column(symbol.start), signs(words) + ("…" if symbol.root_only else ""))
    pulse = Fraction(score.meter.pulse_ticks, 960)
    for number in range(score.meter.pulses):
        _put(beats, column(number * pulse), str(number + 1))
    names: Row = []
    struck = 0
    for span in score.melody:
        wide = column(span.end) - column(span.start)
        is_struck = isinstance(span.what, Sung) and not span.what.from_before
        if is_struck:
            finger = bar.fingers[struck] if struck < len(bar.fingers) else ""
            _put(fingers, column(span.start), finger if len(finger) < wide else finger[-1:])
            _put(marks, column(span.start), _mark_words(bar.marks[struck] if struck < len(bar.marks) else None, wide))
            for cells, pitch in zip(under, reversed(span.what.under), strict=False):
                _put(cells, column(span.start), (signs(pitch.tone.name) + str(pitch.octave))[: max(1, wide)])
            struck += 1
        is_now = bar.now is not None and bar.now[0] <= span.start < bar.now[1]
        names.append((_name(span, wide), "now" if is_now and is_struck else "strong" if is_struck else "dim"))
    return [
        [("│ ", "dim"), ("".join(symbols), "strong")],
        [("│ ", "dim"), ("".join(beats), "dim")],
        [("│ ", "dim"), *names],
        *([("│ ", "dim"), ("".join(cells), "plain")] for cells in under),
        [("│ ", "dim"), ("".join(fingers), "plain")],
        *([[("│ ", "dim"), ("".join(marks), "plain")]] if has_marks else []),
    ]


def _mark_words(mark: Pitch | str | None, width: int) -> str:
    """ "D♯ slides", "D♯→", "tremolo", "fill"; shorter where there is less room, as what is cut off tells nothing."""
    if mark is None:
        return ""
    words = (
        (f"{signs(mark.tone.name)} slides", f"{signs(mark.tone.name)}→") if isinstance(mark, Pitch) else (mark, mark[0])
    )
    return next((each for each in words if len(each) < width), "")


def _put(cells: list[str], column: int, text: str) -> None:
    for place, sign in enumerate(text, column):
        if place < len(cells):
            cells[place] = sign


def _name(span: Span, width: int) -> str:
    """The name, and a line for as long as the note lasts; a blank before what follows, and for what is hidden, which is no rest."""
    if span.what is HIDDEN:
        return " " * width
    if not isinstance(span.what, Sung):
        return _REST.ljust(width)[:width]
    name = "" if span.what.from_before else signs(span.what.pitch.tone.name) + str(span.what.pitch.octave)
    held = name.ljust(width - (0 if span.what.goes_on else 1), _HOLD)
    return held.ljust(width)[:width]
