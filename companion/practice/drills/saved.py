"""Reading back what a drill was saved as. Damaged data gets one sentence (LogError) and never a half-built state."""

from __future__ import annotations

import json
from typing import Any

from companion.base.rules import Rule
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
        """The error to raise."""
        return LogError(f"The saved {self.what} is damaged: {why}.")

    def take(self, name: str, rule: Rule | None = None) -> Any:
        """The field, held to a rule where one is given. Raises LogError."""
        if name not in self.fields:
            raise self.damaged(f"{name!r} is missing")
        value = self.fields[name]
        return value if rule is None else self._read(name, value, rule)

    def takes(self, name: str, rule: Rule, count: int | None = None) -> tuple[Any, ...]:
        """A list of `count` values, each held to the rule. Raises LogError."""
        values = tuple(self._read(name, value, rule) for value in self.rows(name))
        if count not in (None, len(values)):
            raise self.damaged(f"{name!r} should be a list of {count}")
        return values

    def rows(self, name: str) -> list[Any]:
        """A list whose values are still to be looked at. Raises LogError."""
        value = self.take(name)
        if not isinstance(value, list):
            raise self.damaged(f"{name!r} should be a list")
        return value

    def _read(self, name: str, value: Any, rule: Rule) -> Any:
        try:
            return rule.read(value)
        except (ValueError, TypeError):
            raise self.damaged(f"{name!r} should be {rule.expected}") from None
