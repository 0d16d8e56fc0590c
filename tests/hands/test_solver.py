"""The solver around its objective: rests, pins, places, lengths; the objective itself is held in test_prices.py."""

import os
import subprocess
import sys

import pytest
from hands.lines import bars_of, kinds, slots_of, sounded, tops
from hypothesis import given
from strategies import ROOTS, slots

from companion.errors import ShellError
from companion.hands.hand import Hand
from companion.hands.left.model import Slot
from companion.hands.left.options import options_for
from companion.hands.left.solver import solve
from companion.theory.pitch import Pitch
from companion.theory.shell_kinds import Pin
from companion.theory.symbols import parse_chord


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
        assert slot.pin is None or slot.pin.kind == choice.shell.kind
        assert choice.shell.upper.tone.pc in slot.chord.pitch_classes | {choice.shell.lower.tone.pc}
    assert part.cost == sum(choice.bill.total for choice in part.choices) + part.phrases


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
def test_worked_examples_are_legal_and_the_solver_never_pays_more(line, voicing):
    hand = Hand(highest_root=57, highest_top=64)
    chart, pinned = slots_of(line), []
    for slot, pair in zip(chart, voicing.split(" | "), strict=True):
        midi = tuple(Pitch.parse(name).midi for name in pair.split())
        fitting = [shell for shell in options_for(slot.chord, hand) if shell.midi == midi]
        assert [" ".join(shell.names) for shell in fitting] == [pair]
        pinned.append(Slot(slot.chord, pin=Pin(fitting[0].kind, fitting[0].lower)))
    assert solve(chart, hand).cost <= solve(pinned, hand).cost


def test_a_line_counted_by_hand():
    """Dm7 G7 Cmaj7 round and round: D3 F3, G2 F3 (7 + 0), C3 E3 (5 + 1), and back (2 + 1) make 16."""
    part = solve(slots_of("Dm7 G7 Cmaj7"), Hand())
    assert [choice.shell.names for choice in part.choices] == [("D3", "F3"), ("G2", "F3"), ("C3", "E3")]
    assert [choice.movement for choice in part.choices] == [3, 7, 6] and part.movement == part.cost == 16


def test_prices_counted_by_hand():
    """G7sus4 G7 C: G2 F3 twice pays 4, for no key says that the fourth became a third; then 5 + 1, and back 5 + 1."""
    part = solve(slots_of("G7sus4 G7 C"), Hand())
    assert [choice.shell.names for choice in part.choices] == [("G2", "F3"), ("G2", "F3"), ("C3", "E3")]
    assert [choice.bill.same_keys for choice in part.choices] == [0, 4, 0]
    assert part.movement == 12 and part.cost == 16


def test_a_chosen_root_fifth_ends_the_line():
    """To and from it only the lower note counts: G2 to C3 and back, 5 and 5, and no guide line is due."""
    part = solve(slots_of("G7 C6", _2="root-fifth C3"), Hand())
    assert [choice.shell.names for choice in part.choices] == [("G2", "F3"), ("C3", "G3")]
    assert part.cost == 10 and part.movement == 14
    assert part.choices[1].bill.upper == part.choices[1].bill.guide_line == 0


@pytest.mark.parametrize(
    ("rest", "tops_of"), [("never", "third third"), ("endings", "third fifth"), ("always", "fifth fifth")]
)
def test_sixth_chords_and_major_triads_rest_where_the_hand_wants_it(rest, tops_of):
    chords = [Slot(parse_chord("C6")), Slot(parse_chord("G7")), Slot(parse_chord("C6"), ends=True)]
    part = solve(chords, Hand(rest_on_fifth=rest))
    assert [kinds(part).split()[i] for i in (0, 2)] == tops_of.split()
    always = solve(slots_of("C F6 Cm6 Cm Caug C7"), Hand(rest_on_fifth="always"))
    assert [shell.kind == "root-fifth" for shell in sounded(always)[:3]] == [True] * 3
    assert sounded(always)[1].names == ("F2", "C3")  # the lowest legal place
    assert sounded(always)[5].kind != "root-fifth"


def test_no_chord_is_passed_over_and_the_hand_moves_across_it():
    part = solve(slots_of("Dm7 N.C. G7 N.C. N.C. Cmaj7"), Hand())
    without = solve(slots_of("Dm7 G7 Cmaj7"), Hand())
    assert sounded(part) == sounded(without) and part.movement == without.movement
    assert [choice.shell is None for choice in part.choices] == [False, True, False, True, True, False]


@pytest.mark.parametrize("line", ["", "N.C.", "N.C. N.C."])
def test_nothing_sounds_nothing_moves(line):
    part = solve(slots_of(line), Hand())
    assert part.movement == part.cost == 0 and not sounded(part)


@pytest.mark.parametrize("line", ["C7", "N.C. C7", "C7 C7 C7"])
def test_a_single_chord_does_not_move(line):
    part = solve(slots_of(line), Hand())
    assert part.movement == part.cost == 0 and {choice.movement for choice in part.choices} == {0}


def test_a_pin_wins_and_the_rest_is_solved_around_it():
    free = solve(slots_of("Fmaj7 Fm6 Em7 A7"), Hand())
    pinned = solve(slots_of("Fmaj7 Fm6 Em7 A7", _2="root-sixth"), Hand())
    assert pinned.choices[1].shell.kind == "root-sixth"
    assert {shell.kind for shell in pinned.choices[1].options} == {"root-third", "root-sixth"}
    assert pinned.cost > free.cost


def test_an_impossible_pin_is_an_error_that_names_the_place():
    with pytest.raises(ShellError, match="section A, bar 3, Csus4: the pin root-third cannot be kept"):
        solve([Slot(parse_chord("Csus4"), pin=Pin("root-third"), label="section A, bar 3")], Hand())


def test_a_pin_may_ask_for_what_the_family_does_not_take_by_itself():
    part = solve(slots_of("G7 C", _1="root-fifth", _2="root-octave"), Hand(highest_top=62))
    assert [choice.shell.kind for choice in part.choices] == ["root-fifth", "root-octave"]


def test_cost_is_the_same_wherever_the_chorus_starts():
    qualities = ("m7", "7", "maj7", "", "6") * 3
    line = [Slot(parse_chord(root + quality)) for root, quality in zip(ROOTS, qualities, strict=False)]
    cost = solve(line, Hand()).cost
    assert all(solve([*line[turn:], *line[:turn]], Hand()).cost == cost for turn in range(len(line)))


def test_a_long_chart_is_solved_without_deep_recursion():
    chart = slots_of("Dm7 G7 Cmaj7 A7") * 600
    assert solve(chart, Hand()).cost == 600 * solve(chart[:4], Hand()).cost
    bars = bars_of(" | ".join(["Dm7 | G7 | Cmaj7 | A7"] * 600))
    part = solve(bars, Hand())
    assert part.cost == 600 * solve(chart[:4], Hand()).cost and tops(part) == " ".join(
        [tops(solve(chart[:4], Hand()))] * 600
    )


def test_the_same_answer_in_every_process():
    """Python salts the hashes of texts anew in each process; the answer must not hang on it."""
    program = (
        "from companion.hands.left.solver import solve\n"
        "from companion.hands.hand import Hand\n"
        "from companion.hands.left.model import Slot\n"
        "from companion.theory.symbols import parse_chord\n"
        "line = 'C Am7 Dm7 G7 C F Bb7 C6 A7 Dm G7 C'.split() * 3\n"
        "slots = [Slot(parse_chord(symbol), place=(symbol, i % 12), bar=i) for i, symbol in enumerate(line)]\n"
        "part = solve(slots, Hand(highest_root=60, highest_top=67))\n"
        "print([(c.shell.midi, c.fingers, c.why, c.bill) for c in part.choices])\n"
    )
    answers = {
        subprocess.run(
            [sys.executable, "-c", program],
            capture_output=True,
            text=True,
            check=True,
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": os.pathsep.join(sys.path)},
        ).stdout
        for seed in ("1", "2", "3")
    }
    assert len(answers) == 1
