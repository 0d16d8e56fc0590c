"""Lead sheets in ABC: fields, chords, repeats and parts, and music21 reading the same notes.

Source: The abc music standard 2.1 (December 2011); each row names its section. The tunes are our own.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from abc_tune import TUNE
from chart_strategies import CHART_KEYS, melody_texts
from hypothesis import given, settings
from hypothesis import strategies as st
from musicxml_made import chorus
from strategies import meters

from companion.chart.melody import parse_melody, section_melody
from companion.chart.reader import parse_chart
from companion.chart.writer import write_chart
from companion.errors import SheetError
from companion.importing.abc import read_abc
from companion.importing.abc_fields import key_of, meter_of, parts_of, quarter_bpm_of, unit_ticks_of
from companion.importing.compose import compose
from companion.importing.tune_book import tunes_of
from companion.theory.key import Key


def read(text: str):
    sheet = read_abc(text)
    song = compose(sheet, "made")
    return parse_chart(write_chart(song), id=song.id), list(sheet.remarks)


def test_a_whole_tune():
    song, remarks = read(TUNE)
    assert (song.title, song.key.name, song.tempo_bpm, song.pickup) == ("A Lamp in the Boathouse", "F", 132, 1)
    assert song.form == ("A", "End1", "A", "End2", "B", "C")
    assert chorus(song)[:5] == [["F6"], ["D7"], ["Gm7", "C7"], ["F6"], ["F6"]]
    assert [section.meter.name for section in song.sections.values()] == ["4/4", "4/4", "4/4", "3/4", "4/4"]
    assert [note.pitch.name for note in section_melody(song, "B") if note.pitch][:4] == ["D5", "Bb4", "F4", "A4"]
    assert remarks == [
        "bar 6: grace notes are left out of the melody",
        "bar 6: the lower notes are left out of the melody: it has one note at a time",
        "bar 7: 'Zz': 'Z' is not understood; expected a root from A to G; left out",
        "bar 11: the words 'Slower' are left out",
        "the words of the song are left out: a chart has no place for them",
        "bar 8: Fine has no D.C. or D.S.; left out",
        "the file does not say how eighths are felt; swing taken",
    ]


# (section of the standard, field, what it means)
FIELDS = (
    ("3.1.6 meter", meter_of, "6/8", "6/8"),
    ("3.1.6 common time", meter_of, "C", "4/4"),
    ("3.1.6 cut time", meter_of, "C|", "2/2"),
    ("3.1.6 complex meters", meter_of, "(2+3+2)/8", "7/8"),
    ("3.1.7 unit note length", unit_ticks_of, "1/16", "240"),
    ("3.1.8 tempo", quarter_bpm_of, "1/4=120", "120.0"),
    ("3.1.8 tempo of another beat", quarter_bpm_of, '3/8=50 "Slowly"', "75.0"),
    ("3.1.8 tempo of several beats", quarter_bpm_of, "1/4 3/8 1/4 3/8=40", "200.0"),
    ("3.1.9 parts", parts_of, "ABAC", "('A', 'B', 'A', 'C')"),
    ("3.1.9 parts with numbers and brackets", parts_of, "((AB)3.C)2", str(tuple("ABABABC" * 2))),
)


@pytest.mark.parametrize(("source", "reader", "text", "expected"), FIELDS)
def test_fields(source, reader, text, expected):
    assert str(reader(text)) == expected


# 3.1.14: the standard's table of modes, a row a signature.
SIGNATURES = {
    7: "C# A#m G#Mix D#Dor E#Phr F#Lyd B#Loc", 6: "F# D#m C#Mix G#Dor A#Phr BLyd E#Loc",
    5: "B G#m F#Mix C#Dor D#Phr ELyd A#Loc", 4: "E C#m BMix F#Dor G#Phr ALyd D#Loc", 3: "A F#m EMix BDor C#Phr DLyd G#Loc",
    2: "D Bm AMix EDor F#Phr GLyd C#Loc", 1: "G Em DMix ADor BPhr CLyd F#Loc", 0: "C Am GMix DDor EPhr FLyd BLoc",
    -1: "F Dm CMix GDor APhr BbLyd ELoc", -2: "Bb Gm FMix CDor DPhr EbLyd ALoc", -3: "Eb Cm BbMix FDor GPhr AbLyd DLoc",
    -4: "Ab Fm EbMix BbDor CPhr DbLyd GLoc", -5: "Db Bbm AbMix EbDor FPhr GbLyd CLoc",
    -6: "Gb Ebm DbMix AbDor BbPhr CbLyd FLoc", -7: "Cb Abm GbMix DbDor EbPhr FbLyd BbLoc",
}  # fmt: skip


@pytest.mark.parametrize("fifths", SIGNATURES)
def test_keys_and_modes(fifths):
    for text in SIGNATURES[fifths].split():
        key, found, _ = key_of(text)
        assert found == key.fifths == fifths, text
    assert key_of("Am clef=treble")[1:] == (0, "minor") and key_of("none")[1:] == (0, "")


# (section, body, chorus): repeats and endings of 4.8 and 4.9.
BODIES = (
    ("4.8 a repeat", '|:"C"c8|"F"f8:|"G"g8|', "C F C F G"),
    ("4.8 back to back", '|:"C"c8::"F"f8:|', "C C F F"),
    ("4.8 without a beginning", '"C"c8|"F"f8:|"G"g8|', "C F C F G"),
    ("4.8 from the latest double bar", '"C"c8||"F"f8|"G"g8:|"A"a8|', "C F G F G A"),
    ("4.8 and its endings", '"C"c8||"F"f8|1"G"g8:|2"A"a8:|', "C F G F A"),
    ("4.8 a beginning of its own wins", '|:"C"c8||"F"f8:|', "C F C F"),
    ("4.8 from the end of the last repeat", '"C"c8||"F"f8:|"G"g8:|', "C F F G G"),
    ("4.8 three times", '|:"C"c8::|"F"f8|', "C C C F"),
    ("4.9 endings", '|:"C"c8|1 "F"f8:|2 "G"g8||"A"a8|', "C F C G A"),
    ("4.9 endings with brackets", '|:"C"c8|[1 "F"f8:|[2 "G"g8|]', "C F C G"),
    ("4.9 an ending for several times", '|:"C"c8|[1,3 "F"f8:|[2 "G"g8:|"A"a8|', "C F C G C F A"),
    ("4.9 a range", '|:"C"c8|[1-2 "F"f8:|[3 "G"g8||', "C F C F C G"),
    ("4.14 D.C. al Fine", '"C"c8|"F"!fine!f8|"G"g8 !D.C.alfine!|', "C F G C F"),
    ("4.14 segno", '"C"c8|!segno!"F"f8|"G"g8!D.S.!|', "C F G F G"),
    ("4.18 N.C. and annotations", '"C"c4"N.C."c4|"^D.C."F8|', "C,N.C. N.C. C,N.C. N.C."),
    ("4.18 chords within the bar", '"C"c2"F"c2"G"c2z2|', "C,F,G"),
    ("4.18 a chord over a rest", '"C"z8|', "C"),
    ("4.5 bars of rest", '"C"c8|Z2|', "C C C"),
    ("common practice: no barline at a line's end", '"C"c4\n"F"c4|"G"c8', "C,F G"),
)  # fmt: skip


@pytest.mark.parametrize(("source", "body", "expected"), BODIES)
def test_bodies(source, body, expected):
    song, _ = read(f"X:1\nT:T\nM:4/4\nL:1/8\nK:C\n{body}\n")
    assert [",".join(symbols) for symbols in chorus(song)] == expected.split()


def test_the_form_of_parts():
    song, _ = read('X:1\nT:T\nM:4/4\nP:A2BA\nK:Am\nP:A\n"Am7"A8|"D7"d8|\nP:B\n"G7"g8|"C"c8|\n')
    assert song.form == ("A", "A", "B", "A") and song.key.name == "Am"
    assert (
        "the form names part C, which the tune does not have; the form is left out"
        in read('X:1\nT:T\nM:4/4\nP:ABC\nK:C\nP:A\n"C"c8|\nP:B\n"F"f8|\n')[1]
    )


def test_basses_in_small_letters_and_basses_that_are_none():
    """Tune books write "Am/c" and "G7/b" (common practice)."""
    song, remarks = read('X:1\nT:T\nM:4/4\nL:1/8\nK:C\n"C"c2"Am/c"c2"G7/b"B2"F/x"A2|\n')
    assert chorus(song) == [["C", "Am/C", "G7/B", "F"]]
    assert "bar 1: the bass of 'F/x' is not understood; F taken without it" in remarks


# 3.1.14: accidentals beside the key, and with exp instead of it; the pipes' keys.
KEY_SIGNS = (
    ("D", "F#5 G5 C5", "=c"), ("D ^g", "F#5 G#5 C#5", ""), ("D exp _b ^g", "F5 G#5 C5", ""), ("Hp", "F#5 G5 C#5", ""),
    ("HP", "F5 G5 C5", ""), ("G clef=treble", "F#5 G5 C5", ""), ("D=c", "F#5 G5 C5", ""),
)  # fmt: skip


@pytest.mark.parametrize(("key", "pitches", "c"), KEY_SIGNS)
def test_accidentals_of_the_key_field_are_obeyed(key, pitches, c):
    song, _ = read(f"X:1\nT:T\nM:3/4\nL:1/4\nK:{key}\nf g {c or 'c'}|\n")
    assert " ".join(note.pitch.name for note in section_melody(song, "A")) == pitches


@pytest.mark.parametrize("body", ["c4 -e4", "c4- e4", "c4- z4", "c4 - e4", "e4-|c4-e4|"])
def test_a_tie_to_nowhere_costs_no_more_than_itself(body):
    song, remarks = read(f"X:1\nT:T\nM:4/4\nL:1/8\nK:C\n{body.removesuffix('|')}|\n")
    assert not any("melody is left out" in remark for remark in remarks)
    assert len([note for note in section_melody(song, "A") if note.pitch]) >= 1


def test_a_book_of_tunes_is_read_by_number_or_title():
    book = "X:7\nT:Kettle\nK:C\nc8|\n\nX:9\nT:Spoon\nK:D\nd8|\n"
    assert [tune.words for tune in tunes_of(book)] == ["7 Kettle", "9 Spoon"]
    assert read_abc(book, "9").title == read_abc(book, "spoon").title == "Spoon"
    with pytest.raises(SheetError, match="did you mean Spoon"):
        read_abc(book, "Spon")


def test_tunes_that_share_a_number_are_told_apart_by_their_place():
    book = "X:1\nT:Kettle\nK:C\nc8|\n\nX:1\nT:Spoon\nK:D\nd8|\n"
    assert [tune.words for tune in tunes_of(book)] == ["1 Kettle", "2 Spoon"]
    assert read_abc(book, "2").title == "Spoon"


def test_chords_typed_above_the_staff_are_taken_where_there_are_no_others():
    song, remarks = read('X:1\nT:T\nM:4/4\nL:1/8\nK:C\n"^Am7"c4"^D7"c4|"_G"c8|\n')
    assert chorus(song) == [["Am7", "D7"], ["G"]]
    assert any("words above the staff such as 'Am7' are taken as chords" in remark for remark in remarks)
    song, remarks = read('X:1\nT:T\nM:4/4\nL:1/8\nK:C\n"^A"c8|"^B"c8|\n')
    assert sum("the sheet has no chord symbols" in remark for remark in remarks) == 1


# (field R:, meter, feel): reels and jigs have even eighths (common practice).
FEELS = (("R:reel\n", "4/4", "straight"), ("R:Jig\n", "6/8", "straight"), ("", "6/8", "straight"), ("", "4/4", "swing"))


@pytest.mark.parametrize(("field", "meter", "feel"), FEELS)
def test_a_feel_that_is_assumed_is_told(field, meter, feel):
    song, remarks = read(f"X:1\nT:T\n{field}M:{meter}\nL:1/8\nK:C\nc6|\n")
    assert song.feel == feel and any(f"how eighths are felt; {feel} taken" in remark for remark in remarks)


ODD = (
    ("X:1\nT:T\nK:C\nc8|", "no meter is given; 4/4 taken"),
    ("X:1\nT:T\nM:9/7\nK:C\nc8|", "the field 'M:9/7' is not understood; left out"),
    ("X:1\nT:T\nM:4/4\nK:C\nc8|V:2\nd8|", "is not understood"),
    ("X:1\nT:T\nM:4/4\nV:1\nV:2\nK:C\nV:1\nc8|\nV:2\nE8|", "of several voices only '1' is read"),
    ("X:1\nT:T\nM:4/4\nK:C\nc8&e8|", "bar 1: a second voice in the bar is left out"),
    ("X:1\nT:T\nM:4/4\nK:C\nc8 @|", "bar 1: '@' is not understood; left out"),
    ("X:1\nT:T\nM:4/4\nK:D dor\nc8|", "a chart has no dorian mode; Dm taken, with signs where the notes differ"),
    (
        "X:1\nT:T\nM:4/4\nK:C\nc8|\n\nX:2\nT:U\nK:C\nd8|",
        "the file holds 2 tunes; only the first one is read; another by its number or title: 1 T, 2 U",
    ),
    ('X:1\nT:T\nM:4/4\nK:C\n"C;G"c8|', "bar 1: of 'C;G' only the first chord is taken"),
    (
        "X:1\nT:T\nM:4/4\nK:C\nc8|d4|e8|",
        "bar 2: it holds 2 beats where 4/4 has 4; it stands in a section of its own in 2/4",
    ),
)


@pytest.mark.parametrize(("text", "remark"), ODD)
def test_what_is_not_understood_is_told(text, remark):
    _, remarks = read(text + "\n")
    assert any(remark in one for one in remarks), remarks


@pytest.mark.parametrize("text", ["", "hello", "X:1\nT:T\nK:C\n", '{"a": 1}', "X:1\nM:4/4\nK:C\nT:late\n"])
def test_what_is_no_tune(text):
    with pytest.raises(SheetError):
        read(text)


@settings(max_examples=40)
@given(st.data(), meters(), st.sampled_from(CHART_KEYS))
def test_a_melody_of_a_chart_comes_in_as_the_same_notes(data, meter, key_name):
    count = data.draw(st.integers(2, 5))
    text = data.draw(melody_texts(meter, count))
    key = Key.parse(key_name)
    body = "|\n".join(line.rstrip(" |") for line in text.replace("||", "|").strip().split("\n")) + "|"
    song, remarks = read(f"X:1\nT:T\nM:{meter}\nL:1/8\nK:{key_name}\n{body}\n")
    notes = parse_melody(text, meter, key, count)
    assert not [remark for remark in remarks if remark.startswith("bar")]
    assert song.sections["A"].key.fifths == key.fifths
    sounding = [(note.start_tick, note.ticks, note.pitch.midi) for note in notes if note.pitch]
    found = [] if song.sections["A"].melody is None else section_melody(song, "A")
    assert [(note.start_tick, note.ticks, note.pitch.midi) for note in found if note.pitch] == sounding


def test_music21_reads_the_same_bars_and_notes():
    """music21 10.5 (BSD licence) reads our tune of the common signs alike; what it passes over is not in it."""
    music21 = pytest.importorskip("music21")

    text = "%abc-2.1\nX:1\nT:T\nM:4/4\nL:1/8\nK:Bb\nF2|B2d2 ^c>d f2|(3gfe d2 c4|_A4-A2 =A2|B6 F2|\n"
    sheet = read_abc(text)
    part = music21.converter.parse(text, format="abc").parts[0]
    measures = list(part.getElementsByClass(music21.stream.Measure))
    assert len(measures) == len(sheet.bars)
    for measure, bar in zip(measures, sheet.bars):
        theirs = [(Fraction(note.offset), Fraction(note.quarterLength), note.pitch.midi) for note in measure.notes]
        assert [(note.offset, note.length, note.pitch.midi) for note in bar.notes] == theirs


@settings(max_examples=60)
@given(st.text(st.sampled_from('ABCcdez|:[]12"(3!{}&%-^_=/>< \nXKMPVL$') | st.characters(), max_size=120))
def test_any_text_ends_in_a_song_or_in_a_sentence(text):
    for head in ("", "X:1\nT:T\nM:4/4\nK:C\n"):
        try:
            song, _ = read(head + text)
        except SheetError as error:
            assert str(error)
        else:
            assert song.unroll()


def test_the_sign_for_the_end_of_a_line_is_understood():
    """ABC 2.1, 6.1.1: "$" breaks the line of the score, wherever it stands."""
    head = "X:1\nT:Two Lines\nM:4/4\nL:1/4\nK:C\n"
    broken = read(head + '"C"CDEF|"G7"GABc|$\n"C"c4|$]\n')
    plain = read(head + '"C"CDEF|"G7"GABc|\n"C"c4|]\n')
    assert broken == plain
