"""The least movement, against every path there is and against examples worked by hand."""

import itertools

import pytest
from hands.oracle import all_paths, least_paths, slots_of, travelled
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import ROOTS, slots

from companion.errors import ShellError
from companion.hands.hand import Hand
from companion.hands.left.model import Slot
from companion.hands.left.options import options_for
from companion.hands.left.solver import solve
from companion.theory.key import Key
from companion.theory.pitch import Pitch, Tone
from companion.theory.symbols import move_chord, parse_chord

ROOMY = Hand(lowest_root=41, highest_root=55, highest_top=62, sixth_shells=True)


def sounded(part):
    return [choice.shell for choice in part.choices if choice.shell is not None]


@given(slots(), st.sampled_from((Hand(), ROOMY, Hand(highest_root=57, highest_top=66, reach=16))))
def test_no_path_moves_less(chart, hand):
    """Every path of up to six chords, with pins, N.C. and slash basses, counted the slow way."""
    try:
        least, paths = least_paths(chart, hand)
    except ShellError:  # this hand cannot keep the pin, and solver and options agree about it
        with pytest.raises(ShellError):
            solve(chart, hand)
        return
    part = solve(chart, hand)
    assert part.movement == least
    assert tuple(sounded(part)) in paths
    assert part.movement == sum(choice.movement for choice in part.choices)


@settings(max_examples=40)
@given(slots(most=5))
def test_every_alternative_adds_exactly_what_it_says(chart):
    """Each chord forced to each shell in turn, the rest solved around it by trying every path."""
    hand = Hand(highest_root=55, highest_top=62)
    part = solve(chart, hand)
    ring = [slot for slot in chart if slot.chord is not None]
    for turn, choice in enumerate(choice for choice in part.choices if choice.shell is not None):
        assert choice.shell in choice.options
        others = [shell for shell in choice.options if shell != choice.shell]
        if not others:
            assert choice.alternative is None
            continue
        free = [Slot(slot.chord) if i == turn else slot for i, slot in enumerate(ring)]
        if ring[turn].pin is not None:
            free_options = set(choice.options)
        else:
            free_options = set(options_for(ring[turn].chord, hand))
            assert tuple(choice.options) == options_for(ring[turn].chord, hand)
        costs = {}
        rest = [slot for i, slot in enumerate(free) if i != turn]
        for path in all_paths(rest, hand):
            for shell in free_options - {choice.shell}:
                total = travelled([*path[:turn], shell, *path[turn:]])
                costs[shell] = min(total, costs.get(shell, total))
        assert choice.alternative.extra == min(costs.values()) - part.movement
        assert costs[choice.alternative.shell] == min(costs.values())


@given(slots(most=12))
def test_whatever_is_chosen_is_legal_and_explained(chart):
    hand = Hand()
    part = solve(chart, hand)
    assert len(part.choices) == len(chart)
    for slot, choice in zip(chart, part.choices, strict=True):
        assert choice.slot == slot and choice.why and "\n" not in choice.why
        if slot.chord is None:
            assert choice.shell is None and choice.options == () and choice.fingers == ""
            continue
        assert choice.shell in choice.options and hand.allows(*choice.shell.midi)
        assert slot.pin in (None, choice.shell.kind)
        assert choice.shell.upper.tone.pc in slot.chord.pitch_classes | {choice.shell.lower.tone.pc}


# Voice leadings worked by hand over falling fifths (shell alternation; efficient voice leading after Tymoczko 2006,
# Science 313:72-74). Spellings and steps were asserted by a script independent of this project.
WORKED = (
    ("Dm7 G7 Cmaj7", "D3 C4 | G3 B3 | C3 B3"),
    ("Dm7 G7 Cmaj7", "D3 F3 | G2 F3 | C3 E3"),
    ("Dm7b5 G7 Cm6", "D3 C4 | G3 B3 | C3 A3"),
    ("Em7 A7 Dm7 G7 Cmaj7", "E3 D4 | A3 C#4 | D3 C4 | G3 B3 | C3 B3"),
    ("Cm7 F7 Bbmaj7", "C3 Bb3 | F3 A3 | Bb2 A3"),
    ("Cm7 F7 Bbmaj7 Ebmaj7 Am7b5 D7 Gm6", "C3 Bb3 | F3 A3 | Bb2 A3 | Eb3 G3 | A2 G3 | D3 F#3 | G2 E3"),
)


@pytest.mark.parametrize(("line", "voicing"), WORKED)
def test_worked_examples_are_legal_and_never_beaten_by_more_than_they_can_be(line, voicing):
    hand = Hand(highest_root=57, highest_top=64, sixth_shells=True)
    chart = slots_of(line)
    path = []
    for slot, pair in zip(chart, voicing.split(" | "), strict=True):
        midi = tuple(Pitch.parse(name).midi for name in pair.split())
        fitting = [shell for shell in options_for(slot.chord, hand) if shell.midi == midi]
        assert [" ".join(shell.names) for shell in fitting] == [pair]
        path += fitting
    part = solve(chart, hand)
    assert part.movement == least_paths(chart, hand)[0] <= travelled(path)


def test_a_line_counted_by_hand():
    """Dm7 G7 Cmaj7 round and round: D3 F3, G2 F3 (7 + 0), C3 E3 (5 + 1), and back (2 + 1) make 16."""
    part = solve(slots_of("Dm7 G7 Cmaj7"), Hand())
    assert [choice.shell.names for choice in part.choices] == [("D3", "F3"), ("G2", "F3"), ("C3", "E3")]
    assert [choice.movement for choice in part.choices] == [3, 7, 6] and part.movement == 16


LINE = "Em7 A7 Dm7 G7 Cmaj7"


def turning_keys(hand: Hand) -> list[str]:
    """The keys in which iii-vi-ii-V-I as its own chorus does not alternate all the way with a calm upper voice."""
    keys = []
    for key in (Key.usual(pc) for pc in range(12)):
        chords = [move_chord(parse_chord(symbol), Tone("C"), key.tonic, key) for symbol in LINE.split()]
        shells = sounded(solve([Slot(chord) for chord in chords], hand))
        tops = [shell.midi[1] for shell in shells]
        kinds = {left.kind + right.kind for left, right in itertools.pairwise(shells)}
        calm = all(0 <= left - right <= 2 for left, right in itertools.pairwise(tops))
        if not (kinds <= {"root-thirdroot-seventh", "root-seventhroot-third"} and calm):
            keys.append(key.name)
    return keys


def test_falling_fifths_alternate_third_and_seventh_and_the_upper_voice_stays_or_falls():
    """Common practice: the seventh falls to the next third, the third stays as the next seventh (so a published
    lesson on shells, "Jazz Tip 25" of a regional jazz magazine). Where a key turns, range or limits ask for it."""
    assert turning_keys(Hand()) == ["D", "Eb", "E", "A"]
    assert turning_keys(Hand(highest_root=55, highest_top=62)) == ["E"]


def test_no_chord_is_passed_over_and_the_hand_moves_across_it():
    part = solve(slots_of("Dm7 N.C. G7 N.C. N.C. Cmaj7"), Hand())
    without = solve(slots_of("Dm7 G7 Cmaj7"), Hand())
    assert sounded(part) == sounded(without) and part.movement == without.movement
    assert [choice.shell is None for choice in part.choices] == [False, True, False, True, True, False]


@pytest.mark.parametrize("line", ["", "N.C.", "N.C. N.C."])
def test_nothing_sounds_nothing_moves(line):
    part = solve(slots_of(line), Hand())
    assert part.movement == 0 and not sounded(part)


@pytest.mark.parametrize("line", ["C7", "N.C. C7", "C7 C7 C7"])
def test_a_single_chord_does_not_move(line):
    part = solve(slots_of(line), Hand())
    assert part.movement == 0 and {choice.movement for choice in part.choices} == {0}


def test_a_pin_wins_and_the_rest_is_solved_around_it():
    free = solve(slots_of("Dm7 G7 Cmaj7"), Hand())
    pinned = solve(slots_of("Dm7 G7 Cmaj7", _3="root-fifth"), Hand())
    assert pinned.choices[2].shell.kind == "root-fifth"
    assert {shell.kind for shell in pinned.choices[2].options} == {"root-third", "root-seventh", "root-fifth"}
    assert pinned.movement > free.movement
    assert pinned.choices[2].alternative.extra == free.movement - pinned.movement  # lifting the pin saves this much


def test_an_impossible_pin_is_an_error_that_names_the_place():
    with pytest.raises(ShellError, match="section A, bar 3, Csus4: the pin root-third cannot be kept"):
        solve([Slot(parse_chord("Csus4"), pin="root-third", label="section A, bar 3")], Hand())


def test_a_pin_may_ask_for_what_the_family_does_not_take_by_itself():
    part = solve(slots_of("G7 C6", _1="root-fifth", _2="root-sixth"), Hand())
    assert [choice.shell.kind for choice in part.choices] == ["root-fifth", "root-sixth"]


def test_movement_is_the_same_wherever_the_chorus_starts():
    qualities = ("m7", "7", "maj7", "", "6") * 3
    line = [Slot(parse_chord(root + quality)) for root, quality in zip(ROOTS, qualities, strict=False)]
    movement = solve(line, Hand()).movement
    assert all(solve([*line[turn:], *line[:turn]], Hand()).movement == movement for turn in range(len(line)))


def test_a_long_chart_is_solved_without_deep_recursion():
    chart = slots_of("Dm7 G7 Cmaj7 A7") * 600
    part = solve(chart, Hand())
    assert part.movement == 600 * solve(chart[:4], Hand()).movement
