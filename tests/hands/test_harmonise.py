"""The harmonised right hand against every set of keys with every fingering tried (harmony_checker.py), and what a musician hears in it."""

from __future__ import annotations

import random

import pytest
from hands.right_oracle import points
from phrases_harmonised import C, a_phrase, costs, is_for_costs

from companion.hands.limits import DEFAULT_LIMITS
from companion.hands.right.harmonise import Harmoniser, VoicedPhrase
from companion.hands.right.taught import taught_fingers
from companion.hands.right.voicing_rules import tensions_of
from companion.hands.right.voicings import MelodyStroke, voicings_of
from companion.theory.symbols import parse_chord


@pytest.mark.parametrize("voices", [2, 3, 4])
def test_nothing_legal_costs_less(voices, deep):
    """Phrases of three notes, a few of six; tests/bench/harmony.py has a hundred of each."""
    chance = random.Random(40 + voices)
    for number in range(400 if deep else 8):
        made, plain = a_phrase(chance, 6 if number % 17 == 0 else 3)
        if is_for_costs(made):
            found, least = costs(made, plain, voices)
            assert found == least, made


def one(key, symbol, shell, voices, **other):
    stroke = MelodyStroke(key, 0, 2000.0, (parse_chord(symbol),), shell)
    return Harmoniser(voices, **other).harmonise([VoicedPhrase((stroke,), C)])[0][0].keys


def test_two_voices_are_a_third_a_sixth_or_what_the_shell_lacks():
    """Common practice. G7 with F in the left hand: the third B under D, which the shell lacks."""
    assert one(74, "G7", (43, 53), 2) == (71, 74)
    assert one(76, "Cmaj7", (48, 52), 2) in ((71, 76), (72, 76)), "B, the seventh, or C"


def test_three_voices_over_a_two_five_one():
    """Shells D F, G F, C E; the melody A, G, E: the sevenths and thirds that the left hand leaves out are heard."""
    heard = [
        {key % 12 for key in one(key, symbol, shell, 3)} | {key % 12 for key in shell}
        for key, symbol, shell in ((69, "Dm7", (50, 53)), (67, "G7", (43, 53)), (76, "Cmaj7", (48, 52)))
    ]
    assert {5, 0} <= heard[0] and {11, 5} <= heard[1] and {4, 11} <= heard[2]


def test_tensions_come_when_they_are_wanted_and_never_an_eleventh_over_a_major_third():
    assert tensions_of(parse_chord("G7")) == ("9", "13") and tensions_of(parse_chord("Dm7")) == ("9", "11")
    assert tensions_of(parse_chord("G7b9")) == () and tensions_of(parse_chord("C7sus4")) == ()
    assert tensions_of(parse_chord("Bm7b5")) == ("11",)
    for key in range(65, 80):
        for symbol in ("G11", "G7", "Gmaj7", "G13"):
            stroke = MelodyStroke(key, 0, 2000.0, (parse_chord(symbol),), (43, 47))
            ways = voicings_of(stroke, 4, tensions=True)
            assert not any(added % 12 == 0 for way in ways for added in way.added), "C over G with B"


def test_a_pushed_note_takes_what_belongs_to_both_chords():
    """C over G7 pushed ahead of Cmaj7: E is not in G7, D not in Cmaj7; G is in both."""
    stroke = MelodyStroke(72, 0, 2000.0, (parse_chord("G7"), parse_chord("Cmaj7")), (43, 53, 48, 52))
    ways = voicings_of(stroke, 4, tensions=False)
    assert {added % 12 for way in ways for added in way.added} <= {7, 11}


def test_own_limits_and_a_small_reach_are_kept():
    stroke = MelodyStroke(72, 0, 2000.0, (parse_chord("Am7"),), (45, 55))
    assert any(way.keys[0] == 60 or way.keys[0] == 64 for way in voicings_of(stroke, 3, tensions=False))
    assert all(72 - way.keys[0] <= 7 for way in voicings_of(stroke, 3, tensions=False, limits=DEFAULT_LIMITS, reach=7))


def test_runs_keep_their_taught_fingers_between_chords():
    """A scale of quick notes between two long ones."""
    keys = (72, 74, 76, 77, 79, 81, 83, 84)
    rooms = (150.0,) * 7 + (4000.0,)
    strokes = tuple(
        MelodyStroke(key, 240 * number, room, (parse_chord("C6"),), (48, 52))
        for number, (key, room) in enumerate(zip(keys, rooms))
    )
    voicings = Harmoniser(3).harmonise([VoicedPhrase(strokes, C)])[0]
    taught = taught_fingers(keys, C)
    assert all(voicings[at].fingers == (taught[at],) for at in range(7)) and len(voicings[7].keys) == 3
    assert points(tuple(voicing.fingers[-1] for voicing in voicings[:7]), keys[:7]) < 1000
