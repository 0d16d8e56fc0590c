"""Chords in root position: the tones against an outside library, the places and fingers against tables of the trade."""

from __future__ import annotations

from itertools import combinations, pairwise, product
from pathlib import Path

import pytest
from hypothesis import given
from strategies import chord_symbols

from companion.chart.reader import read_chart
from companion.chart.transpose import transpose
from companion.hands.limits import DEFAULT_LIMITS, lowest_for
from companion.hands.root_fingers import FINGERINGS
from companion.hands.root_position import (
    HAND_CHOICES,
    LEFT_HIGHEST,
    LEFT_LOWEST,
    basic_degrees,
    bass_words,
    close_chord,
    left_out_words,
)
from companion.theory.key import Key
from companion.theory.pitch import LETTERS
from companion.theory.qualities import COMMON_QUALITIES
from companion.theory.symbols import parse_chord

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "Gb", "G", "Ab", "A", "Bb", "B")

# Semitones above the root, of a chord's basic tones: handbooks of harmony, common practice.
SEMITONES = {
    "": (0, 4, 7),
    "m": (0, 3, 7),
    "dim": (0, 3, 6),
    "aug": (0, 4, 8),
    "maj7": (0, 4, 7, 11),
    "7": (0, 4, 7, 10),
    "m7": (0, 3, 7, 10),
    "m7b5": (0, 3, 6, 10),
    "dim7": (0, 3, 6, 9),
    "mMaj7": (0, 3, 7, 11),
    "6": (0, 4, 7, 9),
    "m6": (0, 3, 7, 9),
    "6/9": (0, 4, 7, 9),
    "sus4": (0, 5, 7),
    "sus2": (0, 2, 7),
    "7sus4": (0, 5, 7, 10),
    "7alt": (0, 4, 8, 10),
    "9": (0, 4, 7, 10),
    "maj9": (0, 4, 7, 11),
    "m11": (0, 3, 7, 10),
    "13": (0, 4, 7, 10),
    "7b9": (0, 4, 7, 10),
    "add9": (0, 4, 7),
    "5": (0, 7),
}
# Steps from note to note in semitones (common practice; by subtraction from the rows above).
STEPS = {"maj7": (4, 3, 4), "7": (4, 3, 3), "m7": (3, 4, 3), "m7b5": (3, 3, 4), "dim7": (3, 3, 3)}

# The names of kinds that music21 shares with MusicXML.
MUSIC21_KINDS = {
    "": "major",
    "m": "minor",
    "dim": "diminished",
    "aug": "augmented",
    "maj7": "major-seventh",
    "7": "dominant-seventh",
    "m7": "minor-seventh",
    "m7b5": "half-diminished-seventh",
    "dim7": "diminished-seventh",
    "mMaj7": "minor-major-seventh",
    "aug7": "augmented-seventh",
    "6": "major-sixth",
    "m6": "minor-sixth",
    "sus4": "suspended-fourth",
    "sus2": "suspended-second",
    "5": "power",
    "9": "dominant-ninth",
    "maj9": "major-ninth",
    "m9": "minor-ninth",
    "11": "dominant-11th",
    "m11": "minor-11th",
    "13": "dominant-13th",
    "maj13": "major-13th",
    "m13": "minor-13th",
}

# Smallest and largest practical span in semitones between two fingers of the right hand: Parncutt and others 1997, table 1. The left hand's
# are the same with the lower finger of a pair below. Read in re-implementations of the model.
PRACTICAL = {
    "12": (-5, 10), "13": (-4, 12), "14": (-3, 14), "15": (-1, 15), "23": (1, 5),
    "24": (1, 7), "25": (2, 10), "34": (1, 4), "35": (1, 7), "45": (1, 5),
}  # fmt: skip


@pytest.mark.parametrize("hand", HAND_CHOICES)
def test_the_tones_of_root_position_in_every_key(hand: str) -> None:
    for quality, root in product(SEMITONES, ROOTS):
        close = close_chord(parse_chord(root + quality), hand)
        assert close.pitches[0].tone.name == root
        assert tuple(midi - close.midi[0] for midi in close.midi) == SEMITONES[quality], root + quality
        if quality in STEPS:
            assert tuple(upper - lower for lower, upper in pairwise(close.midi)) == STEPS[quality], root + quality


def test_tones_and_spelling_are_those_of_music21() -> None:
    from music21 import chord as chords
    from music21 import harmony

    for quality, kind in MUSIC21_KINDS.items():
        for root in ROOTS:
            theirs = harmony.ChordSymbol(root=root.replace("b", "-"), kind=kind)
            ours = close_chord(parse_chord(root + quality))
            names = [pitch.name.replace("-", "b") for pitch in theirs.pitches[:4]]  # what is above are tensions
            assert [pitch.tone.name for pitch in ours.pitches] == names, root + quality
            # Its reading of inversions is dear: a few keys, and those that are no other chord's.
            if root in ("C", "Gb") and quality in STEPS:
                for inversion in range(len(names)):
                    close = close_chord(parse_chord(root + quality), "right", inversion)
                    spelled = chords.Chord([name.replace("b", "-") for name in close.names])
                    assert (spelled.root().name.replace("-", "b"), spelled.inversion()) == (root, inversion)
                    assert [pitch.midi for pitch in spelled.pitches] == list(close.midi)


@given(chord_symbols())
def test_every_symbol_there_is_lies_in_close_position(symbol: str) -> None:
    chord = parse_chord(symbol)
    for hand in HAND_CHOICES:
        for inversion in range(len(basic_degrees(chord))):
            close = close_chord(chord, hand, inversion)
            assert list(close.midi) == sorted(set(close.midi)) and close.span < 12
            assert close.inversion == inversion and set(close.degrees) == set(basic_degrees(chord))
            assert {pitch.tone.pc for pitch in close.pitches} <= chord.pitch_classes
            assert set(close.degrees) | set(close.left_out) == set(chord.degrees)
            assert len(close.fingers.split("-")) == len(close.pitches) <= 4
            assert close.id.split()[0] == chord.root.name


def test_letters_skip_exactly_one_wherever_thirds_are_stacked() -> None:
    for quality, root in product(COMMON_QUALITIES, ROOTS):
        close = close_chord(parse_chord(root + quality))
        numbers = [degree.lstrip("b#") for degree in close.degrees]
        if numbers == ["1", "3", "5", "7"][: len(numbers)] and len(numbers) > 2:
            letters = [LETTERS.index(pitch.tone.letter) for pitch in close.pitches]
            assert all((upper - lower) % 7 == 2 for lower, upper in pairwise(letters)), close.names


def test_each_inversion_moves_the_lowest_note_an_octave_up() -> None:
    for root in ROOTS:
        for quality in SEMITONES:
            chord = parse_chord(root + quality)
            for inversion in range(1, len(basic_degrees(chord))):
                before = close_chord(chord, "right", inversion - 1).midi
                after = close_chord(chord, "right", inversion).midi
                moved = sorted((*before[1:], before[0] + 12))
                assert [note - after[0] for note in after] == [note - moved[0] for note in moved]


def test_inversions_are_counted_on_round() -> None:
    triad = parse_chord("F")
    assert close_chord(triad, "right", 3) == close_chord(triad, "right", 0)
    with pytest.raises(ValueError, match="expected"):
        close_chord(triad, "middle")
    with pytest.raises(ValueError, match="expected"):
        close_chord(triad, "left", -1)


def test_the_left_hand_lies_where_low_notes_stay_clear() -> None:
    """Roots from C3 to A3 (common practice); B flat and B where the table of limits puts them."""
    for root in ROOTS:
        for quality in SEMITONES:
            for inversion in range(len(basic_degrees(parse_chord(root + quality)))):
                midi = close_chord(parse_chord(root + quality), "left", inversion).midi
                for low in range(len(midi)):
                    for high in range(low + 1, len(midi)):
                        assert midi[low] >= lowest_for(DEFAULT_LIMITS, midi[high] - midi[low]), (root, quality)
            lowest = close_chord(parse_chord(root + quality)).midi[0]
            moved = root in ("Bb", "B") or quality == "sus2"  # C3 and D3 are a second, which is not clear there
            assert LEFT_LOWEST <= lowest <= LEFT_HIGHEST or moved
    assert close_chord(parse_chord("Bb7")).names == ("Bb2", "D3", "F3", "Ab3")
    assert close_chord(parse_chord("Bm7")).names == ("B3", "D4", "F#4", "A4")  # a minor third is not clear below C3
    assert close_chord(parse_chord("C7"), "left", 3).names == ("Bb3", "C4", "E4", "G4")  # nor a second below E flat 3


def test_the_right_hand_lies_from_middle_c() -> None:
    assert close_chord(parse_chord("C"), "right").names == ("C4", "E4", "G4")
    assert close_chord(parse_chord("B7"), "right").names == ("B4", "D#5", "F#5", "A5")
    for root in ROOTS:
        assert 60 <= close_chord(parse_chord(root), "right").midi[0] <= 72


# As the methods teach them (common practice): right and left hand, root position and inversions.
TAUGHT = {
    "C": (("1-3-5", "1-2-5", "1-3-5"), ("5-3-1", "5-3-1", "5-2-1")),
    "F#m": (("1-3-5", "1-2-5", "1-3-5"), ("5-3-1", "5-3-1", "5-2-1")),
    "G7": (("1-2-3-5", "1-2-4-5", "1-2-3-5", "1-2-3-5"), ("5-3-2-1", "5-3-2-1", "5-3-2-1", "5-4-2-1")),
}


@pytest.mark.parametrize("symbol", TAUGHT)
def test_the_fingers_are_those_that_are_taught(symbol: str) -> None:
    chord = parse_chord(symbol)
    for hand, taught in zip(("right", "left"), TAUGHT[symbol], strict=True):
        assert tuple(close_chord(chord, hand, number).fingers for number in range(len(taught))) == taught
    assert close_chord(parse_chord("Dm7"), "right").or_fingers == ("1-2-4-5",)


def test_no_fingering_asks_for_more_than_hands_can_do() -> None:
    """The practical spans of the model of 1997; and each row's fingers go one way."""
    for quality in (*SEMITONES, "7(no5)", "maj7(no3)", "7sus2", "6sus4", "aug7", "mMaj7"):
        for root in ROOTS:
            chord = parse_chord(root + quality)
            for hand in HAND_CHOICES:
                for inversion in range(len(basic_degrees(chord))):
                    close = close_chord(chord, hand, inversion)
                    for fingers in (close.fingers, *close.or_fingers):
                        placed = list(zip(close.midi, fingers.split("-"), strict=True))
                        for (low, a), (high, b) in pairwise(placed):
                            least, most = PRACTICAL["".join(sorted((a, b)))]
                            assert least <= high - low <= most, (root + quality, hand, fingers)
    for shape, hands in FINGERINGS.items():
        for number, usual in enumerate(hands):
            for fingers in usual:
                assert len(fingers.split("-")) == len(shape) + 1
                assert fingers.split("-") == sorted(fingers.split("-"), reverse=number == 1)


def test_what_is_left_out_is_said() -> None:
    assert left_out_words(close_chord(parse_chord("C13"))) == "tensions left out: 9, 11 and 13"
    assert left_out_words(close_chord(parse_chord("Eb7alt"))) == "tensions left out: b9 and #9, left out: b5"
    assert left_out_words(close_chord(parse_chord("F6"))) == ""
    assert close_chord(parse_chord("Caug(b6)")).degrees == ("1", "3", "#5")  # the same key twice


def test_a_slash_bass_is_left_to_the_bass() -> None:
    assert close_chord(parse_chord("C/E")).names == close_chord(parse_chord("C")).names
    assert bass_words(close_chord(parse_chord("C/E"))).endswith("with E lowest it is the first inversion")
    assert bass_words(close_chord(parse_chord("G7/F"))).endswith("with F lowest it is the third inversion")
    assert bass_words(close_chord(parse_chord("C/D"))) == "over D, which is left to the bass"
    assert bass_words(close_chord(parse_chord("C"))) == ""


def test_symbols_of_the_same_basic_tones_are_one_thing_to_learn() -> None:
    ids = {close_chord(parse_chord(symbol)).id for symbol in ("Dm7", "Dm9", "Dm11", "Dm7/G", "D-7")}
    assert ids == {"D b3 5 b7"}


def test_every_chord_of_every_song_in_every_key() -> None:
    """Of ours, both hands and all inversions: within an octave, clear where it is low, spelled by its letters."""
    symbols = set()
    for path in (Path(__file__).parents[2] / "songs").glob("*.toml"):
        song = read_chart(path)
        for pc in range(12):
            moved = transpose(song, Key.usual(pc, song.key.mode))
            symbols |= {placed.chord.symbol for bar in moved.unroll() for placed in bar.chords if placed.chord}
    assert len(symbols) > 100
    for symbol in symbols:
        chord = parse_chord(symbol)
        for hand in HAND_CHOICES:
            for inversion in range(len(basic_degrees(chord))):
                close = close_chord(chord, hand, inversion)
                assert close.span < 12 and {pitch.tone for pitch in close.pitches} <= set(chord.tones)
                pairs = combinations(close.midi, 2) if hand == "left" else ()
                assert all(low >= lowest_for(DEFAULT_LIMITS, high - low) for low, high in pairs), symbol
