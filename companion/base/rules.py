"""What a value from outside may be: one row a value, read and named in the same words wherever it comes from."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Rule:
    """read: turns what came into ours, or raises ValueError or TypeError. expected: ends the sentence "expected ..."."""

    read: Callable[[Any], Any]
    expected: str


def whole(low: float, high: float = math.inf) -> Rule:
    """A whole number in a range, its ends among it."""

    def read(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            raise TypeError
        if not low <= value <= high:
            raise ValueError
        return value

    return Rule(read, f"a whole number {_range(low, high)}")


def number(low: float, high: float = math.inf) -> Rule:
    """A finite number in a range, its ends among it; "not a number" lies outside of every range."""

    def read(value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise TypeError
        if not low <= value <= high or abs(value) == math.inf:
            raise ValueError
        return float(value)

    return Rule(read, f"a number {_range(low, high)}")


def _range(low: float, high: float) -> str:
    words = [f"{end}" if isinstance(end, int) else f"{end:g}" for end in (low, high)]
    return f"from {words[0]}" + ("" if high == math.inf else f" to {words[1]}")


def one_of(*words: str) -> Rule:
    """One of a few words."""

    def read(value: object) -> str:
        if not isinstance(value, str) or value not in words:
            raise ValueError
        return value

    return Rule(read, "one of " + ", ".join(f'"{word}"' for word in words))


def read_text(value: object) -> str:
    """A text of one line that can be printed. Raises TypeError, ValueError."""
    if not isinstance(value, str):
        raise TypeError
    if not value.isprintable():
        raise ValueError
    return value


def _read_yes_no(value: object) -> bool:
    if not isinstance(value, bool):
        raise TypeError
    return value


TEXT = Rule(read_text, "a text in quotes")
YES_NO = Rule(_read_yes_no, "true or false")
