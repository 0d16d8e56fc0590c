"""What a terminal sends, cut into whole signs before Textual's parser sees it, so that nothing it could stumble over gets there.

Cut by ECMA-48 (control functions, 5.4) and xterm's ctlseqs ("PC-Style Function Keys", "Mouse Tracking", "Bracketed Paste Mode").
Dropped: bytes that are no UTF-8, control sequences that are broken or name what cannot be, mouse reports of the old kind (their bytes
beyond column 95 are no text). A paste is one message, whatever stands in it, and ends after a while even where its end never comes.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator

from textual import constants, events
from textual._xterm_parser import XTermParser
from textual.message import Message

PASTE_QUIET_S, PASTE_MOST_S = 1.0, 5.0  # a paste is over after so long without a byte, or so long in all
MOST_PASTED = 1 << 20  # bytes; a whole book of songs is less
MOST_COLUMNS, MOST_ROWS = 1000, 400  # more than the finest type on a wide screen

_PASTE_BEGIN, _PASTE_END = b"\x1b[200~", b"\x1b[201~"
_LONGEST = 32  # bytes of a control sequence; Textual's parser gives up beyond
_LARGEST = 99_999  # of a number in one: a coordinate in pixels
_TOKEN = re.compile(
    rb"(?P<dropped>\x1b\[M.{3})"  # mouse report of the old kind
    rb"|(?P<sequence>\x1b\[\[[ -~]|\x1b\[\d\d?\$|\x1b\[(?![M\[])[ -?]*+[@-~]|\x1bO[ -~])"  # Linux console, rxvt, CSI, SS3
    rb"|(?P<broken>\x1b\[(?!M)\[?[ -?]*+(?=[^ -~])|\x1bO(?=[^ -~])|\x1b[\xc2-\xf4](?=[^\x80-\xbf]))"
    rb"|(?P<alt>\x1b(?:[^\x1b\[O\x80-\xff]|[\xc2-\xf4][\x80-\xbf]{1,3}))"
    rb"|(?P<escape>\x1b(?=[\x1b\x80-\xc1\xf5-\xff]))"
    rb"|(?P<text>[^\x1b]+)",
    re.DOTALL,
)
_NUMBER = re.compile(rb"\d+")
_SIZE = re.compile(rb"\x1b\[48;(\d+)[^;]*;(\d+)")


class TerminalInput:
    """feed: bytes as they come. tick: now and then, as a lone escape and a paste without an end are known by the silence after.
    Both give the messages for the app; now_s: seconds of any steady clock."""

    def __init__(self) -> None:
        self._parser = XTermParser()
        self._decoder = codecs.getincrementaldecoder("utf-8")("ignore")
        self._pending = b""
        self._pasted: bytearray | None = None
        self._came_s = self._paste_began_s = 0.0

    def feed(self, data: bytes, now_s: float) -> list[Message]:
        """What the bytes that came come to, in order. now_s: by any clock that only goes on."""
        self._came_s = now_s
        self._pending += data
        return list(self._cut())

    def tick(self, now_s: float) -> list[Message]:
        """What is over because nothing more came: a lone escape, a paste that never ends."""
        quiet_s = now_s - self._came_s
        if self._pasted is not None:
            over = quiet_s >= PASTE_QUIET_S or now_s - self._paste_began_s >= PASTE_MOST_S
            return [self._end_of_paste()] if over else []
        if not self._pending or quiet_s < constants.ESCAPE_DELAY:
            return []
        pending, self._pending = self._pending, b""
        # A key that begins like a sequence (alt+[); what had begun to be one was cut off, and goes.
        return self._at_once(pending) if len(pending) <= 2 else []

    def _cut(self) -> Iterator[Message]:
        """Messages of all that is whole; the rest stays for later."""
        while self._pending:
            if self._pasted is not None:
                yield from self._paste()
                if self._pasted is not None:
                    return
                continue
            token = _TOKEN.match(self._pending)
            if token is None:  # a sequence that has not ended; one too long is not kept, only waited out
                self._pending = self._pending[: _LONGEST + 1]
                return
            self._pending = self._pending[token.end() :]
            yield from self._messages(token.lastgroup or "", token.group())

    def _messages(self, kind: str, token: bytes) -> list[Message]:
        if kind != "text":
            self._decoder.reset()
        if kind == "text":
            return self._read(self._decoder.decode(token))
        if kind == "sequence" and token == _PASTE_BEGIN:
            self._pasted, self._paste_began_s = bytearray(), self._came_s
        elif kind == "sequence" and _is_possible(token):
            return self._read(token.decode("ascii"))
        elif kind in ("alt", "escape"):
            return self._at_once(token)
        return []

    def _read(self, text: str) -> list[Message]:
        """What Textual's parser makes of whole signs. Where it does not know one it would wait for more: a new one takes its place."""
        messages: list[Message] = []
        try:
            messages += self._parser.feed(text)
        except (ValueError, ArithmeticError):  # its numbers name no key
            messages.clear()
        if not messages:
            before, self._parser = self._parser, XTermParser()
            self._parser.last_x, self._parser.last_y = before.last_x, before.last_y
            self._parser.mouse_pixels = before.mouse_pixels
            self._parser.terminal_size, self._parser.terminal_pixel_size = (
                before.terminal_size,
                before.terminal_pixel_size,
            )
        return messages

    @staticmethod
    def _at_once(token: bytes) -> list[Message]:
        """A key alone or with alt, for which Textual's parser needs to know that nothing follows."""
        parser = XTermParser()
        return [*parser.feed(token.decode("utf-8", "ignore")), *parser.feed("")]

    # --- pastes

    def _paste(self) -> Iterator[Message]:
        """Move what came into the paste, up to its end."""
        pasted = self._pasted
        assert pasted is not None
        start = max(0, len(pasted) - len(_PASTE_END) + 1)  # its end may have come in two pieces
        pasted += self._pending
        end = pasted.find(_PASTE_END, start)
        if end < 0:
            self._pending = b""
            if len(pasted) > MOST_PASTED:
                del pasted[MOST_PASTED : -len(_PASTE_END)]
            return
        self._pending = bytes(pasted[end + len(_PASTE_END) :])
        del pasted[end:]
        yield self._end_of_paste()

    def _end_of_paste(self) -> Message:
        pasted, self._pasted = self._pasted or bytearray(), None
        return events.Paste(pasted[:MOST_PASTED].decode("utf-8", "ignore").replace("\x00", ""))


def _is_possible(sequence: bytes) -> bool:
    """Whether the numbers in a control sequence may be handed on: no endless ones, no sign that Unicode has not, no size of a
    terminal that nobody has."""
    if len(sequence) > _LONGEST:
        return False
    numbers = [int(number) for number in _NUMBER.findall(sequence)]
    if size := _SIZE.match(sequence):
        rows, columns = map(int, size.groups())
        return 0 < rows <= MOST_ROWS and 0 < columns <= MOST_COLUMNS and max(numbers) <= _LARGEST
    if sequence.endswith(b"u"):  # the keyboard protocol: numbers are signs
        return all(number < 0xD800 or 0xDFFF < number <= 0x10FFFF for number in numbers)
    return all(number <= _LARGEST for number in numbers)
