"""Keys, and tones moved from one to another, against music21."""

from __future__ import annotations

import pytest
from hypothesis import given
from strategies import keys, tones

from companion.theory.key import Key, move_tone
from companion.theory.pitch import LETTERS, Tone

TONICS = [Tone(letter, alter) for letter in LETTERS for alter in (-1, 0, 1)]


@pytest.mark.parametrize("mode", ["major", "minor"])
def test_signatures_agree_with_music21(mode):
    from music21.key import Key as TheirKey

    for tonic in TONICS:
        assert Key(tonic, mode).fifths == TheirKey(tonic.name.replace("b", "-"), mode).sharps, tonic


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Bb", "Bb"),
        ("B♭", "Bb"),
        ("F#m", "F#m"),
        ("F♯ minor", "F#m"),
        ("Gmin", "Gm"),
        ("C-", "Cm"),
        ("Eb major", "Eb"),
        (" D ", "D"),
    ],
)
def test_keys_are_read(text, name):
    assert Key.parse(text).name == name == str(Key.parse(text))


@pytest.mark.parametrize("text", ["", "H", "bb", "Cmaj7", "C minor seventh", "C##", "dorian"])
def test_other_texts_are_no_key(text):
    with pytest.raises(ValueError, match="not a key"):
        Key.parse(text)


@given(keys())
def test_usual_keys_have_at_most_six_signs(key):
    assert Key.parse(key.name) == key
    assert abs(key.fifths) <= 6


@pytest.mark.parametrize("new", TONICS, ids=str)
def test_moved_tones_agree_with_music21(new):
    from music21.interval import Interval
    from music21.pitch import Pitch

    old = Tone("C")
    interval = Interval(Pitch("C4"), Pitch(new.name.replace("b", "-") + "4"))
    for tone in TONICS:
        expected = Pitch(tone.name.replace("b", "-") + "4").transpose(interval)
        assert move_tone(tone, old, new).name == expected.name.replace("-", "b")


@given(tones(), tones(), tones())
def test_moving_there_and_back(tone, old, new):
    assert move_tone(move_tone(tone, old, new), new, old) == tone
    assert move_tone(old, old, new) == new
