"""On which line of a chart file every key, and every character of every text, stands.

The standard library's tomllib gives values without lines, and a fault without its line is of little use to someone who
typed forty bars. So the text is walked once more here. It must already have been accepted by tomllib: this walk
looks for lines only and trusts the grammar (TOML 1.0, https://toml.io/en/v1.0.0).

Lines count from 1. A path is the tuple of key names from the top: ("section", "A", "bars"); tables in double brackets
count from 0: ("lesson", "step", "0", "tempo").
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass

_TOKEN = re.compile(
    r"""
      (?P<skip>[ \t]+|\#[^\n]*)
    | (?P<newline>\n)
    | (?P<text>\"{3}(?:[^"\\]|\\.|"{1,2}(?!"))*"{3,5} | '{3}(?:[^']|'{1,2}(?!'))*'{3,5}
             | "(?:[^"\\\n]|\\.)*" | '[^'\n]*')
    | (?P<bare>[A-Za-z0-9_-]+)
    | (?P<sign>.)
    """,
    re.VERBOSE | re.DOTALL,
)
_CONTINUED = re.compile(r"\\[ \t]*\n[ \t\n]*")  # a backslash at the end of a line joins it to the next word
_ESCAPE = re.compile(r"\\(?:x..|u.{4}|U.{8}|.)", re.DOTALL)
# A chart's deepest key is [shells] A.1.1 without quotes; deeper ones are faults and need no lines of their own.
_MAX_DEPTH = 6


@dataclass(frozen=True, slots=True)
class KeySource:
    """line: of the key. value_line: where its value starts. raw: a text as typed, with its quotes, else ""."""

    line: int
    value_line: int = 0
    raw: str = ""

    def text_lines(self) -> list[int]:
        """The line of each character of the text, once its quotes and escapes are resolved."""
        fence = 3 if self.raw[:3] in ('"""', "'''") else 1
        body, line = self.raw[fence:-fence], self.value_line
        if fence == 3 and body.startswith("\n"):
            body, line = body[1:], line + 1
        if self.raw.startswith("'"):
            pieces = list(body)
        else:
            pieces = _unescaped(body)
        lines = []
        for piece in pieces:
            if not _CONTINUED.fullmatch(piece):
                lines.append(line)
            line += piece.count("\n")
        return lines


def _unescaped(body: str) -> list[str]:
    """The raw spelling of each character; a joined line end stands as one piece that is no character."""
    pieces, at = [], 0
    while at < len(body):
        match = (_CONTINUED.match(body, at) or _ESCAPE.match(body, at)) if body[at] == "\\" else None
        pieces.append(match[0] if match else body[at])
        at += len(pieces[-1])
    return pieces


class SourceMap:
    """The lines of one file; `line(path)` falls back on the table that holds the key, then on 0: the whole file."""

    def __init__(self, text: str) -> None:
        self._sources: dict[tuple[str, ...], KeySource] = {}
        for path, source in _keys(text):
            for depth in range(1, min(len(path), _MAX_DEPTH)):
                self._sources.setdefault(path[:depth], KeySource(source.line))
            if len(path) <= _MAX_DEPTH:
                self._sources[path] = source

    def line(self, path: tuple[str, ...]) -> int:
        """The line of the key at a path, or of the table that holds it; 0 for the whole file."""
        for depth in range(len(path), 0, -1):
            if path[:depth] in self._sources:
                return self._sources[path[:depth]].line
        return 0

    def text_lines(self, path: tuple[str, ...], text: str) -> list[int]:
        """The line of each character of the text that tomllib read at `path`."""
        source = self._sources.get(path)
        lines = source.text_lines() if source and source.raw else []
        # A text inside an inline table has no line of its own: all of it then stands on the table's line.
        return lines if len(lines) == len(text) else [self.line(path)] * len(text)


def _keys(text: str) -> Iterator[tuple[tuple[str, ...], KeySource]]:
    """Every table head and every key with its lines, in the order of the file."""
    table: tuple[str, ...] = ()
    counts: dict[tuple[str, ...], int] = {}  # of tables in double brackets
    for statement in _statements(text):
        kind, sign, line = statement[0]
        if kind == "sign" and sign == "[":
            *within, name = _names(statement)
            table = _numbered((*within, name), counts)
            if statement[1][:2] == ("sign", "["):
                table = (*_numbered(tuple(within), counts), name)
                counts[table] = counts.get(table, -1) + 1
                table += (str(counts[table]),)
            yield table, KeySource(line)
            continue
        equals = next(at for at, token in enumerate(statement) if token[1] == "=")
        value_kind, value, value_line = statement[equals + 1]
        yield table + _names(statement[:equals]), KeySource(line, value_line, value if value_kind == "text" else "")


def _numbered(names: tuple[str, ...], counts: dict[tuple[str, ...], int]) -> tuple[str, ...]:
    """The path with the number of the table last opened behind every name of tables in double brackets."""
    path: tuple[str, ...] = ()
    for name in names[:_MAX_DEPTH]:
        path += (name,)
        if path in counts:
            path += (str(counts[path]),)
    return path + names[_MAX_DEPTH:]


def _statements(text: str) -> Iterator[list[tuple[str, str, int]]]:
    """Table heads and `key = value` lines as lists of (kind, token, line); brackets hold several lines together."""
    statement: list[tuple[str, str, int]] = []
    line, depth = 1, 0
    for match in _TOKEN.finditer(text):
        kind, token = match.lastgroup or "", match[0]
        if kind == "newline" and depth == 0 and statement:
            yield statement
            statement = []
        elif kind not in ("newline", "skip"):
            statement.append((kind, token, line))
            if kind == "sign":
                depth += (token in "[{") - (token in "]}")
        line += token.count("\n")
    if statement:
        yield statement


def _names(tokens: list[tuple[str, str, int]]) -> tuple[str, ...]:
    """The parts of a dotted key, quotes resolved."""
    return tuple(
        token if kind == "bare" else tomllib.loads(f"name = {token}")["name"]
        for kind, token, _ in tokens
        if kind in ("bare", "text")
    )
