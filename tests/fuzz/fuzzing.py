"""Feeding a reader inputs by the thousand, and inputs to feed it.

A reader may answer, or raise one of the project's own errors in words that can be shown; nothing else, and soon.
"""

from __future__ import annotations

import contextlib
import signal
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from random import Random
from typing import Any, TypeVar

from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from companion.base.text import is_printable
from companion.errors import CompanionError

DEEP = 100_000
LONGEST_S = 2.0  # of the processor for one input, the neighbours' work not counted
LONGEST_SENTENCE = 4_000  # of one fault; a file's path and what it says are cut or short
_BATCH = 2_000  # hypothesis remembers all that it tried in one run

T = TypeVar("T", str, bytes)
Make = Callable[[Random], T]

# What means something to a terminal, a shell, a template, a markup, a path, or another format.
ODD = (
    "\x1b[31m", "\x1b]52;c;aGk=\x07", "\x9b5n", "\x07", "\x00", "\x7f", "\u202e", "\u200b", "\ufeff", "\u2028", "\ud800",
    "%s%n", "{0.__class__}", "{{7*7}}", "${HOME}", "$(id)", "`id`", "'; drop table passes; --", "[@click=app.quit]x[/]",
    "[link=file:///etc/passwd]x[/link]", "[red]", "!!python/object/apply:os.system", "__import__('os')", "&x;",
    "<!ENTITY x SYSTEM 'file:///etc/passwd'>", "<script>", "]]>", "../../x", "/etc/x", "C:\\x", "CON", "nan", "inf", "-1", "1e999",
    "9" * 400, "٣", "½", "é", "𝄫", "", " ", "\n", "\r", "\t", '"', "'", "\\", "=", "[", "]", "{", "}", "|", ":", "/", "%", "#", ",",
)  # fmt: skip


@dataclass
class Tally:
    """What came of a run. good: inputs that were read. slowest: the input that took longest."""

    name: str
    inputs: int = 0
    good: int = 0
    seconds: float = 0.0
    slowest_s: float = 0.0
    slowest: Any = None
    seen: set[int] = field(default_factory=set)
    sentences: set[str] = field(default_factory=set)

    def __str__(self) -> str:
        shown = repr(self.slowest)
        return (
            f"{self.name}: {self.inputs} inputs, {len(self.seen)} of them different, {self.good} read, in {self.seconds:.0f} s; "
            f"the slowest took {self.slowest_s * 1000:.0f} ms: {shown if len(shown) <= 300 else shown[:297] + '...'}"
        )


def fuzz(
    name: str,
    read: Callable[[Any], object],
    values: st.SearchStrategy,
    count: int,
    fixed: bool = False,
    longest_s: float = LONGEST_S,
) -> Tally:
    """Feed so many inputs to a reader. fixed: the same ones every time. Fails at the first that raises anything but the project's
    own errors, whose words cannot be shown, or that takes too long."""
    tally = Tally(name)

    def once(value: Any) -> None:
        started_s = time.process_time()
        good = True
        try:
            with _ended_after(10 * longest_s):
                read(value)
        except CompanionError as error:
            good = False
            _check_words(str(error))
        except _Endless:
            raise AssertionError(f"does not end: {value!r}") from None
        except Exception as error:
            error.add_note(f"the input: {value!r}")
            raise
        took_s = time.process_time() - started_s
        tally.inputs += 1
        tally.good += good
        tally.seen.add(hash(value))
        if took_s > tally.slowest_s:
            tally.slowest_s, tally.slowest = took_s, value
        assert took_s < longest_s, f"took {took_s:.1f} s"

    started_s = time.monotonic()
    for number in range(1, 10 * count):
        run = given(value=values)(once)
        run = settings(
            max_examples=min(_BATCH, count),
            deadline=None,
            suppress_health_check=list(HealthCheck),
            phases=(Phase.generate,),  # of a seed there is nothing to make shorter
        )(run)
        (seed(number)(run) if fixed else run)()
        if tally.inputs >= count:
            break
    tally.seconds = time.monotonic() - started_s
    return tally


class _Endless(BaseException):
    """No Exception, so that no reader takes it for one of its own."""


@contextlib.contextmanager
def _ended_after(seconds: float) -> Iterator[None]:
    """End what takes so much of the processor's time; Windows has no such timer, there the test's own time-out ends it."""
    if not hasattr(signal, "setitimer"):
        yield
        return

    def end(*_: object) -> None:
        raise _Endless

    before = signal.signal(signal.SIGPROF, end)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def _check_words(words: str) -> None:
    assert words.strip()
    for line in words.split("\n"):
        assert all(map(is_printable, line)), f"cannot be shown: {line!r}"
        assert len(line) < LONGEST_SENTENCE, f"{len(line)} characters: {line[:200]}"


# --- inputs
#
# Each is made from a Random. Hypothesis draws the seed of it alone: five times as fast as every number in it, for which an input that
# fails is not made shorter.


def inputs(make: Make[T], also: st.SearchStrategy[T] | None = None) -> st.SearchStrategy[T]:
    """also: a strategy that every fourth input comes from."""
    # Of whole numbers hypothesis prefers some, and would draw the same seeds again and again.
    made = st.binary(min_size=16, max_size=16).map(Random).map(make)
    return made if also is None else st.integers(0, 3).flatmap(lambda side: made if side else also)


def one_of(*makes: Make[T]) -> Make[T]:
    return lambda random: random.choice(makes)(random)


def then(make: Make[Any], change: Callable[[Any], T]) -> Make[T]:
    return lambda random: change(make(random))


def edited(good: Sequence[T], pieces: Sequence[T], most: int = 4) -> Make[T]:
    """A good file with up to `most` places cut out, put in, doubled or exchanged for a place of another."""

    def make(random: Random) -> T:
        text = random.choice(good)
        for _ in range(random.randint(1, most)):
            start = random.randint(0, len(text))
            end = min(len(text), start + random.randint(0, 30))
            how = random.choice(("put", "put", "put", "cut", "cut", "double", "double", "other", "other", "end"))
            if how == "put":
                text = text[:start] + random.choice(pieces) + text[min(end, start + 4) :]
            elif how == "cut":
                text = text[:start] + text[end:]
            elif how == "double":
                text = text[:end] + text[start:end] * random.randint(1, 3) + text[end:]
            elif how == "end":
                text = text[:start]
            else:
                other = random.choice(good)
                place = random.randint(0, len(other))
                text = text[:start] + other[place : place + 60] + text[end:]
        return text

    return make


def joined(pieces: Sequence[str], most: int = 40) -> Make[str]:
    """Words of a grammar in any order, every fifth an odd one."""
    return lambda random: "".join(
        random.choice(random.choice((pieces,) * 4 + (ODD,))) for _ in range(random.randint(0, most))
    )


def table(names: Sequence[str], values: Sequence[str], most: int = 8) -> Make[str]:
    """Lines of a TOML file."""
    return lambda random: "".join(
        f"{random.choice(names)} = {random.choice(values)}\n" for _ in range(random.randint(0, most))
    )


def any_bytes(most: int = 200) -> Make[bytes]:
    return lambda random: bytes(random.randrange(256) for _ in range(random.randint(0, most)))


def any_text(most: int = 80) -> Make[str]:
    """Signs of all of Unicode, most of them of its beginning."""
    return lambda random: "".join(
        chr(random.randrange(random.choice((128, 128, 0x250, 0x110000)))) for _ in range(random.randint(0, most))
    )


def as_bytes(make: Make[str]) -> Make[bytes]:
    return then(make, lambda text: text.encode("utf-8", "surrogatepass"))
