"""The right hand's fingering against every fingering tried (right_oracle.py), and what a pianist sees in it."""

from __future__ import annotations

import random

import pytest
from hands.right_oracle import best, points

from companion.hands.right.fingering import HandPhrase, finger_phrases, least_fingering
from companion.hands.right.prices import fingering_cost
from companion.hands.right.taught import taught_fingers
from companion.theory.key import Key

C = Key.parse("C")


def keys_of(text: str) -> tuple[int, ...]:
    from companion.theory.pitch import Pitch

    return tuple(Pitch.parse(name).midi for name in text.split())


def phrase(keys, key=C, pins=None, step=1, upbeat=0) -> HandPhrase:
    """step: from note to note, all alike."""
    return HandPhrase(tuple(keys), tuple(range(0, step * len(keys), step)), key, pins or {}, upbeat)


def fingers_of(text: str, key: str = "C", pins=None) -> tuple[int, ...]:
    return finger_phrases([phrase(keys_of(text), Key.parse(key), pins)])[0]


def a_line(chance: random.Random, length: int) -> tuple[int, ...]:
    """Mostly steps, some leaps and notes struck again, now and then a leap that no hand spans."""
    keys = [chance.randint(60, 80)]
    while len(keys) < length:
        step = chance.choice((0, 1, 2, 1, 2, 3, 4, 5, 7, 9, 12, 17))
        keys.append(keys[-1] + step * chance.choice((1, -1)))
    return tuple(keys)


def test_it_costs_least_of_all_fingerings(deep):
    """And where several do, it is the first of them in order of fingers."""
    chance = random.Random(11)
    for number in range(500 if deep else 25):
        length = chance.randint(1, 6 if deep and number % 20 == 0 else 5 if deep else 4)
        lines = [a_line(chance, length)]
        if number % 3 == 0:  # the same phrase in another place
            up = chance.randint(-6, 6)
            lines.append(tuple(key + up for key in lines[0]))
        held = {chance.randrange(length): chance.randint(1, 5)} if number % 2 else {}
        assert least_fingering(lines, held) == best(lines, held), (lines, held)


def test_the_price_of_any_fingering_is_the_rules_sum():
    chance = random.Random(12)
    for _ in range(300):
        keys = a_line(chance, chance.randint(1, 9))
        fingers = tuple(chance.randint(1, 5) for _ in keys)
        assert fingering_cost(fingers, keys) == points(fingers, keys), (fingers, keys)


@pytest.mark.parametrize(
    ("fingers", "keys", "cost"),
    [
        # Worked by hand from the paper's rules. C D E F G under the hand: 4 and 5 weak 2, 3-4-5 in a row 1, three to four 1, and the
        # small span of nothing: 1-2 two, 2-3 two, 3-4 one, 4-5 two semitones are all relaxed.
        ((1, 2, 3, 4, 5), (60, 62, 64, 65, 67), 4),
        # C D E F with the thumb under: E-F from 3 to 1 spans -1, 4 less than relaxed and passes on the level 1; D to F with 2 and 1
        # spans -3, which is comfortable.
        ((1, 2, 3, 1), (60, 62, 64, 65), 4 + 1),
        # the thumb on B flat between white keys 1 + 2 + 2; A-B flat from 2 to 1 spans -1: 2 less than relaxed, white up to black 3;
        # B flat to C from 1 to 2 is relaxed; A to C by 2 and 2: outside by 3, the thumb between them: a full change 2.
        ((2, 1, 2), (69, 70, 72), 5 + 2 + 3 + 3 + 2),
        # the little finger on E flat between D and D: 1 and 2 + 2; 4-5 and 5-4 one semitone are relaxed; 4 twice 2.
        ((4, 5, 4), (74, 75, 74), 1 + 4 + 2),
        # the fourth on B flat beside the third on A: 1, three to four 1, weak 1
        ((3, 4), (69, 70), 3),
        # an octave and a third from 1 to 5 (16): 1 beyond practical, 3 beyond comfortable twice, 6 beyond relaxed, weak 1
        ((1, 5), (60, 76), 1000 + 6 + 6 + 1),
    ],
)
def test_prices_that_were_worked_by_hand(fingers, keys, cost):
    assert points(fingers, keys) == cost
    assert fingering_cost(fingers, keys) == cost


@pytest.mark.parametrize(
    ("notes", "fingers"),
    [
        ("C4 D4 E4 F4 G4", (1, 2, 3, 4, 5)),  # five neighbours under five fingers
        ("G4 F4 E4 D4 C4", (5, 4, 3, 2, 1)),
        ("C4 E4 G4", (1, 2, 4)),
        ("C4 C5", (1, 5)),
        ("A4", (1,)),
        ("A4 A4 A4", (1, 1, 1)),  # a note struck again keeps its finger
    ],
)
def test_what_every_beginner_is_taught(notes, fingers):
    """Common practice, but for the triad, where the prices of the paper prefer 4 to the 3 of a chord that is held."""
    assert fingers_of(notes) == fingers


@pytest.mark.parametrize("steps", [(0, 4, 7, 11), (0, 4, 7, 10), (0, 3, 7, 10), (0, 3, 6, 10), (0, 3, 6, 9)])
def test_seventh_chords_one_by_one_take_the_fingers_that_are_taught_for_them(steps):
    """Common practice: 1-2-3-5 or 1-2-4-5, on every root. No table says so here: the prices come to it."""
    for root in range(60, 72):
        assert finger_phrases([phrase([root + step for step in steps])])[0] in ((1, 2, 3, 5), (1, 2, 4, 5))
        if root % 12 in (0, 2, 4, 5, 7, 9, 11) and steps == (
            0,
            4,
            7,
            10,
        ):  # dominant sevenths from white keys, as methods have them
            two_octaves = [root + octave + step for octave in (0, 12) for step in steps] + [root + 24]
            assert finger_phrases([phrase(two_octaves)])[0] == (1, 2, 3, 4, 1, 2, 3, 4, 5)


def test_pins_are_kept_whatever_they_cost():
    for place in range(5):
        for finger in range(1, 6):
            assert fingers_of("C4 D4 E4 F4 G4", pins={place: finger})[place] == finger
    assert fingers_of("C4 G5", pins={0: 5, 1: 1}) == (5, 1)


def test_the_same_phrase_is_fingered_the_same_way():
    """Also in another place, where its black keys are others."""
    shape = (0, 1, 2, -1, -3, -2, -3)
    phrases = [phrase([60 + up + step for step in shape]) for up in range(12)]
    assert len(set(finger_phrases(phrases))) == 1
    alone = {finger_phrases([each])[0] for each in phrases}
    assert len(alone) > 1  # which is no accident of the shape
    other_rhythm = phrase(phrases[1].keys, step=2)
    assert finger_phrases([phrases[0], other_rhythm])[1] == finger_phrases([other_rhythm])[0]


def test_phrases_that_differ_by_their_upbeat_are_fingered_alike_behind_it():
    keys = keys_of("F4 G4 A4 C5 Bb4 A4 G4 F4")
    plain, one, two = phrase(keys), phrase((60, *keys), upbeat=1), phrase((72, 70, *keys), upbeat=2)
    fingers = finger_phrases([plain, one, two])
    assert fingers[0] == fingers[1][1:] == fingers[2][2:]
    assert all(points(found, each.keys) < 1000 for found, each in zip(fingers, (plain, one, two)))


def test_a_pin_holds_wherever_its_phrase_comes_and_own_pins_of_each_are_kept():
    keys = keys_of("C4 D4 E4 G4")
    pinned, plain = phrase(keys, pins={1: 1}), phrase(keys)
    first, second = finger_phrases([pinned, plain])
    assert first == second and first[1] == 1
    contrary = phrase(keys, pins={1: 3})
    assert [fingers[1] for fingers in finger_phrases([pinned, contrary])] == [1, 3]


# --- scales and arpeggios: as methods print them, right hand, one octave up (common practice, from memory)

MAJOR = """
C 1 2 3 1 2 3 4 5|G 1 2 3 1 2 3 4 5|D 1 2 3 1 2 3 4 5|A 1 2 3 1 2 3 4 5|E 1 2 3 1 2 3 4 5|B 1 2 3 1 2 3 4 5
F 1 2 3 4 1 2 3 4|Bb 4 1 2 3 1 2 3 4|Eb 3 1 2 3 4 1 2 3|Ab 3 4 1 2 3 1 2 3|Db 2 3 1 2 3 4 1 2|Gb 2 3 4 1 2 3 1 2
"""
HARMONIC = """
C 1 2 3 1 2 3 4 5|G 1 2 3 1 2 3 4 5|D 1 2 3 1 2 3 4 5|A 1 2 3 1 2 3 4 5|E 1 2 3 1 2 3 4 5|B 1 2 3 1 2 3 4 5
F 1 2 3 4 1 2 3 4|Bb 4 1 2 3 1 2 3 4|Eb 3 1 2 3 4 1 2 3|G# 3 4 1 2 3 1 2 3|C# 3 4 1 2 3 1 2 3|F# 3 4 1 2 3 1 2 3
"""
MELODIC_UP = HARMONIC.replace("C# 3 4 1 2 3 1 2 3", "C# 2 3 1 2 3 4 1 2").replace(
    "F# 3 4 1 2 3 1 2 3", "F# 2 3 1 2 3 4 1 2"
)
ARPEGGIO_MAJOR = """
C 1 2 3 5|G 1 2 3 5|D 1 2 3 5|A 1 2 3 5|E 1 2 3 5|B 1 2 3 5|F 1 2 3 5|Gb 1 2 3 5
Bb 2 1 2 4|Eb 2 1 2 4|Ab 2 1 2 4|Db 2 1 2 4
"""
ARPEGGIO_MINOR = """
C 1 2 3 5|G 1 2 3 5|D 1 2 3 5|A 1 2 3 5|E 1 2 3 5|B 1 2 3 5|F 1 2 3 5|Eb 1 2 3 5
Bb 2 3 1 2|F# 2 1 2 4|C# 2 1 2 4|G# 2 1 2 4
"""
ROWS = [
    (words, tonic, mode, steps, tuple(map(int, fingers)))
    for words, mode, steps, table in (
        ("major", "major", (0, 2, 4, 5, 7, 9, 11, 12), MAJOR),
        ("harmonic minor", "minor", (0, 2, 3, 5, 7, 8, 11, 12), HARMONIC),
        ("melodic minor", "minor", (0, 2, 3, 5, 7, 9, 11, 12), MELODIC_UP),
        ("natural minor", "minor", (0, 2, 3, 5, 7, 8, 10, 12), HARMONIC),
        ("arpeggio", "major", (0, 4, 7, 12), ARPEGGIO_MAJOR),
        ("arpeggio", "minor", (0, 3, 7, 12), ARPEGGIO_MINOR),
    )
    for tonic, *fingers in (row.split() for line in table.strip().splitlines() for row in line.split("|"))
]


@pytest.mark.parametrize(("words", "tonic", "mode", "steps", "fingers"), ROWS)
def test_scales_and_arpeggios_as_they_are_taught_in_every_key(words, tonic, mode, steps, fingers):
    key = Key.parse(tonic + ("m" if mode == "minor" else ""))
    root = key.tonic.at_or_above(60).midi
    up = tuple(root + step for step in steps)
    assert finger_phrases([phrase(up, key)]) == [fingers]
    assert finger_phrases([phrase(up)]) == [fingers]  # in whatever key the tune is
    down = dict(zip(up, fingers, strict=True))
    if words == "melodic minor":  # it comes down as the natural minor
        return
    assert finger_phrases([phrase(up[::-1], key)]) == [tuple(down[midi] for midi in up[::-1])]


def test_every_key_has_its_rows():
    assert len(ROWS) == 6 * 12
    assert len({(words, mode, Key.parse(tonic).tonic.pc) for words, tonic, mode, _, _ in ROWS}) == 6 * 12


def test_two_octaves_pass_the_thumb_between_them():
    up = tuple(60 + 12 * octave + step for octave in (0, 1) for step in (0, 2, 4, 5, 7, 9, 11)) + (84,)
    assert finger_phrases([phrase(up)]) == [(1, 2, 3, 1, 2, 3, 4) * 2 + (5,)]


def test_a_run_within_a_tune_takes_the_taught_fingers_and_the_rest_fits_in():
    tune = keys_of("E5 C5 D5 E5 C5 B4 A4 G4 F4 E4 D4 G4")
    fingers = finger_phrases([phrase(tune)])[0]
    taught = taught_fingers(tune, C)
    assert taught == dict(zip(range(4, 11), (1, 4, 3, 2, 1, 3, 2)))
    assert all(fingers[place] == finger for place, finger in taught.items())
    assert points(fingers, tune) < 1000


def test_short_pieces_of_a_scale_are_left_to_the_prices():
    assert taught_fingers(keys_of("C4 D4 E4 F4 G4 A4"), C) == {}
    assert taught_fingers(keys_of("C4 E4 G4"), C) == {}


def test_a_chromatic_run_has_the_third_finger_on_black_keys():
    """Common practice: and the thumb on white ones, the second finger where two white keys meet."""
    assert fingers_of("C4 C#4 D4 D#4 E4 F4 F#4") == (2, 3, 1, 3, 1, 2, 3)


def test_inversions_that_begin_on_a_white_key():
    """Common practice, from memory: the fourth finger where a third is left to the top."""
    assert fingers_of("E4 G4 C5 E5") == (1, 2, 4, 5)
    assert fingers_of("G4 C5 E5 G5") == (1, 2, 4, 5)
    assert fingers_of("G5 E5 C5 G4") == (5, 4, 2, 1)


def test_a_pin_within_a_run_lets_the_student_go_another_way():
    fingers = fingers_of("C4 D4 E4 F4 G4 A4 B4 C5", pins={3: 4})
    assert fingers[3] == 4 and fingers != (1, 2, 3, 4, 2, 3, 4, 5)
    assert points(fingers, keys_of("C4 D4 E4 F4 G4 A4 B4 C5")) < 1000
    agreed = fingers_of("C4 D4 E4 F4 G4 A4 B4 C5", pins={3: 1})
    assert agreed == (1, 2, 3, 1, 2, 3, 4, 5)
