"""Spelled tones and pitches, against music21 where it has the same notion."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import tones

from companion.theory.pitch import LETTERS, Pitch, Tone, degree_interval

# Degree -> the interval's name in music21 (common practice).
INTERVALS = {
    "1": "P1", "b2": "m2", "2": "M2", "#2": "A2", "b3": "m3", "3": "M3", "4": "P4", "#4": "A4", "b5": "d5", "5": "P5",
    "#5": "A5", "b6": "m6", "6": "M6", "bb7": "d7", "b7": "m7", "7": "M7", "b9": "m9", "9": "M9", "#9": "A9",
    "b11": "d11", "11": "P11", "#11": "A11", "b13": "m13", "13": "M13", "#13": "A13",
}  # fmt: skip


def their_name(tone_name: str) -> str:
    return tone_name.replace("b", "-")


@pytest.mark.parametrize("octave", range(-1, 10))
def test_midi_numbers_agree_with_music21(octave):
    """MIDI 1.0: middle C, C4, is note number 60; music21 counts alike."""
    from music21.pitch import Pitch as TheirPitch

    for letter in LETTERS:
        for alter in range(-2, 3):
            pitch = Pitch(Tone(letter, alter), octave)
            theirs = TheirPitch(their_name(pitch.tone.name))
            theirs.octave = octave
            assert pitch.midi == theirs.ps
            assert pitch.tone.pc == theirs.pitchClass


@pytest.mark.parametrize("degree", INTERVALS)
def test_degrees_agree_with_music21(degree):
    from music21.interval import Interval
    from music21.pitch import Pitch as TheirPitch

    theirs = Interval(INTERVALS[degree])
    assert degree_interval(degree)[1] == theirs.semitones
    for letter in LETTERS:
        for alter in (-1, 0, 1):
            root = Tone(letter, alter)
            expected = TheirPitch(their_name(root.name) + "4").transpose(theirs)
            assert root.degree(degree).name == expected.name.replace("-", "b")


@pytest.mark.parametrize(
    ("name", "midi"),
    [("C4", 60), ("A4", 69), ("Cb4", 59), ("B#3", 60), ("E2", 40), ("F3", 53), ("C-1", 0), ("Bb-1", 10), ("G9", 127)],
)
def test_known_midi_numbers(name, midi):
    """C4 = 60 and A4 = 69 as MIDI 1.0 has them; the rest by counting."""
    pitch = Pitch.parse(name)
    assert pitch.midi == midi
    assert pitch.name == name == str(pitch)


@pytest.mark.parametrize("text", ["", "H", "c", "C♭♭♭♭", "Cm", "4", "C 4"])
def test_other_texts_are_no_tones(text):
    with pytest.raises(ValueError, match="not a note name"):
        Tone.parse(text)


@pytest.mark.parametrize("text", ["", "C", "4", "Cx", "C44", "H2", "C--1", "C4 "])
def test_other_texts_are_no_pitches(text):
    with pytest.raises(ValueError, match="expected"):
        Pitch.parse(text)


@pytest.mark.parametrize("degree", ["", "0", "b", "x7", "b0", "7b", "00", "###4"])
def test_other_texts_are_no_degrees(degree):
    with pytest.raises(ValueError, match="not a scale degree"):
        degree_interval(degree)


def test_signs_of_print_and_keyboard():
    assert Tone.parse("B♭") == Tone.parse("Bb") == Tone("B", -1)
    assert Tone.parse("F♯") == Tone("F", 1)
    assert Tone.parse("F𝄪") == Tone.parse("Fx") == Tone.parse("F##") == Tone("F", 2)
    assert Tone.parse("E𝄫") == Tone.parse("Ebb") == Tone("E", -2)


@given(tones(2))
def test_names_are_read_back(tone):
    assert Tone.parse(tone.name) == tone == Tone.parse(str(tone))


@given(tones(2), st.integers(-1, 9))
def test_pitch_names_are_read_back(tone, octave):
    assert Pitch.parse(Pitch(tone, octave).name) == Pitch(tone, octave)


@given(tones(2), st.integers(0, 115))
def test_at_or_above_is_the_lowest_there(tone, midi):
    pitch = tone.at_or_above(midi)
    assert pitch.tone == tone
    assert midi <= pitch.midi < midi + 12
