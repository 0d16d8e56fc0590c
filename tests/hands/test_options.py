"""Which shells a chord may take."""

from itertools import product

import pytest
from music21 import harmony, interval, pitch
from strategies import ROOT_NAMES, ROOTS

from companion.errors import ShellError
from companion.hands.hand import Hand
from companion.hands.left.options import ROOT_TIERS, options_for, pinned_options
from companion.theory.chord import Chord
from companion.theory.pitch import Tone
from companion.theory.qualities import COMMON_QUALITIES, MUSICXML_KINDS, family_of
from companion.theory.shell_kinds import Pin
from companion.theory.symbols import parse_chord

ROOMY = Hand(lowest_root=36, highest_root=60, highest_top=72)

# Upper notes in semitones above the root, derived from the chords' tones; which a shell takes is common practice.
SHELL_TABLE = {
    "maj7": {4, 11},
    "7": {4, 10},
    "m7": {3, 10},
    "m7b5": {3, 10},
    "m(maj7)": {3, 11},
    "maj7#5": {4, 11},
    "7#5": {4, 10},
    "7b5": {4, 10},
    "7alt": {4, 10},
    "9": {4, 10},
    "13": {4, 10},
    "m11": {3, 10},
    "maj7#11": {4, 11},
    "7sus4": {5, 10},
    "9sus4": {5, 10},
    "13sus4": {5, 10},
    "sus4": {5},
    "sus2": {7},
    "7sus2": {10},
    "6": {4, 9},
    "m6": {3, 9},
    "6/9": {4, 9},
    "m6/9": {3, 9},
    "": {4, 7},
    "m": {3, 7},
    "aug": {4, 8},
    "(b5)": {4, 6},
    "(add9)": {4, 7},
    "m(add9)": {3, 7},
    "dim": {3, 6},
    "dim7": {3, 6, 9},
    "5": {7},
    "(omit3)": {7},
    "7(omit3)": {10},
    "7(omit5)": {4, 10},
}
NAMES = {"third": {3, 4}, "fourth": {5}, "fifth": {6, 7, 8}, "sixth": {9}, "seventh": {9, 10, 11}}


@pytest.mark.parametrize("root", ROOTS)
def test_every_legal_pair_of_keys_is_there_and_nothing_else(root, deep):
    """Against a search of all pairs of keys in the range for the table's intervals. Every second quality, each on half of the roots; all by `--deep`."""
    for quality in [*SHELL_TABLE][0 if deep else ROOTS.index(root) % 2 :: 1 if deep else 2]:
        chord = parse_chord(root + quality)
        for hand in (Hand(), ROOMY, Hand(reach=9)):
            pairs = {
                (lower, lower + size)
                for lower in range(21 + (chord.root.pc - 21) % 12, 90, 12)
                for size in SHELL_TABLE[quality]
                if hand.allows(lower, lower + size)
            }
            if not pairs:
                continue  # the fallbacks and errors have tests of their own
            found = options_for(chord, hand)
            assert {shell.midi for shell in found} == pairs and len(found) == len(pairs), (chord.symbol, hand)
            for shell in found:
                below, above = shell.kind.split("-")
                assert below == "root" and shell.interval in NAMES[above], (chord.symbol, hand)


def test_dominants_and_minor_sevenths_keep_their_third_or_seventh():
    for quality in ("7", "m7", "9", "13", "7alt", "m9", "m7b5"):
        for root in ROOTS:
            kinds = {shell.kind for shell in options_for(parse_chord(root + quality), Hand())}
            assert kinds <= {"root-third", "root-seventh"}


def test_no_chord_of_a_lead_sheet_fails_at_the_defaults(deep):
    """Every common quality on every root, with every third bass, another third for the next one; all by `--deep`."""
    for number, (root, quality) in enumerate(product(ROOT_NAMES, COMMON_QUALITIES)):
        symbol = root + (f"({quality})" if quality[:1] in ("b", "#") else quality)
        assert options_for(parse_chord(symbol), Hand())
        for bass in ROOTS if deep else ROOTS[number % 3 :: 3]:
            chord = parse_chord(f"{symbol}/{bass}")
            for shell in options_for(chord, Hand()):
                assert shell.lower.tone.pc == parse_chord(bass).root.pc
                assert shell.upper.tone.pc in chord.pitch_classes | {shell.lower.tone.pc}


def test_every_family_is_covered():
    seen = {parse_chord("C" + (f"({q})" if q[:1] in ("b", "#") else q)).family for q in COMMON_QUALITIES}
    assert seen == set(ROOT_TIERS)


def test_every_standard_kind_of_musicxml_has_a_shell_on_every_root():
    """MusicXML 4.0, kind-value."""
    for root, (kind, degrees) in product(ROOT_NAMES, MUSICXML_KINDS.items()):
        if not degrees:
            continue
        chord = Chord(root, Tone.parse(root), degrees, family_of(degrees))
        if kind == "pedal" and chord.root.pc in (1, 2, 3):
            continue  # one tone alone, and at the defaults its octave would lie above C4
        assert options_for(chord, Hand()), (root, kind)


@pytest.mark.parametrize(
    ("symbol", "expected"),
    [
        ("C", [("root-third", "C3", "E3"), ("root-fifth", "C3", "G3")]),
        ("Cm7", [("root-third", "C3", "Eb3"), ("root-seventh", "C3", "Bb3")]),
        ("Gbm7", [("root-third", "Gb3", "A3"), ("root-seventh", "Gb2", "Fb3")]),  # B double flat is written A
        ("F6", [("root-third", "F3", "A3"), ("root-sixth", "F2", "D3")]),
        ("F7", [("root-third", "F3", "A3"), ("root-seventh", "F2", "Eb3")]),
        ("Edim7", [("root-third", "E3", "G3"), ("root-fifth", "E3", "Bb3")]),
        ("Caug", [("root-third", "C3", "E3"), ("root-fifth", "C3", "G#3")]),
        ("Cdim7", [("root-third", "C3", "Eb3"), ("root-seventh", "C3", "A3"), ("root-fifth", "C3", "Gb3")]),
        ("Csus2", [("root-fifth", "C3", "G3")]),
        ("Gsus4", [("root-fourth", "G3", "C4")]),
        ("C/E", [("bass-fifth", "E3", "G3")]),  # the third is in the bass, there is no seventh
        ("D/F#", [("bass-fifth", "F#3", "A3"), ("bass-root", "F#2", "D3")]),  # low down the fifth lies too low
        ("C/G", [("bass-third", "G2", "E3")]),
        ("C7/E", [("bass-seventh", "E3", "Bb3")]),
        ("C/Bb", [("bass-third", "Bb2", "E3")]),
        ("F/G", [("bass-third", "G3", "A3"), ("bass-root", "G2", "F3")]),  # the sound of a suspended G7
        ("Am7/G", [("bass-third", "G3", "C4"), ("bass-fifth", "G2", "E3")]),
        ("Dm7/C", [("bass-third", "C3", "F3")]),
        ("C/C", [("root-third", "C3", "E3"), ("root-fifth", "C3", "G3")]),  # the root in the bass is no slash chord
        ("G7sus4/D", [("bass-fourth", "D3", "C4"), ("bass-seventh", "D3", "F3")]),
        ("G(omit5)", [("root-third", "G3", "B3")]),  # only a third is left, and low down it lies too low
        ("Abdim", [("root-octave", "Ab2", "Ab3")]),  # neither third nor tritone is clear so low
    ],
)
def test_worked_by_hand(symbol, expected):
    """Common practice, range and low-interval limits applied by hand."""
    found = options_for(parse_chord(symbol), Hand())
    assert [(shell.kind, *shell.names) for shell in found] == expected


@pytest.mark.parametrize("symbol", ["D6", "Dm6", "D6/9", "Dm6/9"])
def test_sixth_chords_take_third_or_sixth_and_the_fifth_only_by_pin(symbol):
    chord = parse_chord(symbol)
    assert {shell.kind for shell in options_for(chord, Hand())} == {"root-third", "root-sixth"}
    assert pinned_options(chord, Hand(), Pin("root-fifth"))[0].names == ("D3", "A3")
    low = Hand(lowest_root=38, highest_root=40, highest_top=50)  # neither third nor sixth is clear so low
    assert {shell.kind for shell in options_for(chord, low)} == {"root-fifth"}


def test_a_pin_may_name_the_place():
    chord, hand = parse_chord("F6"), Hand()
    assert [shell.names for shell in pinned_options(chord, hand, Pin("root-fifth"))] == [("F2", "C3"), ("F3", "C4")]
    for name in ("F2", "F3"):
        (shell,) = pinned_options(chord, hand, Pin.parse(f"root-fifth {name}"))
        assert shell.names[0] == name
    with pytest.raises(ShellError, match="root-fifth F1 cannot be kept: root-fifth is legal at F2, F3, not at F1"):
        pinned_options(chord, hand, Pin.parse("root-fifth F1"))


def test_a_place_moves_with_the_key_to_the_nearest_legal_octave():
    """From F2: A flat 2 lies three above; D 3 is the only legal one; E 2 one below."""
    pin = Pin.parse("root-fifth F2")
    for symbol, lower in (("Ab6", "Ab2"), ("D6", "D3"), ("E6", "E2"), ("G6", "G2")):
        (shell,) = pinned_options(parse_chord(symbol), Hand(), pin)
        assert shell.names[0] == lower


def test_a_place_may_say_whether_the_third_is_a_tenth():
    hand = Hand(highest_root=60, highest_top=67, reach=16)
    for text, upper in (("root-third C3 E3", "E3"), ("root-third C3 E4", "E4")):
        (shell,) = pinned_options(parse_chord("C7"), hand, Pin.parse(text))
        assert shell.names == ("C3", upper)


def test_a_hand_that_reaches_a_tenth_may_take_the_third_there():
    def tenths(reach):
        hand = Hand(reach=reach, highest_top=64)
        return [shell.names for shell in options_for(parse_chord("G7"), hand) if shell.interval > 12]

    assert tenths(12) == tenths(15) == []
    assert tenths(16) == [("G2", "B3")]
    minor = options_for(parse_chord("Gm7"), Hand(reach=15))
    assert ("root-third", "G2", "Bb3") in [(shell.kind, *shell.names) for shell in minor]


# The chords on which music21, mir_eval, pychord and mingus agree, in music21's own writing.
SAFE_CORE = {
    "": "",
    "m": "m",
    "maj7": "maj7",
    "7": "7",
    "m7": "m7",
    "m7b5": "m7b5",
    "dim": "dim",
    "dim7": "dim7",
    "6": "6",
    "m6": "m6",
    "sus4": "sus4",
    "m(maj7)": "mM7",
    "9": "9",
    "m9": "m9",
}
GENERIC = {"third": 3, "fourth": 4, "fifth": 5, "sixth": 6, "seventh": 7}


def _true_names(chord, shell):
    """With the double flats that lead sheets do not write."""
    for shown in (shell.lower, shell.upper):
        tone = next(tone for tone in chord.tones if tone.pc == shown.tone.pc)
        yield tone.at_or_above(shown.midi).name


@pytest.mark.parametrize("quality", SAFE_CORE)
def test_tones_and_intervals_against_music21(quality):
    """Both tones belong to the chord as music21 reads it, and the interval has the number in the shell's name."""
    for root in ROOTS:
        chord = parse_chord(root + quality)
        outside = harmony.ChordSymbol(root.replace("b", "-") + SAFE_CORE[quality])
        tones = {tone.pitchClass for tone in outside.pitches}
        for shell in options_for(chord, ROOMY):
            lower, upper = (pitch.Pitch(name.replace("b", "-")) for name in _true_names(chord, shell))
            assert (lower.midi, upper.midi) == shell.midi
            assert {lower.pitchClass, upper.pitchClass} <= tones and lower.pitchClass == outside.root().pitchClass
            between = interval.Interval(lower, upper)
            assert between.generic.value == GENERIC[shell.kind.split("-")[1]]
            assert between.semitones == shell.interval


@pytest.mark.parametrize(
    ("symbol", "hand", "words"),
    [
        (
            "G7",
            Hand(reach=9, highest_root=53),
            (
                "A bar 3, G7: no shell lies within roots E2 to F3, top notes up to C4 and a reach of 9 "
                "semitones and the low-interval limits; a highest root of G3 would help"
            ),
        ),
        (
            "D7",
            Hand(lowest_root=45, highest_root=48),
            "D7: no shell lies within roots A2 to C3.*; a highest root of D3 would help",
        ),
        ("C7", Hand(highest_top=51), "a highest top note of E3 would help"),
        ("E7", Hand(highest_root=48), "a highest root of E3 would help"),
    ],
)
def test_where_nothing_is_legal_the_error_says_what_would_help(symbol, hand, words):
    with pytest.raises(ShellError, match=words):
        options_for(parse_chord(symbol), hand, "A bar 3")


def test_the_advice_is_good():
    with pytest.raises(ShellError):
        options_for(parse_chord("G7"), Hand(reach=9, highest_root=53))
    assert options_for(parse_chord("G7"), Hand(reach=9, highest_root=55))
    narrow = Hand(lowest_root=43, highest_root=43, reach=9)
    with pytest.raises(ShellError, match="a highest root of G3 would help"):
        options_for(parse_chord("G7"), narrow)
    with pytest.raises(ShellError, match="a reach of 10 would help"):  # no range makes room for a pinned seventh
        pinned_options(parse_chord("G7"), Hand(reach=9), Pin("root-seventh"))


@pytest.mark.parametrize(
    ("symbol", "pin", "words"),
    [
        ("Csus4", "root-third", "the pin root-third cannot be kept: Csus4 has no third"),
        ("C", "root-seventh", "C has no seventh"),
        ("C/E", "root-third", "C/E has another tone in the bass, so its shells are named bass-"),
        ("C", "bass-third", "C has its root in the bass, so its shells are named root-"),
        ("C/E", "bass-third", "the third of C/E is already in the bass"),
        ("G7", "root-third", "cannot be kept within roots E2 to F3.*; a highest root of G3 would help"),
        ("G7", "rootless", "'rootless' is no shell; expected one of root-third"),
    ],
)
def test_an_impossible_pin_says_why(symbol, pin, words):
    with pytest.raises(ShellError, match=words) as caught:
        pinned_options(parse_chord(symbol), Hand(highest_root=53), Pin(pin), "section A, bar 2")
    assert str(caught.value).startswith(f"section A, bar 2, {symbol}: ") and "\n" not in str(caught.value)
