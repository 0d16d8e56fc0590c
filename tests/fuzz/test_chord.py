"""Chord symbols: whatever is typed, a chord or a ChordError in words, soon."""

from __future__ import annotations

from fuzz.fuzzing import DEEP, ODD, any_text, edited, fuzz, inputs, joined, one_of, then
from hypothesis import strategies as st
from strategies import chord_symbols, printed

from companion.base.text import is_printable
from companion.theory.chord import Chord
from companion.theory.qualities import ADDITIONS, ALTERATIONS, MAJOR_FIGURES, MAJOR_WORDS, SIGNS, TRIADS
from companion.theory.symbols import is_no_chord, parse_chord

WORDS = (
    *"ABCDEFGHabx#-+/(), ", "##", "N.C.", "sus", "sus24", "add", "omit", "no", "alt", "M", "rd", "th", *SIGNS, *MAJOR_WORDS, *ALTERATIONS,
    *(f"add{degree}" for degree in ADDITIONS), *map(str, range(14)), *(spelling for triad in TRIADS for spelling in triad.spellings),
    *(figure for triad in TRIADS for figure in triad.figures), *MAJOR_FIGURES,
)  # fmt: skip
GOOD = (
    "C",
    "F#m7b5",
    "Bbmaj7(#11)",
    "E♭ø7",
    "G13(b9, #11)",
    "Am(maj7)/G#",
    "D7alt",
    "C6/9",
    "Absus24",
    "C7sus4add13omit5",
    "CΔ9",
    "B°7/F",
)
SYMBOLS = one_of(
    joined(WORDS, 12),
    then(joined(WORDS, 6), "C".__add__),
    then(joined(WORDS, 3), "F#".__add__),
    edited(GOOD, (*WORDS, *ODD)),
    any_text(60),
    then(any_text(6), "Bb".__add__),
)


def read(symbol: str) -> None:
    is_no_chord(symbol)
    chord = parse_chord(symbol)
    assert isinstance(chord, Chord) and chord.degrees
    assert all(map(is_printable, chord.symbol))
    assert parse_chord(chord.symbol) == chord


def test_any_symbol(deep, tell):
    symbols = chord_symbols()
    tally = fuzz(
        "chord",
        read,
        inputs(SYMBOLS, st.one_of(symbols, symbols.map(printed))),
        DEEP if deep else 200,
        fixed=deep,
    )
    tell(tally)
    assert tally.good
