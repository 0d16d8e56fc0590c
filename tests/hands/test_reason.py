"""The sentence that says why, read back and held against the case."""

import re

import pytest
from hands.oracle import slots_of, travelled
from hypothesis import given, settings
from strategies import slots

from companion.hands.hand import Hand
from companion.hands.left.model import Slot
from companion.hands.left.reason import semitones
from companion.hands.left.solver import solve
from companion.theory.symbols import parse_chord


def whys(line, hand=None, **pins):
    return [choice.why for choice in solve(slots_of(line, **pins), hand or Hand()).choices]


def test_a_line_explained():
    assert whys("Dm7 G7 Cmaj7") == [
        "the third on top: one semitone above the note the chorus ends on",
        "the seventh on top: the upper note stays; no other shell is legal here",
        "the third on top: one semitone below the note you leave",
    ]


@pytest.mark.parametrize(
    ("line", "pins", "number", "words"),
    [
        ("Dm7 G7 Cmaj7", {}, 3, "the third on top: one semitone below the note you leave"),
        (
            "Cm7 F7 Bbmaj7",
            {},
            2,
            (
                "the seventh on top: the upper note stays; the third on top would move the hand as little, "
                "but third and seventh take turns"
            ),
        ),
        ("Dm7 Dm7 G7", {}, 2, "both notes stay"),
        ("Dm7 N.C. Dm7 G7", {}, 2, "no chord: the hand rests"),
        ("Dm7 N.C. Dm7 G7", {}, 3, "the third on top: both notes stay across the rest"),
        ("Dm7 N.C. G7 Cmaj7", {}, 3, "the seventh on top: the upper note stays across the rest"),
        ("G7 C6", {}, 2, "the fifth on top, for a sixth chord rests on it: a whole tone above the note you leave"),
        (
            "Dm7 G7 Cmaj7",
            {"_3": "root-fifth"},
            3,
            (
                "your own choice (pinned), the fifth on top: a whole tone above the note you leave; "
                "the third on top would save two semitones in the chorus"
            ),
        ),
        ("C7", {}, 1, "the third on top: the seventh on top would move the hand as little, but this lies nearer"),
        ("C/G", {}, 1, "the third over the bass note: no other shell is legal here"),
        ("G(omit5)", {}, 1, "the root doubled an octave above: no other shell is legal here"),
    ],
)
def test_particular_cases(line, pins, number, words):
    assert whys(line, **pins)[number - 1].startswith(words)


def test_the_same_as_last_time_is_said_where_it_decided():
    hand = Hand(highest_root=57, highest_top=64)
    chords = [parse_chord(symbol) for symbol in ("C", "F7", "Bb", "Eb7")]
    chart = [Slot(chord, number) for _ in range(3) for number, chord in enumerate(chords)]
    part = solve(chart, hand)
    said = [choice for choice in part.choices if "what you played last time" in choice.why]
    assert said and all(choice.alternative.extra == 0 for choice in said)


def test_numbers_in_words():
    assert [semitones(count) for count in (1, 2, 5, 12, 14)] == [
        "one semitone",
        "two semitones",
        "five semitones",
        "twelve semitones",
        "14 semitones",
    ]


@settings(max_examples=200, deadline=None)
@given(slots(most=8))
def test_the_sentence_is_true(chart):
    """Every claim about motion, options and cost, read out of the sentence and checked."""
    part = solve(chart, Hand())
    ring = [choice for choice in part.choices if choice.shell is not None]
    for turn, choice in enumerate(ring):
        before = ring[turn - 1].shell
        why, step = choice.why, choice.shell.midi[1] - before.midi[1]
        assert ("no other shell is legal" in why) == (len(choice.options) == 1)
        assert ("pinned" in why) == (choice.slot.pin is not None)
        if moved := re.search(r"([\w ]+?) (above|below) the note", why):
            assert moved[1].strip() == ("a whole tone" if abs(step) == 2 else semitones(abs(step)))
            assert (step > 0) == (moved[2] == "above")
        elif "both notes stay" in why or "same two notes" in why:
            assert choice.shell.midi == before.midi
        elif len(ring) > 1:
            assert step == 0 and "upper note" in why
        if "as little" in why:
            assert choice.alternative.extra == 0
        if "further on" in why:
            assert choice.alternative.extra > 0
            assert any(travelled([before, shell]) < travelled([before, choice.shell]) for shell in choice.options)
        if saved := re.search(r"would save ([\w ]+) in the chorus", why):
            assert semitones(-choice.alternative.extra) == saved[1]
        top = choice.shell.kind.split("-")[1]
        if "both notes stay" not in why:
            assert top in why or top == "octave"
