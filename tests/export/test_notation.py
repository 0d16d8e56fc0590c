"""Lengths written as notes: nothing lost, and as engravers write it."""

from __future__ import annotations

import itertools
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st
from strategies import meters

from companion.export.notation import NOTE_TYPES, Span, filled, quarters, write_bar
from companion.theory.meter import Meter

FOUR, THREE, SIX, FIVE, TWELVE = (Meter.parse(text) for text in ("4/4", "3/4", "6/8", "5/4", "12/8"))
VALUE_OF = {name: value for value, name in NOTE_TYPES.items()}
DOTTED = {0: Fraction(1), 1: Fraction(3, 2), 2: Fraction(7, 4)}


def shown(meter: Meter, *lengths: str) -> list[str]:
    """The bar in short: "quarter. ~" is dotted and tied on; (3:2) is a tuplet's ratio."""
    spans, at = [], Fraction(0)
    for length in lengths:
        spans.append(Span(at, Fraction(length), "note"))
        at += Fraction(length)
    words = []
    for note in write_bar(spans, meter):
        ratio = f" {note.tuplet[0]}:{note.tuplet[1]}" if note.tuplet else ""
        words.append(note.type + "." * note.dots + ("~" if note.tied_on else "") + ratio)
    return words


def test_usual_bars() -> None:
    """Each row as any handbook of notation has it (common practice)."""
    assert shown(FOUR, "4") == ["whole"]
    assert shown(FOUR, "2", "2") == ["half", "half"]
    assert shown(FOUR, "3", "1") == ["half.", "quarter"]
    assert shown(FOUR, "1", "2", "1") == ["quarter", "half", "quarter"]
    assert shown(FOUR, "1", "3") == ["quarter", "quarter~", "half"]  # the middle of the bar is shown
    assert shown(FOUR, "3/2", "5/2") == ["quarter.", "eighth~", "half"]
    assert shown(FOUR, "1/2", "1", "1/2", "2") == ["eighth", "quarter", "eighth", "half"]
    assert shown(THREE, "3") == ["half."]
    assert shown(THREE, "3/2", "3/2") == ["quarter.", "eighth~", "quarter"]
    assert shown(SIX, "3") == ["half."]
    assert shown(SIX, "3/2", "3/2") == ["quarter.", "quarter."]
    assert shown(SIX, "1", "1/2", "3/2") == ["quarter", "eighth", "quarter."]
    assert shown(FIVE, "5") == ["half.~", "half"]
    assert shown(TWELVE, "6") == ["whole."]


def test_tuplets() -> None:
    third = "1/3"
    assert shown(FOUR, third, third, third, "3") == ["eighth 3:2"] * 3 + ["quarter~", "half"]
    assert shown(FOUR, "4/3", "4/3", "4/3") == ["half 3:2"] * 3
    assert shown(FOUR, *["4/5"] * 5) == ["quarter 5:4"] * 5
    assert shown(FOUR, "2/3", third, "3")[:2] == ["quarter 3:2", "eighth 3:2"]
    assert shown(FOUR, *["4/7"] * 7) == ["quarter 7:4"] * 7
    # What lasts into a triplet of eighths is tied into it, so that the beat is seen (common practice).
    assert shown(FOUR, "4/3", third, third, "2") == ["quarter~", "eighth 3:2", "eighth 3:2", "eighth 3:2", "half"]
    assert shown(FOUR, third, third, "7/3", "1") == [*["eighth 3:2"] * 2, "eighth~ 3:2", "half", "quarter"]
    assert shown(THREE, "2", "2/3", third) == ["half", "quarter 3:2", "eighth 3:2"]


def test_beams_stay_within_the_beat() -> None:
    spans = [Span(Fraction(n, 2), Fraction(1, 2), "note") for n in range(8)]
    assert [note.beams for note in write_bar(spans, FOUR)] == [("begin",), ("end",)] * 4
    spans = [Span(Fraction(n, 2), Fraction(1, 2), "note") for n in range(6)]
    assert [note.beams for note in write_bar(spans, SIX)] == [("begin",), ("continue",), ("end",)] * 2
    dotted = filled([Span(Fraction(0), Fraction(3, 4), "a"), Span(Fraction(3, 4), Fraction(1, 4), "b")], Fraction(4))
    assert [note.beams for note in write_bar(dotted, FOUR)][:2] == [("begin",), ("end", "backward hook")]


@given(st.data(), meters())
def test_no_time_is_lost(data, meter: Meter) -> None:
    """What is written lasts as long as what was to be written, note by note, and its value says so."""
    bar = quarters(meter.bar_ticks)
    cuts = data.draw(st.lists(st.integers(1, 47), max_size=6, unique=True).map(sorted))
    places = [Fraction(0), *(bar * cut / 48 for cut in cuts), bar]
    spans = [Span(start, end - start, number) for number, (start, end) in enumerate(itertools.pairwise(places))]
    written = write_bar(spans, meter)
    at = Fraction(0)
    for note in written:
        assert note.start == at
        at += note.length
        stretch = Fraction(*note.tuplet) if note.tuplet else Fraction(1)
        assert note.type and VALUE_OF[note.type] * DOTTED[note.dots] == note.length * stretch
    assert at == bar
    for number, span in enumerate(spans):
        pieces = [note for note in written if note.what == number]
        assert sum(note.length for note in pieces) == span.length
        assert [note.tied_on for note in pieces] == [True] * (len(pieces) - 1) + [False]
        assert [note.tied_back for note in pieces] == [False] + [True] * (len(pieces) - 1)
    assert sum(note.opens for note in written) == sum(note.closes for note in written)


def test_ticks_of_a_seventh_are_a_seventh() -> None:
    assert quarters(137) == Fraction(1, 7)
    assert quarters(320) == Fraction(1, 3)
    assert quarters(1) == Fraction(1, 960)
