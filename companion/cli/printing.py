"""What the commands print, made fit for a terminal in one place: names of files and what the system says may hold anything."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, TextIO

from companion.base.text import shown


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
