"""How the stand shares the rows of a window, from one row upwards."""

from __future__ import annotations

PARTS = ("title", "beat", "chart", "now", "keyboard", "state", "foot")

WHOLE = 10**6
# (part, rows it then has): taken in order while the rows last. What matters most to busy hands comes first.
_GROWTH = (
    ("now", 1),
    ("beat", 1),
    ("chart", 1),
    ("foot", 1),
    ("now", 6),
    ("chart", 2),
    ("keyboard", 5),
    ("title", 1),
    ("state", 1),
    ("now", 9),
    ("chart", 4),
    ("keyboard", 6),
    ("chart", 8),
    ("keyboard", 8),
    ("chart", WHOLE),  # letters grow no further while the form is cut
    ("now", 12),
    ("keyboard", 10),
    ("now", 16),
)


def share_rows(height: int, chart_lines: int, tells: bool = False) -> dict[str, int]:
    """Rows for each part. chart_lines: lines of the whole chart; it never gets more than two rows for each. tells: what was played is told,
    and takes the keyboard's room too."""
    rows = dict.fromkeys(PARTS, 0)
    left = max(0, height)
    most = 2 * chart_lines
    for part, wanted in _GROWTH:
        more = (min(wanted, most) if part == "chart" else wanted) - rows[part]
        if wanted == WHOLE:
            more = min(more, left)
        if 0 < more <= left:
            rows[part] += more
            left -= more
    rows["now"] += left
    if tells:
        rows["now"], rows["keyboard"] = rows["now"] + rows["keyboard"], 0
    return rows
