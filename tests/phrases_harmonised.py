"""Short phrases made up to be harmonised, and whether what the solver makes of them is the least of every set of keys with every fingering (harmony_checker.py)."""

from __future__ import annotations

import random
from itertools import pairwise

from hands.right_oracle import note_points, pair_points, triple_points
from harmony_checker import Struck, inner_cost, least_cost
from harmony_of_songs import sounding_of

from companion.hands.right.harmonise import Harmoniser, VoicedPhrase
from companion.hands.right.taught import taught_fingers
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


def is_for_costs(made):
    """Whether nothing but costs decides: no run that has taught fingers, no quick leap."""
    quick = any(b.onset - a.onset < 480 and abs(b.key - a.key) > 7 for a, b in pairwise(made))
    return not quick and not taught_fingers(tuple(stroke.key for stroke in made), C)


def costs(made, plain, voices):
    """(what the solver's voicings cost, the least there is) of a phrase. made, plain: as of a_phrase."""
    voicings = Harmoniser(voices).harmonise([VoicedPhrase(tuple(made), C)])[0]
    return cost_of(made, voicings, voices), least_cost(plain, voices, TICK_MS, [stroke.place for stroke in made])


def cost_of(strokes, voicings, voices):
    """What the solver's own table says of each voicing, and the way between them by the oracle's rules with the project's bounds."""
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
