"""How the stand shares the rows of a window, from one row upwards."""

from __future__ import annotations

# From top to bottom. "need": what the chosen hands need, see draw.need.
PARTS = ("beat", "now", "need", "chart", "title", "state", "foot")

LINES = -1  # as many rows as the chart has lines
_TWICE = -2  # and as many again, for the shells below them
_FIRST, _SAYS = (
    4,
    6,
)  # steps of the growth before anything has more than a row, and before there is room for what is said
# (part, rows it then has): taken in order while the rows last. What matters most to busy hands comes first.
_GROWTH = (
    ("now", 1),
    ("beat", 1),
    ("chart", 1),
    ("foot", 1),
    ("now", 5),  # its smallest large letters
    ("beat", 2),
    ("now", 6),
    ("chart", 2),
    ("need", 5),
    ("title", 1),
    ("state", 1),
    ("now", 9),
    ("need", 7),
    ("chart", 4),
    ("chart", LINES),  # letters grow no further while the form is cut
    ("now", 13),
    ("need", 9),
    ("chart", _TWICE),
    ("now", 17),
    ("beat", 3),
    ("need", 11),
)


def share_rows(
    height: int,
    chart_lines: int,
    tells: bool = False,
    *,
    beat: bool = True,
    need: bool = True,
    need_rows: int | None = None,
) -> dict[str, int]:
    """Rows for each part. chart_lines: lines of the whole chart; it never gets more than two rows for each. tells: what was played is told,
    and takes the room of what the hands need too. beat, need: whether there are these parts. need_rows: that what the hands need
    must have before anything grows, and no more is of use to it; None where it grows with the window."""
    rows = dict.fromkeys(PARTS, 0)
    left = max(0, height)
    most = 2 * chart_lines
    gone = {part for part, there in (("beat", beat), ("need", need)) if not there}
    growth: tuple[tuple[str, int], ...] = _GROWTH
    if need_rows is not None:
        after = ("need", need_rows), *_GROWTH[_FIRST:_SAYS], ("state", 1)
        growth = (*_GROWTH[:_FIRST], *after, *(step for step in _GROWTH[_SAYS:] if step[0] != "need"))
    for part, wanted in growth:
        if part in gone:
            continue
        if wanted < 0:
            more = min(left, -wanted * chart_lines - rows[part])
        else:
            more = (min(wanted, most) if part == "chart" else wanted) - rows[part]
        if 0 < more <= left:
            rows[part] += more
            left -= more
    rows["now"] += left
    if tells:
        rows["now"], rows["need"] = rows["now"] + rows["need"], 0
    return rows
