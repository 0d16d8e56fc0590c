"""Repeated strains with upbeats, double bars, ties over a section's end: the form that a musician writes (common practice).

Sources: ABC 2.1 (December 2011), 4.8 repeats and 4.9 endings; MusicXML 4.0, <repeat>, <transpose>, <score-timewise>.
"""

from __future__ import annotations

import pytest

from companion.chart.melody import chorus_melody
from companion.chart.reader import parse_chart
from companion.chart.writer import write_chart
from companion.importing.abc import read_abc
from companion.importing.compose import compose


def read(body: str, head: str = ""):
    sheet = read_abc(f"X:1\nT:T\nM:4/4\nL:1/8\n{head}K:C\n{body}\n")
    song = compose(sheet, "made")
    return parse_chart(write_chart(song), id=song.id), list(sheet.remarks)


# (body, form, bars of the chorus, notes in playing order)
STRAINS = (
    ("|:D2|G8|A8|B6:|:d2|g8|a8|b6:|", "A A B B", 12, "D G A B D G A B d g a b d g a b"),
    ("D2|G8|A8|B6:|:d2|g8|a8|b6:|", "A A B B", 12, "D G A B D G A B d g a b d g a b"),
    ("D2|:G8|A8|B6:|", "A A", 6, "D G A B G A B"),
    ("D2|:G8|A8|B6 D2:|:d8|a8|", "A A B", 8, "D G A B D G A B D d a"),
    ("|:D2|G8|1 A6:|2 B6|:d2|g8|a6:|", "A End1 A End2 B B", 8, "D G A D G B d g a d g a"),
    ("|:G8|A8:|d2|:g8|a6 d2:|", "A A B B", 8, "G A G A d g a d g a d"),
    ("P:A\n|:D2|G8|B6:|\nP:B\n|:d2|g8|b6:|", "A A B B", 8, "D G B D G B d g b d g b"),
    ("G8|A8||G8|A8||d8|e8||G8|A8|]", "A A B A", 8, "G A G A d e G A"),
    ("D2|G8|A6||D2|G8|A6||e2|d8|e6||D2|G8|A6|]", "A A B A", 8, "D G A D G A e d e D G A"),
    ("|:c8|1 f8:|2 g8|a8:|b8|", "A End1 A End2 B B C", 7, "c f c g a a b"),
    ("|:c8|1 f8:|2 g8||a8:|b8|", "A End1 A End2 B B C", 7, "c f c g a a b"),
    ("|:c8|1 f8:|g8|]a8:|", "A End1 A End2 B B", 6, "c f c g a a"),  # tune books often print the 1 alone
    ("c8|d8:[|]|]e8|f8:|", "A A B B", 8, "c d c d e f e f"),  # any run of bar lines, brackets and colons (4.8)
    ("D2|G8|B6|]d2|:g8|a8:|", "A B B", 6, "D G B d g a g a"),
    ("|:D2|G8|A8|B6:|d2|:g8|a8:|", "A End1 A End2 B B", 10, "D G A B D G A B d g a g a"),  # an upbeat to the first time alone
    ('G8|A8|e8|a6"D.S."b2 "Segno"|]', "A", 4, "G A e a b"),
)  # fmt: skip


def names(song) -> list[str]:
    return [
        note.pitch.tone.name.lower() if note.pitch.octave > 4 else note.pitch.tone.name
        for note in chorus_melody(song)
        if note.pitch
    ]


@pytest.mark.parametrize(("body", "form", "bars", "notes"), STRAINS)
def test_a_strain_is_one_section_with_its_upbeat(body, form, bars, notes):
    song, _ = read(body)
    assert " ".join(song.form) == form and len(song.unroll()) == bars
    assert names(song) == notes.split()


def test_the_chord_of_a_pickup_is_kept():
    song, remarks = read('|:"G7"D2|"C"G8|"F"A6:|:"D7"d2|"G"g8|"C"b6:|')
    assert [placed.chord.symbol for placed in song.sections["A"].pickup_chords] == ["G7"]
    chords = [" ".join(placed.chord.symbol for placed in bar.chords) for bar in song.unroll()]
    assert chords == ["C", "F G7", "C", "F D7", "G", "C D7", "G", "C"]
    assert not any("left out" in remark for remark in remarks)


def test_a_tie_over_the_end_of_a_section_is_one_note():
    song, _ = read("c8|g8-||g8|e8|]")
    assert song.form == ("A", "B")
    assert [(note.start_tick, note.ticks) for note in chorus_melody(song)][1] == (3840, 7680)


def test_a_pickup_that_takes_the_end_of_a_whole_bar_is_told():
    song, remarks = read("|:D2|G8|A8:|")
    assert names(song) == ["D", "G", "A", "D", "G", "A"] and len(song.unroll()) == 4
    assert any("the pickup takes the place of the end of the bar before it" in remark for remark in remarks)


# (body, form, bars of the chorus, notes, a piece of what is told): a musician reads on as if the slip were not there.
SLIPS = (
    ("|:G8|A7|B8|c8:|", "A A", 8, "G A B c G A B c", "bar 2: it holds 3.5 beats where 4/4 has 4; filled up with a rest"),
    ("|:G8|A8|B8|c6:|d8|", "A A B", 9, "G A B c G A B c d", "bar 4: it holds 3 beats where 4/4 has 4; filled up with a rest"),
    ("|:G8|A8 B8|c8:|d8|e8|", "A A B", 10, "G A B c G A B c d e", "bar 2: it holds 8 beats where 4/4 has 4; the missing bar line"),
    ("|:D2|G8|A8|B6:||:d2g8|a8|b6:|", "A A B B", 12, "D G A B D G A B d g a b d g a b", "bar 4: no bar line stands behind its pickup"),
    ("|:G8|A8|B4c5|d8:|", "A A", 8, "G A B c d G A B c d", "bar 3: it holds 4.5 beats where 4/4 has 4; a note is shortened"),
    ("|:G6|A6|B6|c6:|", "A A", 8, "G A B c G A B c", "most bars hold 3 beats where 4/4 has 4; read in 3/4"),
    ("G8|=20\nA8|B8|", "A", 3, "G A B", "bar 2: '=' is not understood"),
)  # fmt: skip


@pytest.mark.parametrize(("body", "form", "bars", "notes", "told"), SLIPS)
def test_a_slip_of_the_writer_costs_no_section(body, form, bars, notes, told):
    song, remarks = read(body)
    assert " ".join(song.form) == form and len(song.unroll()) == bars
    assert names(song) == notes.split()
    assert any(remark.startswith(told) for remark in remarks)


def test_a_bar_line_that_is_set_cuts_notes_and_chords_where_they_are():
    song, _ = read('|:"C"G8|"F"A4 B6 "G"c6|"C"c8:|d8|e8|')
    assert [[(placed.symbol, placed.beats) for placed in bar.chords] for bar in song.unroll()][1:3] == [
        [("F", 4)], [("F", 1), ("G", 3)],
    ]  # fmt: skip
    assert [(note.pitch.name, note.ticks) for note in chorus_melody(song)][1:4] == [
        ("A4", 1920),
        ("B4", 2880),
        ("C5", 2880),
    ]


def test_signs_in_the_wrong_place_cost_no_note():
    assert [note.ticks for note in chorus_melody(read("(3(3GAB c6|G>-G A6|")[0]) if note.pitch] == [
        320,
        320,
        320,
        2880,
        960,
        2880,
    ]
