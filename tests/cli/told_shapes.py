"""What `companion practise --json` and `companion play --json` tell, kind by kind: exactly these keys, as their help says."""

from __future__ import annotations

from typing import Any

BAR = ("section", "bar", "number", "chords")
WORDS_ALONE = ("asks", "fault", "rest", "said", "shells", "stopped", "left")
SHAPES = {
    "sound": ("output",),
    "song": ("id", "title", "key", "meter", "tempo", "loop", "hands", "way"),
    "drill": ("way", "finished"),
    "begins": ("tempo", *BAR),
    "bar": ("pass", *BAR),
    "chart": BAR,
    "look": BAR,
    "waits": BAR,
    "pass": (
        *("heard", "fact", "way", "loop", "tempo", "right", "clean", "slipped", "says", "drill", "finished"),
    ),
    "item": ("number", "minutes", "done", "kind", "song", "head"),
    "key": ("key",),
    "loop": ("loop", "bars"),
    "tempo": ("tempo",),
    "volume": ("voice", "percent"),
    "untold": ("count",),
    "shell": ("shell", "notes", "costs"),
    "chord": ("symbol", "notes", "fingers"),
    "help": ("line",),
    **dict.fromkeys(WORDS_ALONE, ()),
}  # fmt: skip


def check(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The rows again, once each has its shape."""
    for row in rows:
        assert tuple(row) == ("told", "words", *SHAPES[row["told"]]), row
        for chord in row.get("chords", ()):
            assert tuple(chord) == ("symbol", "shell", "notes"), row
        for bar in row.get("slipped", ()):
            assert tuple(bar) == ("section", "bar", "number", "verdict"), row
    return rows
