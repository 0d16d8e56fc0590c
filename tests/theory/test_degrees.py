"""Degrees as musicians write them."""

from __future__ import annotations

import pytest

from companion.theory.degrees import degree_in
from companion.theory.pitch import Tone, degree_interval
from companion.theory.symbols import parse_chord


@pytest.mark.parametrize(
    ("chord", "notes"),
    [
        # Common practice: the names that lead sheets and teachers use.
        ("C7", {"C": "1", "Db": "b9", "D": "9", "Eb": "#9", "D#": "#9", "E": "3", "F": "11", "F#": "#11", "Gb": "b5", "G": "5"}),
        ("C7", {"Ab": "b13", "A": "13", "Bb": "b7", "B": "7"}),
        ("Cmaj7", {"B": "7", "F#": "#11", "A": "13", "D": "9"}),
        ("Cm7", {"Eb": "b3", "F": "11", "A": "13", "Gb": "b5", "E": "3"}),
        ("C6", {"A": "6", "D": "9", "Ab": "b6"}),
        ("C", {"A": "6", "B": "7", "D": "9"}),
        ("Cm7b5", {"Gb": "b5", "Ab": "b13", "G": "5"}),
        ("Cdim7", {"A": "bb7", "Bbb": "bb7", "D": "9"}),
        ("C7sus4", {"F": "4", "A": "13", "E": "3"}),
        ("C7#5", {"G#": "#5", "Ab": "#5", "G": "5"}),
        ("C7alt", {"Db": "b9", "Eb": "#9", "Gb": "b5", "Ab": "#5"}),
        ("C/E", {"E": "3", "C": "1"}),
        ("F#m7", {"A": "b3", "E": "b7", "G#": "9"}),
        ("Bb7", {"Db": "#9", "C#": "#9", "E": "#11", "Fb": "b5"}),
    ],
)  # fmt: skip
def test_the_names_of_degrees(chord, notes):
    parsed = parse_chord(chord)
    assert {note: degree_in(Tone.parse(note), parsed) for note in notes} == notes


@pytest.mark.parametrize(
    "symbol", ["C", "Cm", "C6", "Cm6", "C7", "Cmaj7", "Cm7", "Cm7b5", "Cdim7", "C7sus4", "C9", "C5", "Caug"]
)
def test_every_degree_lies_where_its_note_does(symbol):
    chord = parse_chord(symbol)
    for letter in "CDEFGAB":
        for alter in (-2, -1, 0, 1, 2):
            tone = Tone(letter, alter)
            assert (degree_interval(degree_in(tone, chord))[1] - tone.pc) % 12 == 0
