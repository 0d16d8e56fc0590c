"""Reading back what a drill was saved as. Damaged data gets one sentence (LogError) and never a half-built state."""

from __future__ import annotations

import json
import math
from typing import Any

from companion.errors import LogError


class Saved:
    """The fields of one saved JSON object, each checked as it is taken. what: words for the message, such as "fading
    drill"."""

    def __init__(self, text: str, what: str) -> None:
        self.what = what
        try:
            self.fields = json.loads(text)
        except (ValueError, TypeError, RecursionError):
            self.fields = None
        if not isinstance(self.fields, dict):
            raise self.damaged("it is not a JSON object")

    def damaged(self, why: str) -> LogError:
        return LogError(f"The saved {self.what} is damaged: {why}.")

    def take(self, name: str) -> Any:
        if name not in self.fields:
            raise self.damaged(f"{name!r} is missing")
        return self.fields[name]

    def number(self, name: str, low: float, high: float = math.inf) -> float:
        return self._number(name, self.take(name), low, high)

    def numbers(self, name: str, low: float, high: float = math.inf, count: int | None = None) -> tuple[float, ...]:
        return tuple(self._number(name, value, low, high) for value in self.list(name, count))

    def whole(self, name: str, low: int, high: float = math.inf) -> int:
        return self._whole(name, self.take(name), low, high)

    def wholes(self, name: str, low: int, high: float = math.inf, count: int | None = None) -> tuple[int, ...]:
        return tuple(self._whole(name, value, low, high) for value in self.list(name, count))

    def flag(self, name: str) -> bool:
        return self._flag(name, self.take(name))

    def flags(self, name: str, count: int | None = None) -> tuple[bool, ...]:
        return tuple(self._flag(name, value) for value in self.list(name, count))

    def one_of(self, name: str, choices: tuple[str, ...]) -> str:
        value = self.take(name)
        if value not in choices:
            raise self.damaged(f"{name!r} should be one of {', '.join(choices)}")
        return value

    def list(self, name: str, count: int | None = None) -> list:
        value = self.take(name)
        if not isinstance(value, list) or count not in (None, len(value)):
            raise self.damaged(f"{name!r} should be a list" + ("" if count is None else f" of {count}"))
        return value

    def _number(self, name: str, value: Any, low: float, high: float) -> float:
        if (
            isinstance(value, bool)
            or not isinstance(value, int | float)
            or not low <= value <= high
            or value == math.inf
        ):
            raise self.damaged(f"{name!r} should be a number {_range(low, high)}")
        return float(value)

    def _whole(self, name: str, value: Any, low: int, high: float) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise self.damaged(f"{name!r} should be a whole number {_range(low, high)}")
        return value

    def _flag(self, name: str, value: Any) -> bool:
        if not isinstance(value, bool):
            raise self.damaged(f"{name!r} should be true or false")
        return value


def _range(low: float, high: float) -> str:
    return f"from {low:g}" + ("" if high == math.inf else f" to {high:g}")
