"""The values of a chart file by themselves: their types, the lines they stand on, and the faults found so far.

Faults are collected, never raised: a value at fault counts as absent, so that one mistake is told once and all the
others are still found.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, TypeVar

from companion.base.text import nearest, quoted
from companion.chart.source_map import SourceMap
from companion.errors import Fault
from companion.theory.meter import Meter

T = TypeVar("T")

DEFAULT_TEMPO_BPM = 120.0
DEFAULT_METER = Meter(4, 4)
SLOWEST_BPM, FASTEST_BPM = 20, 400


class ValueReader:
    """Reads one file's data. path: as the faults name it; data: what tomllib made of it. `faults` fills as it reads."""

    def __init__(self, path: str, data: dict[str, Any], sources: SourceMap) -> None:
        self.path = path
        self.data = data
        self.sources = sources
        self.faults: list[Fault] = []

    def fault(self, at: tuple[str, ...], message: str) -> None:
        """Note a fault of the value at `at`; one within a section's table names the section."""
        section = at[1] if at[:1] == ("section",) and len(at) > 2 else ""
        self.faults.append(Fault(self.path, self.sources.line(at), message, section))

    def value(self, at: tuple[str, ...]) -> Any:
        """What stands at a path, None for nothing."""
        table: Any = self.data
        for name in at:
            if isinstance(table, list):
                table = table[int(name)] if name.isdecimal() else None  # a list stands where a table should
            else:
                table = table.get(name) if isinstance(table, dict) else None
        return table

    def leaves(self, at: tuple[str, ...], expected: str) -> Iterable[tuple[tuple[str, ...], Any]]:
        """Path and value of everything in the table at `at`; A.1.1 without quotes makes nested tables, read alike."""
        return _leaves(at, self.typed(at, dict, expected) or {})

    def typed(self, at: tuple[str, ...], kind: type | tuple[type, ...], expected: str, needed: bool = False) -> Any:
        """The value at `at`; None with a fault where it has another type, or is missing though needed."""
        value = self.value(at)
        if value is None:
            if needed:
                self.fault(at, f"{at[-1]} is missing; expected {expected}")
        elif not isinstance(value, kind) or isinstance(value, bool):
            self.fault(at, f"{at[-1]} is {show_value(value)}; expected {expected}")
            return None
        return value

    def parsed(self, at: tuple[str, ...], parse: Callable[[str], T], expected: str) -> T | None:
        """A key or a meter; the song needs both, a section neither."""
        text = self.typed(at, str, f"{expected}, in quotes", needed=len(at) == 1)
        if text is None:
            return None
        try:
            return parse(text)
        except ValueError:
            self.fault(at, f"{quoted(text)} is not {expected.partition(' such')[0]}; expected {expected}")
            return None

    def unknown_keys(self, at: tuple[str, ...], table: dict[str, Any], known: tuple[str, ...], owner: str) -> None:
        """Note a fault for each key of a table that is not one of `known`."""
        for name in table:
            if name not in known:
                self.fault((*at, name), f"{quoted(name)} is not a key of {owner}; {nearest(name, known)}")

    def tempo_bpm(
        self, at: tuple[str, ...] = ("tempo",), default: float = DEFAULT_TEMPO_BPM, expected: str = ""
    ) -> float:
        """The tempo in pulses a minute; the default where it is left out or at fault."""
        expected = expected or f"a number from {SLOWEST_BPM} to {FASTEST_BPM}, such as 126"
        tempo = self.typed(at, (int, float), expected)
        if tempo is None:
            return default
        if not SLOWEST_BPM <= tempo <= FASTEST_BPM:  # not a number compares as outside
            self.fault(at, f"tempo is {show_value(tempo)}; expected {expected}")
            return default
        return float(tempo)


def _leaves(at: tuple[str, ...], table: dict[str, Any]) -> Iterable[tuple[tuple[str, ...], Any]]:
    stack = [(at, table)]
    while stack:
        at, value = stack.pop()
        if isinstance(value, dict):
            stack += [((*at, name), inner) for name, inner in reversed(value.items())]
        else:
            yield at, value


def show_value(value: Any) -> str:
    """A value of any type, as a fault names it."""
    if isinstance(value, (dict, list)):
        return "a table" if isinstance(value, dict) else "a list"
    return quoted(value) if isinstance(value, str) else str(value)[:40].lower()
