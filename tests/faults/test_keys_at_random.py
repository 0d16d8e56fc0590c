"""Whatever keys are pressed: the app does not fall over, nobody is caught in it, and no note goes on sounding."""

from __future__ import annotations

import contextlib
import random
import sys
import time
from collections import deque
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from whole_app import WholeApp, wait_until

from companion.store.settings import load_settings
from companion.tui.actions import ACTIONS

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="looks into /proc")
KEYS, STRINGS, DEEP = 500, 2_000, 100_000
BATCHES = 10  # of a short run; in a long one as large
QUIET_S, BUSY_S = 0.03, 3.0  # a batch is over when the app rests so long, or after so long in any case
LEAVE_S = 90.0
# What a terminal sends (names: Textual; bytes: ctlseqs of xterm, "PC-Style Function Keys").
ESCAPE = "\x1b[27u"  # as the keyboard protocol writes it: a bare escape takes a tenth of a second to be sure of
NAMED = {
    "enter": "\r",
    "escape": ESCAPE,
    "space": " ",
    "tab": "\t",
    "backspace": "\x7f",
    "delete": "\x1b[3~",
    "up": "\x1b[A",
    "down": "\x1b[B",
    "right": "\x1b[C",
    "left": "\x1b[D",
    "home": "\x1b[H",
    "end": "\x1b[F",
    "pageup": "\x1b[5~",
    "pagedown": "\x1b[6~",
    "f1": "\x1bOP",
    "f2": "\x1bOQ",
    "f3": "\x1bOR",
    "f4": "\x1bOS",
    "f5": "\x1b[15~",
    "f6": "\x1b[17~",
    "f7": "\x1b[18~",
    "f8": "\x1b[19~",
    "f9": "\x1b[20~",
    "f10": "\x1b[21~",
    "f11": "\x1b[23~",
    "f12": "\x1b[24~",
}
QUITS = ("q", "f10", "\x11")
BOUND = [key for action in ACTIONS for key in action.keys if key not in QUITS]
TYPED = "abcdefghijklmnoprstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 |%#.:-_+()[]\"'\\,;!?é♭♯"  # no / and no ~: files stay in the folder
PIECES = (
    *(b"\x1b", b"\x1b[", b"\x1b[M", b"\x1b[<", b"\x1b[200~", b"\x1b[201~", b"\x1bO", b"\x1b[48;", b"\x1b[?"),
    *(b"0", b"9", b"27", b"1114112", b"99999", b";", b":", b"u", b"t", b"m", b"M", b"R", b"y", b"A"),
)
STRANGE = (
    "\x1b",
    "\x1b[99;99~",
    "\x1b[?1;2c",
    "\x1bOz",
    "\x1b[1;5A",
    "\x1b[I",
    "\x1b[O",
    "\x1b[Z",
    "\x1bx",
    "\x1b[1;",
    "\x1b[200~",
    "\x1b[201~",
    "\x1b]0;title\x07",
    "\x03",
    "\x1a",
    "\x10",
    "\x00",
    "\x1b[57399u",
    "\x1b[<64;5;5M",
    "\x1b[<65;9;9M",
    "\x1b[<0;999;999M",
    "😀",
)


def keys_at_random(chance: random.Random) -> Iterator[str]:
    """For ever. One of 2,000 leaves the app, so that coming back is tried too."""
    while True:
        what = chance.random()
        if what < 0.0005:
            key = chance.choice(QUITS)
        elif what < 0.70:
            key = chance.choice(BOUND)
        elif what < 0.80:
            key = chance.choice(list(NAMED)[:14])
        elif what < 0.90:
            key = chance.choice(TYPED)
        elif what < 0.92:
            key = "\x1b[200~" + "".join(chance.choices(TYPED + "\n\t\r", k=chance.randint(0, 60))) + "\x1b[201~"
        elif what < 0.96:
            place = f"{chance.randint(1, 80)};{chance.randint(1, 24)}"
            key = f"\x1b[<0;{place}M\x1b[<0;{place}m"
        elif what < 0.98:
            key = ESCAPE
        else:
            key = chance.choice(STRANGE)
        yield NAMED.get(key, key)


def settle(app: WholeApp) -> None:
    """Wait for the app to have drawn what a batch of keys came to."""
    end_s = time.perf_counter() + BUSY_S
    with contextlib.suppress(FileNotFoundError, ProcessLookupError):  # it has left
        before = (0, 0.0)
        while before != (now := (len(app.drawn), app.worked_s())) and time.perf_counter() < end_s:
            before = now
            time.sleep(QUIET_S)


def check_left(app: WholeApp) -> None:
    """It left of its own will and in order, and what it wrote can be read."""
    code = app.code()
    assert code == 0 and not app.exceptions(), f"exit code {code}:\n{app.exceptions()}"
    wait_until(lambda: not app.has_sound(), "end of the sound process")
    app.check_terminal()
    app.check_silence(needs_notes=False)
    app.passes()
    load_settings(app.paths)


def leave(app: WholeApp) -> None:
    """From wherever it is, with the keys that lead out."""
    end_s = time.perf_counter() + LEAVE_S
    while not app.has_left():
        assert time.perf_counter() < end_s, f"no way out:\n{app.screen()}"
        app.press(ESCAPE)
        settle(app)
        app.press(NAMED["f10"])
        settle(app)
        if not app.has_left():  # it plays, and asks; asked again, it ends
            app.press(NAMED["f10"])
            settle(app)


def bytes_at_random(chance: random.Random) -> Iterator[str | bytes]:
    """For ever: strings of bytes, half of them pieces of control sequences. Those that leave the app are rare."""
    loose = [bytes([byte]) for byte in range(256) if bytes([byte]) not in (b"q", b"\x11", b"/", b"~")]
    while True:
        yield b"".join(chance.choice(PIECES if chance.random() < 0.5 else loose) for _ in range(chance.randint(1, 8)))


@pytest.mark.timeout(6 * 3600)
@pytest.mark.parametrize(("inputs", "short"), [(keys_at_random, KEYS), (bytes_at_random, STRINGS)])
def test_inputs_at_random(
    tmp_path: Path, deep: bool, inputs: Callable[[random.Random], Iterator[str | bytes]], short: int
):
    seed = random.SystemRandom().randrange(10**6) if deep else 17
    chosen = inputs(random.Random(seed))
    left, size, last = DEEP if deep else short, short // BATCHES, deque[bytes](maxlen=6)
    try:
        while left > 0:
            with WholeApp(tmp_path) as app:
                app.wait_for("Two Bars")
                while left > 0 and not app.has_left():
                    batch = (next(chosen) for _ in range(size))
                    last.append(b"".join(each.encode() if isinstance(each, str) else each for each in batch))
                    left -= size
                    app.press(last[-1])
                    settle(app)
                leave(app)
                check_left(app)
    except (AssertionError, OSError) as error:
        raise AssertionError(f"seed {seed}, {left} inputs before the end, after {list(last)!r}:\n{error}") from error
