"""What a sheet does not say and a musician would take for granted, always told: the feel, and chords that were typed as words."""

from __future__ import annotations

import re

from companion.base.text import quoted
from companion.errors import ChordError
from companion.importing.score import Sheet
from companion.theory.meter import Meter
from companion.theory.symbols import parse_chord

# Dances whose eighths are even (common practice); a hornpipe is dotted, and stays with what its meter says.
_STRAIGHT_DANCES = (
    "reel", "jig", "slide", "polka", "march", "waltz", "strathspey", "mazurka", "minuet", "schottische", "quadrille", "bourree",
    "barndance", "hambo", "polska", "air",
)  # fmt: skip
_LETTERS = frozenset("ABCD")


def feel_of(sheet: Sheet, meter: Meter) -> str:
    """How the eighths are felt: as the sheet says, else as its dance and its meter suggest, with a remark."""
    if sheet.feel:
        return sheet.feel
    words = re.findall(r"[a-z]+", f"{sheet.dance} {sheet.title}".lower())
    dance = next((dance for word in words for dance in _STRAIGHT_DANCES if word in (dance, dance + "s")), "")
    if dance:
        sheet.remark("", f"the file does not say how eighths are felt; straight taken, as in {_a(dance)}")
    elif meter.is_compound:
        sheet.remark("", f"the file does not say how eighths are felt; straight taken, as {meter} is")
    else:
        sheet.remark("", "the file does not say how eighths are felt; swing taken")
    return "straight" if dance or meter.is_compound else "swing"


def _a(noun: str) -> str:
    return f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}"


def chord_with_bass(text: str) -> tuple[str, str]:
    """The symbol, and what was left out of it, "" for nothing. A bass may stand in small letters (ABC 2.1, 4.18 shows capitals
    only, tune books both). Raises ChordError."""
    above, slash, below = text.rpartition("/")
    try:
        return parse_chord(f"{above}/{below[:1].upper()}{below[1:]}" if slash else text).symbol, ""
    except ChordError:
        if not slash:
            raise
    symbol = parse_chord(above).symbol
    return symbol, f"the bass of {quoted(text)} is not understood; {symbol} taken without it"


def chord_typed(words: str) -> str | None:
    """The symbol where words are one: what somebody typed above the staff, who had no chord symbols."""
    try:
        return parse_chord(words).symbol if len(words) <= 20 else None
    except ChordError:
        return None


def take_typed_chords(sheet: Sheet) -> None:
    """Chords typed as words count where the sheet has no others; one without any chord is told of."""
    if not any(symbol for bar in sheet.bars for _, symbol in bar.chords):
        symbols = [symbol for _, _, symbol in sheet.typed]
        if symbols and not set(symbols) <= _LETTERS:  # A, B, C and D alone name sections
            for bar, offset, symbol in sheet.typed:
                bar.chords.append((offset, symbol))
            sheet.remark(
                "",
                f"the sheet has no chord symbols; words above the staff such as {quoted(symbols[0])} are taken as chords",
            )
            return
        sheet.remark(
            "",
            "the sheet has no chord symbols: nothing for the left hand yet; write chords into its bars, or let it be the melody alone",
        )
        return
    for bar, _, symbol in sheet.typed:
        sheet.remark(bar.number, f"the words {quoted(symbol)} are left out")
