"""The harmonised right hand against every set of keys with every fingering tried (harmony_checker.py), and what a musician hears in it."""

from __future__ import annotations

import itertools
import random

import pytest
from hands.right_oracle import points
from harmony_checker import Struck, inner_cost, least_cost
from harmony_of_songs import sounding_of

from companion.hands.limits import DEFAULT_LIMITS
from companion.hands.right.harmonise import Harmoniser, VoicedPhrase
from companion.hands.right.taught import taught_fingers
from companion.hands.right.voicing_rules import tensions_of
from companion.hands.right.voicings import LAST, LIGHT, MelodyStroke, is_due, voicings_of
from companion.theory.key import Key
from companion.theory.symbols import parse_chord

C = Key.parse("C")
TICK_MS = 0.625  # at 100 beats a minute
SYMBOLS = (
    "Cmaj7",
    "Dm7",
    "G7",
    "F6",
    "Am7b5",
    "E7b9",
    "Bbmaj7",
    "Ebdim7",
    "A7#5",
    "C7sus4",
    "Gm6",
    "F",
    "Abm(maj7)",
    "C9",
    "D13",
    "G11",
)


def a_phrase(chance: random.Random, notes=3):
    """So many strokes over random chords, some quick, with a shell of root and third or seventh below each."""
    strokes, plain, at, key = [], [], 0, chance.randint(62, 80)
    for _ in range(notes):
        chord = parse_chord(chance.choice(SYMBOLS)) if chance.random() < 0.9 else None
        ticks = chance.choice((240, 320, 480, 720, 960, 1920))
        shell = () if chord is None else _shell(chance, chord)
        strokes.append((key, at, ticks, chord, shell))
        at += ticks
        key = min(86, max(max(shell, default=50) + 3, key + chance.choice((-5, -3, -2, -1, 0, 1, 2, 3, 4, 7))))
    made = []
    for number, (key, at, ticks, chord, shell) in enumerate(strokes):
        key = max(key, max(shell, default=0) + 3)
        room_ms = ticks * TICK_MS if number + 1 < notes else 10_000.0
        place = chance.choice(("", LIGHT)) if number + 1 < notes else chance.choice(("", LAST))
        made.append(MelodyStroke(key, at, room_ms, () if chord is None else (chord,), shell, place=place))
        alone = Struck(at, at + ticks, at + ticks, (key,), (1,))
        plain.append((alone, None if chord is None else sounding_of(at, at + ticks, chord, shell)))
    return made, plain


def _shell(chance, chord):
    root = chord.root.at_or_above(40).midi
    upper = chord.tone(chance.choice((3, 7))) or chord.tone(5)
    return (root,) if upper is None else (root, upper.at_or_above(root + 3).midi)


@pytest.mark.parametrize("voices", [2, 3, 4])
def test_nothing_legal_costs_less(voices, deep):
    """Phrases of three notes, a few of six; none with a run that has taught fingers."""
    chance = random.Random(40 + voices)
    for number in range(400 if deep else 34):
        made, plain = a_phrase(chance, 6 if number % 17 == 0 else 3)
        keys = tuple(stroke.key for stroke in made)
        if taught_fingers(keys, C) or any(
            b.onset - a.onset < 480 and abs(b.key - a.key) > 7 for a, b in itertools.pairwise(made)
        ):
            continue
        voicings = Harmoniser(voices).harmonise([VoicedPhrase(tuple(made), C)])[0]
        places = [stroke.place for stroke in made]
        assert cost_of(made, voicings, voices) == least_cost(plain, voices, TICK_MS, places), (made, voicings)


def cost_of(strokes, voicings, voices):
    """What the solver's own table says of each voicing, and the way between them by the oracle's rules with the project's bounds."""
    from hands.right_oracle import note_points, pair_points, triple_points

    keys = [stroke.key for stroke in strokes]
    tops = [voicing.fingers[-1] for voicing in voicings]
    due = [is_due(stroke, voices) for stroke in strokes]
    cost = 0
    for n, (finger, key) in enumerate(zip(tops, keys)):
        cost += note_points(finger, key, [*keys[max(0, n - 1) : n], *keys[n + 1 : n + 2]])
        if due[n]:
            cost += voicings_of(strokes[n], voices, tensions=False)[voicings[n]]
    for n in range(len(keys) - 1):
        step = pair_points(*tops[n : n + 2], *keys[n : n + 2])
        cost += min(3, step) if any(due[n : n + 2]) else step
        cost += inner_cost(voicings[n].added, voicings[n + 1].added)
    for n in range(len(keys) - 2):
        turn = triple_points(*tops[n : n + 3], *keys[n : n + 3])
        cost += min(1, turn) if any(due[n : n + 3]) else turn
    return cost


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
