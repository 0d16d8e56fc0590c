"""The beat, across the whole width: a mark for each beat of the bar in its place, the first of another shape than the rest. In silence, and
in the dark, it is all there is to go by, so it is large enough for the corner of an eye."""

from __future__ import annotations

from companion.tui.draw.row import Row, cut
from companion.tui.draw.view import View

_REST = "▁"  # where a beat is to come


def draw_beat(view: View, width: int, height: int) -> list[Row]:
    """The beats of the stand's bar in exactly `height` rows."""
    if view.playing and view.beat is not None:
        return beat_rows(view.beat.pulses, view.beat.pulse, width, height)
    return beat_rows(view.stand.bars[view.here].meter.pulses, None, width, height)


def beat_rows(pulses: int, sounding: int | None, width: int, height: int) -> list[Row]:
    """The beats in exactly `height` rows. The one that sounds (from 0, None for none) is solid, with its number at its foot: the first as wide
    as its place, the others half as wide. The rest are numbers on a line as wide as they will be."""
    if width <= 0 or height <= 0:
        return []
    place = max(1, width // pulses)
    upper: Row = []
    foot: Row = []
    for pulse in range(pulses):
        size = place - 1 if pulse == 0 else max(1, (place - 1) // 2)
        gap = (" " * (place - size), "plain")
        mark, number = str(pulse + 1), pulse == sounding
        upper += [("█" * size if number else " " * size, "beat"), gap]
        foot += [(_with_number(mark, size, "█" if number else _REST), "beat" if number else "dim"), gap]
    return [cut(upper, width) for _ in range(height - 1)] + [cut(foot, width)]


def _with_number(number: str, size: int, line: str) -> str:
    """ "███ 2 ███"; the number alone where there is no room."""
    text = f" {number} " if size >= len(number) + 4 else number
    return text.center(size, line)[:size]
