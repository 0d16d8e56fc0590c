"""The sentence that says why, read back and held against the case."""

import re

import pytest
from hands.lines import slots_of
from hypothesis import given, settings
from strategies import slots

from companion.hands.hand import Hand
from companion.hands.left.reason import as_before, degree_of, respelled, spoken
from companion.hands.left.solver import solve
from companion.theory.pitch import Pitch, Tone
from companion.theory.symbols import parse_chord


def whys(line, hand=None, **pins):
    return [choice.why for choice in solve(slots_of(line, **pins), hand or Hand()).choices]


@pytest.mark.parametrize(
    ("line", "pins", "number", "words"),
    [
        ("Dm7 G7 Cmaj7", {}, 2, "F stays: it was the third of Dm7, it is the seventh of G7."),
        ("Dm7 G7 Cmaj7", {}, 3, "F falls a half step to E: the seventh becomes the third."),
        ("Dm7 G7 Cmaj7", {}, 1, "The chorus starts here: F, the third of Dm7."),
        ("Fmaj7 Fm6 Em7 A7", {}, 2, "A falls a half step to A flat: from third to third."),
        ("Dm7 Dm7 G7", {}, 2, "Both notes stay."),
        ("Dm7 Dm7", {}, 1, "The chorus starts here: F, the third of Dm7."),
        (
            "G7sus4 G7",
            {"_1": "root-seventh", "_2": "root-seventh"},
            2,
            "Pinned: F, the seventh of G7. F stays: the seventh of G7sus4 and of G7.",
        ),
        ("Dm7 N.C. Dm7 G7", {}, 2, "no chord: the hand rests"),
        ("Dm7 N.C. Dm7 G7", {}, 3, "Both notes stay."),
        ("Cm Cm(maj7) Cm7 Cm6", {}, 2, "The hand starts a new line here: B, the seventh of Cm(maj7)."),
        (
            "D7 Ab7 Db6",
            {},
            2,
            "F sharp stays and is now called G flat: it was the third of D7, it is the seventh of Ab7.",
        ),
        ("G7 C6", {"_2": "root-fifth"}, 2, "Pinned: root and fifth, where C6 rests."),
        (
            "G7 C6",
            {"_2": "root-fifth C3: the ear rests here"},
            2,
            "Pinned: root and fifth, where C6 rests. The ear rests here.",
        ),
        (
            "Dm7 G7 Cmaj7",
            {"_3": "root-third C3: sing the third"},
            3,
            "Pinned: E, the third of Cmaj7. F falls a half step to E: the seventh becomes the third. Sing the third.",
        ),
        ("C7", {}, 1, "E, the third of C7."),
        ("C/E", {}, 1, "G, the fifth of C, over E."),
        ("F C/E", {}, 2, "A falls a whole step to G: the third becomes the fifth of C, over E."),
        ("C C/B", {}, 2, "E stays: the third of C, over B."),
    ],
)
def test_particular_cases(line, pins, number, words):
    assert whys(line, **pins)[number - 1] == words


def test_counting_is_for_the_details_only():
    assert not any(re.search(r"semitone|\d more|cost", why) for why in whys("Dm7 G7 Cmaj7 A7 D7 Ab7 C/E Fm6"))


@pytest.mark.parametrize(
    ("bars", "differ", "words"),
    [
        ([1, 2, 3, 4], [], "as before"),
        ([1, 2, 3, 4], [4], "as before, only the last bar differs"),
        ([1, 2, 3, 4], [1], "as before, only the first bar differs"),
        ([1, 2, 3, 4], [1, 4], "as before, only the first and the last bar differ"),
        ([1, 2, 3, 4], [2, 3], "not quite as before, for the hand would move more"),
    ],
)
def test_what_is_said_of_a_phrase_that_comes_again(bars, differ, words):
    assert as_before(bars, differ) == words


def test_a_double_flat_is_written_as_lead_sheets_write_it_and_named_in_the_details():
    """Common practice: the seventh of Cdim7 is B double flat, and lead sheets write A."""
    part = solve(slots_of("Cdim7", _1="root-seventh"), Hand())
    shell = part.choices[0].shell
    assert shell.names == ("C3", "A3")
    assert spoken(shell.upper.tone) == "A"
    assert respelled(shell, parse_chord("Cdim7")) == "A is B double flat by its true name, the seventh of Cdim7"
    assert respelled(solve(slots_of("C7"), Hand()).choices[0].shell, parse_chord("C7")) == ""


@pytest.mark.parametrize(
    ("name", "plain"),
    [("Bbb3", "A3"), ("Ebb4", "D4"), ("Cbb4", "Bb3"), ("Fbb3", "Eb3"), ("F##3", "G3"), ("B##3", "C#4")],
)
def test_plain_pitches_sound_the_same(name, plain):
    pitch = Pitch.parse(name)
    assert pitch.plain.name == plain and pitch.plain.midi == pitch.midi


def test_degrees_are_told_by_the_chord():
    for symbol, note, degree in (("G7sus4", "C", "fourth"), ("C6/9", "A", "sixth"), ("Bm7b5", "F", "fifth")):
        assert degree_of(parse_chord(symbol), Tone.parse(note)) == f"the {degree}"


SPOKEN = r"([A-G](?: double)?(?: flat| sharp)?)"


def sounds(words):
    letter, _, sign = words.partition(" ")
    return Tone(letter, {"": 0, "flat": -1, "sharp": 1}[sign]).pc


@settings(max_examples=40, deadline=None)
@given(slots(most=8))
def test_the_sentence_is_true(chart):
    """Every claim about motion and degrees, read out of the sentence and checked by pitch classes and semitones."""
    part = solve(chart, Hand())
    ring = [choice for choice in part.choices if choice.shell is not None]
    for turn, choice in enumerate(ring):
        before, why = ring[turn - 1], choice.why
        step = choice.shell.midi[1] - before.shell.midi[1]
        if why.startswith("Pinned"):
            assert choice.slot.pin is not None
        if moved := re.search(rf"{SPOKEN} (rises|falls) a (half|whole) step to {SPOKEN}", why):
            assert step == (1 if moved[3] == "half" else 2) * (1 if moved[2] == "rises" else -1)
            assert [sounds(moved[1]), sounds(moved[4])] == [each.shell.midi[1] % 12 for each in (before, choice)]
        elif stays := re.search(rf"{SPOKEN} stays", why):
            assert step == 0 and sounds(stays[1]) == choice.shell.midi[1] % 12
        elif "chorus starts" in why:
            assert turn == 0
        elif "new line" in why:
            assert abs(step) > 2
        elif "Both notes stay" in why:
            assert choice.shell.midi == before.shell.midi
        else:
            assert len(ring) == 1 or "rests" in why
        for degree in re.findall(r"(?:it is|stays:) the (\w+) of", why):
            number = {
                "root": 1,
                "third": 3,
                "fourth": 4,
                "fifth": 5,
                "sixth": 6,
                "seventh": 7,
                "ninth": 9,
                "eleventh": 11,
                "thirteenth": 13,
                "bass": 0,
            }[degree]
            chord, top = choice.slot.chord, choice.shell.midi[1] % 12
            tone = chord.tone(number) or chord.tone(number + 7) if number else choice.shell.lower.tone
            assert tone.pc == top
