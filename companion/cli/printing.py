"""What the commands print, in one place: as text or as JSON, and made fit for a terminal, as names of files and what the system says may hold
anything."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable
from fractions import Fraction
from typing import TYPE_CHECKING, Any, TextIO

from companion.base.text import shown

if TYPE_CHECKING:
    import argparse


class EscapingStream:
    """A text stream that spells out whatever could steer a terminal; the line ends of lines and of tables stay (RFC 4180)."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        """As of any text stream; returns how much was written, spelled out."""
        return self._stream.write("\r\n".join(map(shown, text.split("\r\n"))))

    def writelines(self, lines: Iterable[str]) -> None:
        """As of any text stream."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


def print_result(options: argparse.Namespace, as_json: Callable[[], Any], as_text: Callable[[], str]) -> None:
    """What a command found: for a program where that is asked for (`arguments.add_json`), else for a person."""
    if options.json:
        print_json(as_json())
    elif text := as_text():
        print(text)


def print_json(data: Any, *, in_a_line: bool = False) -> None:
    """As JSON (RFC 8259), with the signs of names as they are."""
    print(json.dumps(data, ensure_ascii=False, indent=None if in_a_line else 1))


def print_aside(messages: Iterable[str]) -> None:
    """What there is to say beside the result, each once."""
    for message in dict.fromkeys(messages):
        print(message, file=sys.stderr)


def plain(value: Fraction) -> int | float:
    """A fraction as JSON has numbers."""
    return int(value) if value.denominator == 1 else float(value)
