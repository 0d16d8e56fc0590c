"""What a terminal may send, cut into messages. Outside: Textual's own table of keys, ECMA-48 and xterm's ctlseqs."""

from __future__ import annotations

import random

import pytest
from textual import events
from textual._ansi_sequences import ANSI_SEQUENCES_KEYS
from textual._xterm_parser import XTermParser
from textual.message import Message

from companion.tui.terminal_input import MOST_COLUMNS, MOST_PASTED, PASTE_QUIET_S, TerminalInput

SEED = 61


def said(*pieces: bytes) -> list[str]:
    """Keys by their names and pastes by their text, of bytes that come in pieces and are followed by silence."""
    terminal = TerminalInput()
    messages = [message for number, piece in enumerate(pieces) for message in terminal.feed(piece, number / 1000)]
    messages += terminal.tick(9.0)
    return [named(message) for message in messages]


def named(message: Message) -> str:
    """A key's name, a paste's text, or what kind of message it is."""
    return message.key if isinstance(message, events.Key) else getattr(message, "text", type(message).__name__)


def test_each_key_is_the_one_that_textual_knows():
    """Whole, and byte by byte as over a slow line."""
    for sequence in ANSI_SEQUENCES_KEYS:
        parser = XTermParser()
        expected = [named(message) for message in (*parser.feed(sequence), *parser.feed(""))]
        data = sequence.encode()
        if not sequence.endswith("\x1b"):  # which would be alt+x
            assert said(data + b"x") == [*expected, "x"], sequence
        assert said(data) == said(*(bytes([byte]) for byte in data)) == expected, sequence


@pytest.mark.parametrize(
    "data",
    [
        b"\xe9",  # é of Latin-1
        b"\xff",
        b"\xed\xa0\x80",  # half of a surrogate pair
        b"\x1b[M \xe9\xc3",  # mouse report beyond column 95 (xterm, "X10 compatibility mode")
        b"\x1b[1114112u",  # one above the last sign of Unicode
        b"\x1b[55296u",
        b"\x1b[97;;1114112u",
        b"\x1b[97:65u",
        b"\x1b[" + b"7" * 5000 + b"u",
        b"\x1b[" + b"7" * 5000 + b"~",
        b"\x1b[48;99999;99999;0;0t",
        b"\x1b[48;0;0;0;0t",
        b"\x1b[<0;" + b"9" * 5000 + b";1M",
        b"\x1b[12 3m",
        b"\x1b[?99;9$y",
    ],
)
def test_what_cannot_be_is_dropped_and_the_next_key_heard(data):
    assert said(data + b"q") == ["q"]
    assert said(*(bytes([byte]) for byte in data), b"q") == ["q"]


def test_a_letter_cut_off_by_a_blank():
    assert said(b"\xc3 q") == ["space", "q"]


def test_a_letter_of_two_bytes_that_come_apart():
    assert said(b"\xc3", b"\xa9") == ["é"]


@pytest.mark.parametrize(("data", "keys"), [(b"\x1b", ["escape"]), (b"\x1b[", ["left_square_bracket"])])
def test_a_key_that_begins_like_a_sequence_is_known_by_the_silence(data, keys):
    assert said(data) == keys


def test_a_sequence_cut_off_is_dropped():
    assert said(b"\x1b[12;") == []


def test_a_size_is_told():
    terminal = TerminalInput()
    (message,) = terminal.feed(b"\x1b[48;24;80;0;0t", 0.0)
    assert isinstance(message, events.Resize) and message.size == (80, 24)
    assert not terminal.feed(f"\x1b[48;24;{MOST_COLUMNS + 1};0;0t".encode(), 0.0)
    assert not terminal.feed(b"\x1b[<0;5;5M", 0.0), "no pixels were named, so none can be counted"


def test_a_paste_is_one_message_whatever_stands_in_it():
    text = "\x1b[A|\x1b" * 10_000 + "é"
    data = b"\x1b[200~" + text.encode() + b"\x1b[201~q"
    assert said(data) == [text, "q"]
    assert said(data[:30_000], data[30_000:-4], data[-4:]) == [text, "q"]


def test_a_paste_without_an_end_is_over_after_a_second():
    terminal = TerminalInput()
    assert not terminal.feed(b"\x1b[200~Dm7", 0.0)
    assert not terminal.tick(PASTE_QUIET_S - 0.01)
    (paste,) = terminal.tick(PASTE_QUIET_S)
    assert isinstance(paste, events.Paste) and paste.text == "Dm7"
    (key,) = terminal.feed(b"q", 1.1)
    assert isinstance(key, events.Key) and key.key == "q"


def test_a_paste_without_an_end_is_over_though_keys_are_pressed():
    terminal = TerminalInput()
    terminal.feed(b"\x1b[200~", 0.0)
    heard = []
    for step in range(1, 80):
        heard += [*terminal.feed(b"q", step / 10), *terminal.tick(step / 10)]
    assert isinstance(heard[-1], events.Key)


def test_a_paste_is_not_kept_beyond_measure():
    terminal = TerminalInput()
    terminal.feed(b"\x1b[200~", 0.0)
    for _ in range(300):
        terminal.feed(b"x" * 8192, 0.0)
    (paste,) = terminal.feed(b"\x1b[201~", 0.0)
    assert isinstance(paste, events.Paste) and paste.text == "x" * MOST_PASTED


def random_bytes(chance: random.Random) -> bytes:
    """Bytes at random, half of them out of what sequences are made of."""
    pieces = (
        b"\x1b",
        b"\x1b[",
        b"\x1b[M",
        b"\x1b[<",
        b"\x1b[200~",
        b"\x1b[201~",
        b"\x1bO",
        b"0",
        b";",
        b"9",
        b":",
        b"u",
        b"t",
        b"48",
    )
    return b"".join(
        chance.choice(pieces) if chance.random() < 0.5 else bytes([chance.randrange(256)])
        for _ in range(chance.randint(1, 24))
    )


def test_bytes_at_random(deep):
    """Whatever comes, the next key after a while is heard."""
    chance, terminal = random.Random(SEED), TerminalInput()
    now_s = 0.0
    for _ in range(100_000 if deep else 5_000):
        data = random_bytes(chance)
        terminal.feed(data, now_s)
        terminal.tick(now_s + 9)
        now_s += 10
        heard = [message.key for message in terminal.feed(b"q", now_s) if isinstance(message, events.Key)]
        assert heard == ["q"], data
