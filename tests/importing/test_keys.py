"""The key of a sheet whose signature does not say it, and other ways of strangers: modes, tunes without a signature, chords in brackets.

Modes and their keynotes: common practice; ABC 2.1, 3.1.14 lists the signatures that the modes have.
"""

from __future__ import annotations

import pytest

from companion.chart.melody import chorus_melody
from companion.chart.reader import parse_chart
from companion.chart.writer import write_chart
from companion.importing.abc import read_abc
from companion.importing.compose import compose


def read(text: str):
    sheet = read_abc(text)
    song = compose(sheet, "made")
    return parse_chart(write_chart(song), id=song.id), list(sheet.remarks)


# key field of ABC -> our key, and how the file's notes F and B sound there (as music21 reads the signature)
MODES = (
    ("Ddor", "Dm", ("F5", "B4")), ("Gmix", "G", ("F5", "B4")), ("Ephr", "Em", ("F5", "B4")), ("Flyd", "F", ("F5", "B4")),
    ("Amix", "A", ("F#5", "B4")), ("Gdor", "Gm", ("F5", "Bb4")), ("Aaeo", "Am", ("F5", "B4")), ("Bloc", "Bm", ("F5", "B4")),
)  # fmt: skip


@pytest.mark.parametrize(("field", "key", "names"), MODES)
def test_a_mode_keeps_its_keynote_and_its_notes(field, key, names) -> None:
    song, _ = read(f"X:1\nT:T\nM:4/4\nL:1/4\nK:{field}\nf2 B2|")
    assert song.key.name == key
    assert tuple(note.pitch.name for note in chorus_melody(song)) == names


def test_a_tune_without_a_signature_is_at_home_where_it_begins_and_ends() -> None:
    """In F, with B flats written one by one and no signature at all."""
    body = '"F"c2 A2|"Bb"_B2 G2|"C7"G2 E2|"F"F4|'
    song, remarks = read(f"X:1\nT:T\nM:4/4\nL:1/4\nK:C\n{body}")
    assert song.key.name == "F" and "no key signature is written; F taken, where the tune begins and ends" in remarks
    assert [note.pitch.name for note in chorus_melody(song)] == ["C5", "A4", "Bb4", "G4", "G4", "E4", "F4"]


@pytest.mark.parametrize(
    ("key", "body"),
    [
        ("C", '"C"c2 A2|"F"A4|"G7"B4|"C"c4|'),
        ("C", '"F"c2 A2|"C"c4|"G7"B4|"C"c4|'),  # ends elsewhere
        ("C", '"G"d2 B2|"C"c4|"F"A4|"G"B4|'),  # F natural belongs to C
        ("G", '"C"c2 e2|"F"=f4|"C"c4|"C"c4|'),  # a signature is believed
        ("Am", '"Am"c2 A2|"E7"^G4|"Am"A4|'),
    ],
)  # fmt: skip
def test_a_signature_is_believed_else(key, body) -> None:
    song, _ = read(f"X:1\nT:T\nM:4/4\nL:1/4\nK:{key}\n{body}")
    assert song.key.name == key


def test_a_chord_that_ends_with_a_bracket_and_one_in_brackets() -> None:
    """ABC 2.1, 4.18: a chord in brackets is another one to play there; the alteration of one is a part of it."""
    song, remarks = read('X:1\nT:T\nM:4/4\nL:1/4\nK:C\n"C7(b9)"c4|"(Am7)"c4|"Dm(maj7)"c4|"C6(9)"c4|')
    assert [bar.chords[0].symbol for bar in song.unroll()] == ["C7(b9)", "Am7", "Dm(maj7)", "C6(9)"]
    assert not [remark for remark in remarks if remark.startswith("bar")]


def test_the_order_of_the_parts_below_the_key_is_one() -> None:
    """ABC 2.1, 3.1.9 wants it above; below, before any bar, it can mean nothing else."""
    song, _ = read('X:1\nT:T\nM:4/4\nL:1/4\nK:C\nP:AABA\nP:A\n"C"c4|"F"c4|\nP:B\n"G7"d4|"C"e4|')
    assert song.form == ("A", "A", "B", "A")
