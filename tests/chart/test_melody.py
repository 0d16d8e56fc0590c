"""Melodies in ABC's notation: what the signs mean, what is said about other signs, and music21 reading the same.

Worked examples come from The abc music standard 2.1 (December 2011), chapter 4; each row names its section. music21
(BSD licence) reads the same random melodies as a second opinion.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from chart_strategies import CHART_KEYS, melody_texts
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import meters

from companion.chart.melody import (
    MelodyNote,
    chorus_melody,
    parse_melody,
    pickup_ticks_of,
    scan_melody,
    section_melody,
)
from companion.chart.melody_text import write_melody
from companion.chart.reader import parse_chart
from companion.errors import ChartError
from companion.theory.key import Key
from companion.theory.meter import TICKS_PER_QUARTER, Meter

FOUR, THREE, SIX = Meter(4, 4), Meter(3, 4), Meter(6, 8)
C = Key.parse("C")


def read(text, meter=FOUR, key="C", **more):
    return [
        (note.pitch.name if note.pitch else None, Fraction(note.ticks, 480))
        for note in parse_melody(text, meter, Key.parse(key), **more)
    ]


# (section of the standard, text, meter, key, pitches, lengths in eighths)
NOTATION = (
    ("4.1 C is middle C", "C D E F G A B c", FOUR, "C", "C4 D4 E4 F4 G4 A4 B4 C5", "1 1 1 1 1 1 1 1"),
    ("4.1 octaves", "C,2 c'2 C,,2 c''2", FOUR, "C", "C3 C6 C2 C7", "2 2 2 2"),
    ("4.2 accidentals", "^c ^^c =c _c __c c2 z", FOUR, "C", "C#5 C##5 C5 Cb5 Cbb5 Cbb5 -", "1 1 1 1 1 2 1"),
    ("4.2 the key signature", "F2 B2 =F2 c2", FOUR, "D", "F#4 B4 F4 C#5", "2 2 2 2"),
    ("4.2 the key signature, flats", "A2 B2 d2 e2", FOUR, "Fm", "Ab4 Bb4 Db5 Eb5", "2 2 2 2"),
    ("11.3 accidentals hold in the bar, in every octave", "^F2 f2 F2 z2 | F8", FOUR, "C", "F#4 F#5 F#4 - F4", "2 2 2 2 8"),
    ("4.3 lengths", "A2 A/2 A/ A// A// A3/2 A A3/ z/2", FOUR, "C", "A4 A4 A4 A4 A4 A4 A4 A4 -",
     "2 1/2 1/2 1/4 1/4 3/2 1 3/2 1/2"),
    ("4.4 broken rhythm", "a>b c<d a>>b c<<d", FOUR, "C", "A5 B5 C5 D5 A5 B5 C5 D5",
     "3/2 1/2 1/2 3/2 7/4 1/4 1/4 7/4"),
    ("4.4 broken rhythm, triple, longer notes", "a>>>b a2>b2 z2", FOUR, "C", "A5 B5 A5 B5 -", "15/8 1/8 3 1 2"),
    ("4.5 rests", "z4 x2 z/ z3/2", FOUR, "C", "- - - -", "4 2 1/2 3/2"),
    ("4.5 bars of rest", "c8 | Z2 | d8", FOUR, "C", "C5 - - D5", "8 8 8 8"),
    ("4.11 ties", "c4-c2 d2-|d4 e4", FOUR, "C", "C5 D5 E5", "6 6 4"),
    ("4.13 triplets", "(3abc (3a2b2c2 z2", FOUR, "C", "A5 B5 C5 A5 B5 C5 -", "2/3 2/3 2/3 4/3 4/3 4/3 2"),
    ("4.13 (3 is short for (3:2:3", "(3:2:3abc (3::abc (3:2abc z2", FOUR, "C", "A5 B5 C5 A5 B5 C5 A5 B5 C5 -",
     "2/3 2/3 2/3 2/3 2/3 2/3 2/3 2/3 2/3 2"),
    ("4.13 (3:2:2 has two notes", "(3:2:2G4c2 z4", FOUR, "C", "G4 C5 -", "8/3 4/3 4"),
    ("4.13 a duplet in compound meter", "(2ab c3", SIX, "C", "A5 B5 C5", "3/2 3/2 3"),
    ("4.13 a quadruplet in compound meter", "(4abcd c3", SIX, "C", "A5 B5 C5 D5 C5", "3/4 3/4 3/4 3/4 3"),
    ("4.13 five in the time of n: 2 in simple meter", "(5abcde z6", FOUR, "C", "A5 B5 C5 D5 E5 -",
     "2/5 2/5 2/5 2/5 2/5 6"),
    ("4.13 five in the time of n: 3 in compound meter", "(5abcde z3", SIX, "C", "A5 B5 C5 D5 E5 -",
     "3/5 3/5 3/5 3/5 3/5 3"),
    ("3.1.7 the unit note length", "[L:1/4]c d e f | [L:1/16]c8 d8", FOUR, "C", "C5 D5 E5 F5 C5 D5", "2 2 2 2 4 4"),
    ("common practice: a tie keeps its accidental over the barline", "^f4 ^f4-|f4 f4", FOUR, "C", "F#5 F#5 F5",
     "4 8 4"),
)  # fmt: skip


@pytest.mark.parametrize(
    ("source", "text", "meter", "key", "pitches", "lengths"), NOTATION, ids=lambda value: str(value)
)
def test_notation(source, text, meter, key, pitches, lengths):
    expected = [None if name == "-" else name for name in pitches.split()]
    assert read(text, meter, key) == list(zip(expected, map(Fraction, lengths.split()), strict=True))


FAULTS = (
    ("c4 d2 | c8", "bar 1: the notes make 3 beats, but a bar of 4/4 has 4"),
    ("c8 | d9", "bar 2: the notes make 4.5 beats, but a bar of 4/4 has 4"),
    ("c8 | H4", "bar 2: 'H4' is not understood; expected notes C to B"),
    ("|: c8 :|", "bar 1: ':' is not understood; repeat signs are not read: name the section again"),
    ("[ce]8", "is not understood; a melody has one note at a time"),
    ("{c}d8", "grace notes are not read"),
    ('"Am7"d8', "chord symbols belong into bars"),
    ("(cd) e6", "slurs are not read"),
    ("!trill!c8", "ornaments are not read"),
    ("c8 | % |", "bar 2: '%' is not understood; the sign for the same bar again is for chords"),
    ("c8 | | d8", "bar 2: the bar is empty; expected notes"),
    ("c4-d4", "the tie behind C5 leads to D5; expected the same note"),
    ("c8-|z8", "bar 2: the tie behind C5 leads to a rest"),
    ("c8-|Z2", "the tie behind C5 leads to a rest"),
    (">c8", "stands before a note; expected it between two notes"),
    ("c8>", "stands behind the last note"),
    ("c>>>>d", "is not understood|stands before a note"),
    ("(3cd | e8", "bar 1: the tuplet lacks 1 note before the barline"),
    ("(3c(3de", "opens a tuplet within another"),
    ("c0 d8", "a length of '0' is none"),
    ("c/0 d8", "a length of '/0' is none"),
    ("c,,,,,,,8", "lies beyond every keyboard"),
    ("(7abcdefg z6", "a note of 1/7 beats cannot be counted exactly"),
    ("Z9999", "more than 2000 bars"),
)  # fmt: skip


@pytest.mark.parametrize(("text", "message"), FAULTS)
def test_faults(text, message):
    with pytest.raises(ChartError, match=message):
        read(text)


def test_the_number_of_bars_is_checked():
    assert read("c8 | d8", bar_count=2)
    with pytest.raises(ChartError, match="the melody has 2 bars; expected the 3 of its section"):
        read("c8 | d8", bar_count=3)


def test_a_melody_not_yet_written_is_none():
    assert parse_melody(" \n", FOUR, C, bar_count=8) == ()


def test_every_fault_is_told_at_its_line_and_bar():
    chart = 'title = "T"\nkey = "F"\nmeter = "3/4"\n[section.A]\nbars = "F6 | C7 | F6 | C7"\nmelody = """\nc4 B2 |\nd6 | e4 |\nq6 |"""\n'
    with pytest.raises(ChartError) as caught:
        parse_chart(chart, path="t.toml")
    found = [(fault.line, fault.section, fault.bar) for fault in caught.value.faults]
    assert found == [(8, "A", 3), (9, "A", 4)]
    assert "melody: the notes make 2 beats, but a bar of 3/4 has 3" in str(caught.value)


# --- the pickup


def test_notes_before_the_first_barline_are_the_pickup():
    notes = parse_melody("G2 | c8 | d8", FOUR, C, bar_count=2, pickup_ticks=960)
    assert [(note.start_tick, note.ticks) for note in notes] == [(-960, 960), (0, 3840), (3840, 3840)]


def test_a_melody_without_a_pickup_starts_with_a_barline():
    notes = parse_melody("| c8 | d8", FOUR, C, bar_count=2, pickup_ticks=960)
    assert [note.start_tick for note in notes] == [0, 3840]
    with pytest.raises(
        ChartError, match="make 4 beats, but the pickup is 1 beat; a melody without a pickup starts with"
    ):
        parse_melody("c8 | d8", FOUR, C, bar_count=2, pickup_ticks=960)


PICKUP = """
title = "T"
key = "C"
meter = "4/4"
form = "A B A"
pickup = "1.5"
[section.A]
bars = "C6"
melody = "G3-|G8"
[section.B]
bars = "F6 | G7"
melody = "A8 | z5 G3"
"""


def test_a_chorus_has_the_pickup_once():
    song = parse_chart(PICKUP)
    assert pickup_ticks_of(song, "A") == 1440 and pickup_ticks_of(song, "B") == 0
    assert [(note.start_tick, note.ticks) for note in section_melody(song, "A")] == [(-1440, 1440 + 3840)]
    bar = 3840
    # The pickup is tied into the first bar; the second A starts with its own first bar.
    assert [(note.start_tick, note.pitch and note.pitch.name) for note in chorus_melody(song)] == [
        (-1440, "G4"), (bar, "A4"), (2 * bar, None), (2 * bar + 5 * 480, "G4"), (3 * bar, "G4"),
    ]  # fmt: skip


# --- music21 reads the same


@settings(max_examples=12)
@given(st.data(), meters(), st.sampled_from(CHART_KEYS))
def test_music21_reads_the_same_pitches_and_lengths(data, meter, key_name):
    from music21 import converter

    text = data.draw(melody_texts(meter, data.draw(st.integers(2, 5))))
    # music21 10.5 carries a double sharp or flat on through the bar as a single one: no double signs here.
    text = text.replace("^^", "^").replace("__", "_")
    bars, faults = scan_melody(text, (), meter, Key.parse(key_name), None, 0)
    assert not faults
    written = [note for bar in bars for note in bar.notes]
    # ABC reads a line's end as nothing; where ours ends a bar, music21 needs the barline.
    body = "|\n".join(line.rstrip(" |") for line in text.strip().split("\n")) + "|"
    tune = f"%abc-2.1\nX:1\nT:T\nM:{meter}\nL:1/8\nK:{key_name}\n{body}\n"
    theirs = list(converter.parse(tune, format="abc").recurse().notesAndRests)
    assert len(theirs) == len(written)
    was_tied = False
    for ours, note in zip(written, theirs):
        assert Fraction(note.quarterLength).limit_denominator(10_000) * TICKS_PER_QUARTER == ours.ticks
        assert note.isRest == (ours.pitch is None)
        # Our rule for an accidental held over a barline is the engraver's; the standard is silent, music21 differs.
        if ours.pitch is not None and not was_tied:
            assert note.pitch.nameWithOctave == ours.pitch.name.replace("b", "-")
        was_tied = ours.is_tied


# --- writing


@given(st.data(), meters(), st.sampled_from(CHART_KEYS).map(Key.parse))
def test_a_written_melody_is_read_back_the_same(data, meter, key):
    count = data.draw(st.integers(1, 6))
    pickup = data.draw(st.sampled_from((0, 1, Fraction(1, 2), 3)))
    notes = parse_melody(data.draw(melody_texts(meter, count, Fraction(pickup))), meter, key, count, int(480 * pickup))
    text = write_melody(notes, meter, key, count, int(480 * pickup))
    again = parse_melody(text, meter, key, count, int(480 * pickup))
    assert _joined_rests(again) == _joined_rests(notes)
    assert write_melody(again, meter, key, count, int(480 * pickup)) == text


def _joined_rests(notes):
    """Rests end to end as one; whether a long silence is cut at a barline is a matter of writing."""
    joined: list[MelodyNote] = []
    for note in notes:
        if note.pitch is None and joined and joined[-1].pitch is None:
            joined[-1] = MelodyNote(joined[-1].start_tick, joined[-1].ticks + note.ticks, None)
        else:
            joined.append(note)
    if joined and joined[0].start_tick < 0 and joined[0].pitch is None:  # a pickup of nothing is not written
        first = joined.pop(0)
        rest = MelodyNote(0, first.start_tick + first.ticks, None)
        joined[:0] = [rest] if rest.ticks else []
    return joined


def test_a_melody_as_a_person_writes_it():
    text = "G2 | c2e2 g3^f | =f4- fe (3dcB | A>G A2 z4 | E8- | E4 z4 |"
    notes = parse_melody(text, FOUR, C, 5, 960)
    assert write_melody(notes, FOUR, C, 5, 960) == (
        "G2 |\nc2 e2 g3^f | f5e (3dcB | A3/2G/2 A2 z4 | E8- |\nE4 z4      |\n"
    )
    assert write_melody(notes[1:], FOUR, C, 5, 960).startswith("| c2 e2")


@pytest.mark.parametrize("text", ["c4", "\n\n", "(", "^", "((((", "c" * 90, "|" * 90, "-" * 90, "[L:1/3]c8", "c99999"])
def test_any_text_ends_in_notes_or_in_a_fault(text):
    try:
        read(text)
    except ChartError as error:
        assert error.faults


@given(st.text(st.sampled_from("ABCdefzxZ123/',^_=-(3:<>|[]L \n%\"") | st.characters(), max_size=80))
def test_any_signs_end_in_notes_or_in_a_fault(text):
    notes, faults = (), ()
    try:
        notes = parse_melody(text, FOUR, C)
    except ChartError as error:
        faults = error.faults
    at = 0
    for note in notes:
        assert note.start_tick == at and note.ticks > 0
        at += note.ticks
    assert not (notes and faults)
