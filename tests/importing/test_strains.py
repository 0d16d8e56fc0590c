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
