"""Bars as a person types them.

    bars   = lines of bars; a bar ends at "|" or "||" or at the end of its line, and may be opened by one too
    bar    = "%" or "𝄎"                 the bar before, once more
           | chord+                     the chords share the bar evenly
           | (chord [":" length])+      lengths in beats: Dm7:3 G7:1, F6:1.5, F6:3/2; those without one share the rest
           | (chord | "/")+             the engraver's slashes: every chord and every slash is one beat (in 6/8 and
                                        12/8 they may count the pulses, the dotted quarters, instead): Dm7 / / G7
    chord  = a chord symbol, or N.C. where nothing is played

A "/" with spaces around it is a slash that stands for a beat; within a symbol (C/E, F6/9) it belongs to the chord.
Written lengths must fill the bar and come to a whole number of ticks (1/960 of a quarter), which every
subdivision that a person plays does. Beats are those of the meter's lower figure: 6/8 has six.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from companion.base.text import quoted
from companion.chart.model import Bar, PlacedChord
from companion.errors import ChordError
from companion.theory.chord import Chord
from companion.theory.meter import Meter
from companion.theory.symbols import is_no_chord, parse_chord

SAME_BAR = ("%", "𝄎")
MOST_BARS = 2000  # of a section, and of a chorus
MOST_CHORDS = 16  # in a bar; more of them cannot be meant
_LENGTH = re.compile(r"[0-9]{1,4}(?:\.[0-9]{1,4})?|[0-9]{1,7}/0{0,6}[1-9][0-9]{0,6}")
_TOKEN = re.compile(r"(?:\([^()]*\)|\S)+")  # blanks within parentheses belong to the symbol: C7(b9, #11)

# (line, bar, message): bar counts from 1 within the section.
BarFault = tuple[int, int, str]


class BarError(ValueError):
    """A bar that cannot be read; the reader collects them."""


def read_bars(text: str, lines: Sequence[int], meter: Meter | None) -> tuple[list[Bar | None], list[BarFault]]:
    """The bars of a section, and every fault in them. A faulty bar is None, so that the others keep their numbers.

    lines: the file line of each character of `text`. meter: None where it is not known; then lengths go unchecked.
    """
    bars: list[Bar | None] = []
    faults: list[BarFault] = []
    for cell, offset in split_bars(text):
        line = lines[min(offset, len(lines) - 1)] if lines else 0
        if len(bars) == MOST_BARS:
            faults.append((line, 0, f"there are more than {MOST_BARS} bars; expected fewer, for a song"))
            break
        tokens = _TOKEN.findall(cell)
        messages: list[str] = []
        if any(token in SAME_BAR for token in tokens):
            bars.append(_same_bar(tokens, bars, line, messages))
        else:
            chords = _read_bar(tokens, meter, messages)
            bars.append(None if messages else Bar(chords, line))
        faults += [(line, len(bars), message) for message in messages]
    return bars, faults


def split_bars(text: str) -> Iterator[tuple[str, int]]:
    """The text of each bar and the offset of its first sign."""
    start = 0
    for line in text.split("\n"):
        edges = [(0, 0), *(match.span() for match in re.finditer(r"\|\|?", line)), (len(line), len(line))]
        cells = [(left[1], right[0]) for left, right in pairwise(edges)]
        if not line[slice(*cells[0])].strip():  # before the line's first barline
            cells = cells[1:]
        if cells and not line[slice(*cells[-1])].strip():  # behind its last
            cells = cells[:-1]
        for left, right in cells:
            cell = line[left:right]
            yield cell.strip(), start + left + len(cell) - len(cell.lstrip())
        start += len(line) + 1


def _same_bar(tokens: list[str], bars: list[Bar | None], line: int, messages: list[str]) -> Bar | None:
    if len(tokens) > 1:
        messages.append(
            f"{quoted(' '.join(tokens))} mixes {tokens[0] if tokens[0] in SAME_BAR else '%'} with chords; "
            "the sign for the same bar again stands alone in its bar"
        )
    elif not bars:
        messages.append(
            f"{tokens[0]} repeats the bar before, but this is the first bar of its section; expected a chord"
        )
    elif bars[-1] is not None:
        return Bar(bars[-1].chords, line)
    return None


def _read_bar(tokens: list[str], meter: Meter | None, messages: list[str]) -> tuple[PlacedChord, ...]:
    if not tokens:
        messages.append("the bar is empty; expected a chord, % for the same bar again, or N.C. for no chord")
        return ()
    try:
        symbols, lengths = _slashed(tokens, meter) if "/" in tokens else _lengthened(tokens, meter)
    except BarError as error:
        messages.append(str(error))
        symbols, lengths = [token for token in tokens if token != "/" and ":" not in token], []
    chords = [_read_chord(symbol, messages) for symbol in symbols]
    if messages:
        return ()
    placed, at = [], Fraction(0)
    for chord, length in zip(chords, lengths):
        placed.append(PlacedChord(chord, at, length))
        at += length
    return tuple(placed)


def _read_chord(symbol: str, messages: list[str]) -> Chord | None:
    if is_no_chord(symbol):
        return None
    if symbol.startswith(":") or symbol.endswith(":"):
        messages.append(
            f"{quoted(symbol)} is not a chord; repeat signs are not read: name the section again in the form"
        )
        return None
    try:
        return parse_chord(symbol)
    except ChordError as error:
        messages.append(str(error))
        return None


def _slashed(tokens: list[str], meter: Meter | None) -> tuple[list[str], list[Fraction]]:
    """Symbols and lengths of a bar with the engraver's slashes."""
    if tokens[0] == "/":
        raise BarError(
            "the bar starts with a slash, which only holds a chord on; "
            "expected a chord first, or % for the same bar again"
        )
    if any(_is_long(token) for token in tokens):
        raise BarError("the bar has both slashes and written lengths; expected one of the two")
    unit = 1
    if meter is not None:
        units = {meter.beats: 1, meter.pulses: meter.pulse_ticks // meter.beat_ticks}
        if len(tokens) not in units:
            counts = f"{meter.beats} beats" + (f" or {meter.pulses} pulses" if meter.is_compound else "")
            raise BarError(f"chords and slashes make {counted(len(tokens), 'beat')}, but a bar of {meter} has {counts}")
        unit = units[len(tokens)]
    symbols: list[str] = []
    lengths: list[Fraction] = []
    for token in tokens:
        if token == "/":
            lengths[-1] += unit
        else:
            symbols.append(token)
            lengths.append(Fraction(unit))
    return symbols, lengths


def _is_long(token: str) -> bool:
    """Whether a token is a symbol with its length, and not one of the repeat signs that people try."""
    return ":" in token[1:-1]


def _lengthened(tokens: list[str], meter: Meter | None) -> tuple[list[str], list[Fraction]]:
    """Symbols and lengths of a bar with written lengths or none; those without share what is left evenly."""
    symbols = [token.rpartition(":")[0] if _is_long(token) else token for token in tokens]
    written = [read_beats(token.rpartition(":")[2]) if _is_long(token) else None for token in tokens]
    if len(symbols) > MOST_CHORDS:
        raise BarError(f"the bar has {len(symbols)} chords; expected at most {MOST_CHORDS}")
    total = sum((length for length in written if length is not None), Fraction(0))
    sharing = written.count(None)
    if meter is None:
        return symbols, [length or Fraction(1) for length in written]
    rest = meter.beats - total
    if rest < 0 or (rest > 0 and not sharing):
        raise BarError(f"the lengths make {counted(total, 'beat')}, but a bar of {meter} has {meter.beats}")
    if sharing and not rest:
        raise BarError(f"the lengths fill the bar of {meter}, but {counted(sharing, 'chord')} stands there without one")
    lengths = [rest / sharing if length is None else length for length in written]
    # Chords that share a whole bar may divide it as they will; who writes lengths can write playable ones.
    for length in lengths if total else ():
        if not is_countable(length, meter):
            raise BarError(
                f"a length of {counted(length, 'beat')} cannot be counted exactly; "
                "expected a simple one such as 1/2, 3/2 or 4/3"
            )
    return symbols, lengths


def read_beats(text: str) -> Fraction:
    """A written length in beats: "3", "1.5", "3/2". Raises BarError for anything else and for zero."""
    beats = Fraction(text) if _LENGTH.fullmatch(text) else Fraction(0)
    if not beats:
        raise BarError(f"{quoted(text)} is not a length in beats; expected a number such as 2, 1.5 or 3/2")
    return beats


def counted(number: Fraction | int, noun: str) -> str:
    """A number and its noun: "1 beat", "3.5 beats"."""
    return f"{show_beats(Fraction(number))} {noun}{'' if number == 1 else 's'}"


def is_countable(beats: Fraction, meter: Meter) -> bool:
    """Whether a length in beats is a whole number of ticks."""
    return (beats * meter.beat_ticks).denominator == 1


def show_beats(beats: Fraction) -> str:
    """A length as a person writes it, such that read_beats reads it back: "3", "1.5", "4/3"."""
    return str(float(beats)) if beats.denominator in (2, 4, 8) else str(beats)
