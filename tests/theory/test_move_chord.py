"""Chords moved to another key: the same chord there, in a spelling one can read."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from strategies import chord_symbols, keys, printed

from companion.theory.key import Key
from companion.theory.pitch import Tone
from companion.theory.symbols import move_chord, parse_chord

ODD_NAMES = {"B#", "E#", "Cb", "Fb"}


def moved(symbol: str, old: str, new: str, key: str | None = None) -> str:
    chord = move_chord(parse_chord(symbol), Tone.parse(old), Tone.parse(new), Key.parse(key) if key else None)
    assert parse_chord(chord.symbol) == chord
    return chord.symbol


@pytest.mark.parametrize(
    ("symbol", "old", "new", "key", "expected"),
    [  # worked out by hand, common practice
        ("Dm7", "C", "Bb", "Bb", "Cm7"),
        ("C7/Bb", "C", "D", "D", "D7/C"),
        ("C6/9/E", "C", "Eb", "Eb", "Eb6/9/G"),
        ("F", "C", "Gb", "Gb", "Cb"),  # C flat is at home in G flat major
        ("F", "C", "Gb", None, "B"),
        ("F7", "C", "Cb", "Cb", "Fb7"),
        ("Bm7b5", "C", "F#", "F#", "E#m7b5"),
        ("Bm7b5", "C", "F#", None, "Fm7b5"),
        ("Bb7", "C", "Gb", "Gb", "E7"),  # F flat is not in G flat major
        ("Db7", "C", "Ab", "Ab", "A7"),  # B double flat
        ("Ebmaj7", "C", "Gb", "Gb", "Amaj7"),
        ("G#dim7", "C", "E", "E", "Cdim7"),  # B sharp
        ("D#dim7", "C", "B", "B", "Ddim7"),  # C double sharp
        ("G#dim7", "Am", "F#m", "F#m", "E#dim7"),  # the raised seventh of F sharp minor leads to its tonic
        ("F/A", "C", "Gb", None, "B/D#"),  # the bass goes with the root's spelling
        ("Am/C", "C", "B", "B", "G#m/B"),
        ("Gm/Bb", "F", "Gb", "Gb", "Abm/Cb"),  # C flat is the chord's own third
        ("D7/F#", "C", "C#", None, "D#7/G"),  # a double sharp in the bass
        ("D7/F", "C", "C#", None, "D#7/F#"),
        ("D7(b9)", "C", "D", "D", "E7(b9)"),
        ("D-7", "C", "F", "F", "G-7"),
        ("B♭7(♭9)/A♭", "C", "F", "F", "E♭7(♭9)/D♭"),
        ("F♯ø", "C", "D", "D", "G♯ø"),
        ("C#b5", "C#", "C", "C", "C(b5)"),  # "Cb5" would be a fifth on C flat
        ("C#b9#11", "C#", "C", "C", "C(b9)#11"),
        ("C#♭5", "C#", "C", "C", "C(♭5)"),
        ("B#", "C", "C", None, "C"),
    ],
)
def test_worked_examples(symbol, old, new, key, expected):
    assert moved(symbol, old.rstrip("m"), new.rstrip("m"), key) == expected


@settings(deadline=None)  # a busy machine is no fault
@given(chord_symbols(most_extras=2), keys(), keys())
def test_a_moved_chord_is_the_same_chord(symbol, old, new):
    chord = parse_chord(symbol)
    there = move_chord(chord, old.tonic, new.tonic, new)
    shift = new.tonic.pc - old.tonic.pc
    assert (there.degrees, there.family) == (chord.degrees, chord.family)
    assert there.root.pc == (chord.root.pc + shift) % 12
    assert (there.bass and there.bass.pc) == (chord.bass and (chord.bass.pc + shift) % 12)
    assert parse_chord(there.symbol) == there
    back = move_chord(there, new.tonic, old.tonic, old)
    assert back.pitch_classes == chord.pitch_classes


@settings(deadline=None)  # a busy machine is no fault
@given(chord_symbols(most_extras=1), keys(), keys())
def test_moved_roots_are_readable(symbol, old, new):
    bare = move_chord(parse_chord(symbol), old.tonic, new.tonic)
    assert abs(bare.root.alter) < 2
    assert bare.root.name not in ODD_NAMES
    at_home = move_chord(parse_chord(symbol), old.tonic, new.tonic, new)
    assert abs(at_home.root.alter) < 2
    if at_home.root.name in ODD_NAMES:
        number = (ord(at_home.root.letter) - ord(new.tonic.letter)) % 7 + 1
        assert at_home.root.pc in {new.tonic.degree(f"{sign}{number}").pc for sign in ("", "b")}
    if bare.bass:
        assert abs(bare.bass.alter) < 2
        assert bare.bass.name not in ODD_NAMES or bare.bass in bare.tones


@settings(deadline=None)  # a busy machine is no fault
@given(chord_symbols(most_extras=1), keys(), keys())
def test_the_kind_of_sign_is_kept(symbol, old, new):
    there = move_chord(parse_chord(printed(symbol)), old.tonic, new.tonic, new).symbol
    if "♭" in printed(symbol) or "♯" in printed(symbol):
        assert "b" not in there
        assert "#" not in there
