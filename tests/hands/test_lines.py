"""Lines that must come out, as a teacher would write them: what the upper note sings."""

import itertools

import pytest
from hands.lines import kinds, slots_of, sounded, tops

from companion.hands.hand import Hand
from companion.hands.left.model import Slot
from companion.hands.left.options import options_for
from companion.hands.left.solver import solve
from companion.theory.key import Key
from companion.theory.pitch import Tone
from companion.theory.symbols import move_chord, parse_chord

HAND = Hand()


# Common practice: guide lines that methods print over these changes.
@pytest.mark.parametrize(
    ("line", "upper"),
    [
        ("Dm7 G7 C6", "F F E"),
        ("Fmaj7 Fm6 Em7 A7", "A Ab G G"),
        ("Cmaj7 C7 Fmaj7 Fm6", "B Bb A Ab"),
        ("D7 D7 G7 G7 C7 C7 F7 F7", "C C B B Bb Bb A A"),
    ],
)
def test_the_upper_note_sings(line, upper):
    assert tops(solve(slots_of(line), HAND)) == upper


def test_the_line_of_a_minor_chord_that_walks_down():
    assert tops(solve(slots_of("Cm Cm(maj7) Cm7 Cm6"), HAND)).split()[1:] == ["B", "Bb", "A"]


def test_nothing_below_a2_holds_a_tritone():
    """A2 is MIDI 45; every kind of chord on every root, under every slash bass."""
    roots = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
    qualities = (
        "",
        "m",
        "7",
        "maj7",
        "m7",
        "m7b5",
        "dim",
        "dim7",
        "6",
        "m6",
        "7sus4",
        "7b5",
        "7alt",
        "aug7",
        "maj7#11",
    )
    for root in roots:
        for quality in qualities:
            for bass in ("", *(f"/{name}" for name in roots)):
                for shell in options_for(parse_chord(root + quality + bass), HAND, needed=False):
                    assert shell.interval != 6 or shell.midi[0] >= 45


def in_all_keys(line):
    """(tonic's pitch class, part) of a line in C moved to every key."""
    for pc in range(12):
        key = Key.usual(pc)
        chords = [move_chord(parse_chord(symbol), Tone("C"), key.tonic, key) for symbol in line.split()]
        yield pc, solve([Slot(chord) for chord in chords], HAND)


def test_up_the_scale_from_one_to_three_in_the_keys_from_f_to_a():
    """Common practice: I, II minor on the third beat, III minor: the roots go up by whole tones under sevenths."""
    for pc, part in in_all_keys("Cmaj7 Dm7 Em7"):
        if 5 <= pc <= 9:
            lower = [shell.midi[0] for shell in sounded(part)]
            assert [after - before for before, after in itertools.pairwise(lower)] == [2, 2]
            assert kinds(part).split()[1:] == ["seventh", "seventh"]


def test_three_six_two_five_falls_by_half_steps_in_the_keys_from_f_to_a():
    """Common practice: III minor, VI7, II minor, V7, a beat each."""
    for pc, part in in_all_keys("Em7 A7 Dm7 G7"):
        if 5 <= pc <= 9:
            upper = [shell.midi[1] for shell in sounded(part)]
            assert [before - after for before, after in itertools.pairwise(upper)] == [1, 1, 1]


def test_the_back_door_and_on_to_two_stays_in_the_middle_in_nine_of_twelve_keys():
    """Common practice: IV minor, flat VII7, III minor, VI7: seventh, third, seventh, third, the upper note in the middle."""
    keys = [
        pc
        for pc, part in in_all_keys("Fm7 Bb7 Em7 A7")
        if kinds(part) == "seventh third seventh third" and all(49 <= shell.midi[1] <= 60 for shell in sounded(part))
    ]
    assert len(keys) == 9


def test_falling_fifths_alternate_third_and_seventh_and_the_upper_voice_stays_or_falls():
    """Common practice: the seventh falls to the next third, the third stays as the next seventh (so a published
    lesson on shells, "Jazz Tip 25" of a regional jazz magazine). In E the range asks for one turn."""
    turning = []
    for pc, part in in_all_keys("Em7 A7 Dm7 G7 Cmaj7"):
        upper = [shell.midi[1] for shell in sounded(part)]
        calm = all(0 <= before - after <= 2 for before, after in itertools.pairwise(upper))
        turns = kinds(part).split()
        if not (calm and all({a, b} == {"third", "seventh"} for a, b in itertools.pairwise(turns))):
            turning.append(pc)
    assert turning == [4]


def test_f_sharp_and_g_have_a_second_place():
    for symbol in ("F#7", "G7"):
        assert len({shell.midi[0] for shell in options_for(parse_chord(symbol), HAND)}) == 2
