"""Ids of songs: the stems of their files, on every system."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from itertools import chain

from companion.base.files import is_device_name

_LONGEST = 60
# Letters that Unicode does not take apart into one with an accent -> what stands for them in an id (common practice).
_LETTERS = str.maketrans(
    {"ß": "ss", "ẞ": "ss", "æ": "ae", "Æ": "ae", "œ": "oe", "Œ": "oe", "ø": "o", "Ø": "o", "đ": "d", "Đ": "d", "ð": "d", "Ð": "d", "þ": "th",
     "Þ": "th", "ł": "l", "Ł": "l", "ı": "i", "'": None, "’": None}
)  # fmt: skip


def song_id(title: str, taken: Iterable[str] = ()) -> str:
    """The id of a song: "Ferry at Half Past Six" -> "ferry-at-half-past-six", "Café" -> "cafe", with a number behind it where that
    is taken, also by one in capitals, which on macOS and Windows is the same file."""
    folded = {name.casefold() for name in taken}
    plain = unicodedata.normalize("NFKD", title.translate(_LETTERS)).encode("ascii", "ignore").decode().lower()
    stem = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:_LONGEST].strip("-") or "song"
    names = chain((stem,), (f"{stem}-{number}" for number in range(2, 10_000)))
    return next(name for name in names if name not in folded and not is_device_name(name))
