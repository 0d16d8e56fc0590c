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

from companion.chart.model import Bar, PlacedChord
from companion.errors import ChordError
from companion.theory.chord import Chord
from companion.theory.meter import TICKS_PER_QUARTER, Meter
from companion.theory.symbols import is_no_chord, parse_chord

SAME_BAR = ("%", "𝄎")
NO_CHORD = "N.C."
# A shorter chord cannot be meant: it would leave nobody the time to put a hand down (a 64th note).
SHORTEST_TICKS = TICKS_PER_QUARTER // 16
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
        cells = [(left[1], right[0]) for left, right in zip(edges, edges[1:])]
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
        messages.append(f"{quoted(' '.join(tokens))} mixes {tokens[0] if tokens[0] in SAME_BAR else '%'} with chords; "
                        "the sign for the same bar again stands alone in its bar")
    elif not bars:
        messages.append(f"{tokens[0]} repeats the bar before, but this is the first bar of its section; "
                        "expected a chord")
    elif bars[-1] is not None:
        return Bar(bars[-1].chords, line)
    return None


def _read_bar(tokens: list[str], meter: Meter | None, messages: list[str]) -> tuple[PlacedChord, ...]:
    if not tokens:
        messages.append("the bar is empty; expected a chord, % for the same bar again, or N.C. for no chord")
        return ()
    symbols, lengths = _slashed(tokens) if "/" in tokens else _lengthened(tokens, messages)
    chords = [_read_chord(symbol, messages) for symbol in symbols if symbol]
    if messages or meter is None:
        return ()
    try:
        beats = _slash_beats(symbols, meter) if "/" in tokens else _beats(lengths, meter)
        if min(beats) * meter.beat_ticks < SHORTEST_TICKS:
            raise BarError(f"{len(chords)} chords leave one of them shorter than a 64th note; expected fewer or longer ones")
    except BarError as error:
        messages.append(str(error))
        return ()
    placed, at = [], Fraction(0)
    for chord, length in zip(chords, beats):
        placed.append(PlacedChord(chord, at, length))
        at += length
    return tuple(placed)


def _read_chord(symbol: str, messages: list[str]) -> Chord | None:
    if is_no_chord(symbol):
        return None
    if symbol.startswith(":") or symbol.endswith(":"):
        messages.append(f"{quoted(symbol)} is not a chord; repeat signs are not read: name the section again in the form")
        return None
    try:
        return parse_chord(symbol)
    except ChordError as error:
        messages.append(str(error))
        return None


def _slashed(tokens: list[str]) -> tuple[list[str], list[Fraction | None]]:
    """A slash stands as an empty symbol here."""
    return ["" if token == "/" else token for token in tokens], []


def _slash_beats(symbols: list[str], meter: Meter) -> list[Fraction]:
    if not symbols[0]:
        raise BarError("the bar starts with a slash, which only holds a chord on; expected a chord first, or % for the same bar again")
    unit = {meter.beats: 1, meter.pulses: meter.pulse_ticks // meter.beat_ticks}.get(len(symbols))
    if unit is None:
        counts = f"{meter.beats} beats" + (f" or {meter.pulses} pulses" if meter.is_compound else "")
        raise BarError(f"chords and slashes make {len(symbols)} {'beats' if len(symbols) != 1 else 'beat'}, "
                       f"but a bar of {meter} has {counts}")
    beats: list[Fraction] = []
    for symbol in symbols:
        if symbol:
            beats.append(Fraction(unit))
        else:
            beats[-1] += unit
    return beats


def _lengthened(tokens: list[str], messages: list[str]) -> tuple[list[str], list[Fraction | None]]:
    """Symbols and their written lengths, None where none is written."""
    symbols: list[str] = []
    lengths: list[Fraction | None] = []
    for token in tokens:
        symbol, colon, length = token.rpartition(":")
        if not colon or not symbol:
            symbols.append(token)
            lengths.append(None)
            continue
        symbols.append(symbol)
        try:
            lengths.append(read_beats(length))
        except BarError as error:
            messages.append(f"{quoted(token)}: {error}")
    return symbols, lengths


def read_beats(text: str) -> Fraction:
    """A written length in beats: "3", "1.5", "3/2". Raises BarError for anything else and for zero."""
    if _LENGTH.fullmatch(text) is None:
        raise BarError(f"{quoted(text)} is not a length in beats; expected a number such as 2, 1.5 or 3/2")
    beats = Fraction(text)
    if not beats:
        raise BarError("nothing can last no beats; expected a number such as 2, 1.5 or 3/2")
    return beats


def _beats(lengths: list[Fraction | None], meter: Meter) -> list[Fraction]:
    """How long each chord lasts; those without a length share what is left of the bar evenly."""
    open_chords = lengths.count(None)
    if open_chords == len(lengths):
        return [Fraction(meter.beats, open_chords)] * open_chords
    written = sum(length for length in lengths if length is not None)
    rest = meter.beats - written
    if rest < 0 or (rest == 0) == (open_chords > 0):
        leaves = ", and one chord has no length yet" if rest == 0 else ""
        raise BarError(f"the lengths make {show_beats(written)} beats, but a bar of {meter} has {meter.beats}{leaves}")
    beats = [length if length is not None else rest / open_chords for length in lengths]
    for length in beats:
        if not is_countable(length, meter):
            raise BarError(f"a length of {show_beats(length)} beats cannot be counted exactly; "
                           "expected a simple one such as 1/2, 3/2 or 4/3")
    return beats


def is_countable(beats: Fraction, meter: Meter) -> bool:
    """Whether a length in beats is a whole number of ticks."""
    return (beats * meter.beat_ticks).denominator == 1


def show_beats(beats: Fraction) -> str:
    """A length as a person writes it, such that read_beats reads it back: "3", "1.5", "4/3"."""
    return str(float(beats)) if beats.denominator in (2, 4, 8) else str(beats)


def quoted(text: str) -> str:
    """What was typed, in quotes, cut where it is long and with signs that cannot be printed spelled out."""
    return repr(text if len(text) <= 40 else text[:37] + "...")
