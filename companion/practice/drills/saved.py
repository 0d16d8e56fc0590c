"""Drills as text, so that they survive quitting in the middle. `msgspec` reads and writes them by the types of their fields; damaged text
gets one sentence (LogError) and never a half-built state."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from companion.errors import LogError

T = TypeVar("T")


def to_text(state: Any, *rows: str) -> str:
    """A data class as JSON. rows: its fields that hold a data class many times, each then written as the list of its values."""
    import msgspec  # imported where it is used: 6 ms

    fields = msgspec.to_builtins(state, order="deterministic")
    return json.dumps(fields | {name: [list(row.values()) for row in fields[name]] for name in rows})


def from_text(text: str, kind: type[T], what: str, fits: Callable[[T], bool], rows: Mapping[str, tuple[str, ...]]) -> T:
    """The data class that to_text wrote. what: words for the message, such as "climb". fits: whether the values are such that can be.
    rows: field -> names of the values in its rows. Raises LogError where the text is damaged."""
    import msgspec

    try:
        fields = json.loads(text)
        fields |= {name: [dict(zip(names, row, strict=True)) for row in fields[name]] for name, names in rows.items()}
        state = msgspec.convert(fields, kind)
    except (ValueError, TypeError, LookupError, RecursionError, msgspec.ValidationError) as error:
        raise LogError(f"The saved {what} is damaged: {str(error).rstrip('.')}.") from None
    if not fits(state):
        raise LogError(f"The saved {what} is damaged: its figures do not fit together.")
    return state
