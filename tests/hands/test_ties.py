"""Which of several least choruses is taken: the named rules, none of which costs a semitone."""

import os
import subprocess
import sys
from collections import Counter
from itertools import pairwise

import pytest
from hands.oracle import least_paths, slots_of, travelled
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import ROOTS

from companion.hands.hand import Hand
from companion.hands.left.model import Slot
from companion.hands.left.solver import solve
from companion.hands.left.ties import alternates
from companion.theory.symbols import parse_chord

WIDER = Hand(highest_root=57, highest_top=64)
FORMS = ("A A B A", "A B A C", "A A", "A A A", "A B B", "A B A B", "A A B B", "A B C A B C")


def sounded(part):
    return tuple(choice.shell for choice in part.choices if choice.shell is not None)


def ring_pairs(path):
    return list(pairwise([path[-1], *path]))


def ranks(path, hand):
    """How often third and seventh do not take turns, and how far the chorus lies from the middle."""
    return (
        sum(not alternates(left, right) for left, right in ring_pairs(path)),
        sum(abs(sum(shell.midi) - hand.lowest_root - hand.highest_top) for shell in path),
    )


def differing_phrases(chords, path):
    votes = {}
    for pair, shells in zip(ring_pairs(chords), ring_pairs(path), strict=True):
        votes.setdefault(pair, Counter())[shells] += 1
    return sum(count.total() - max(count.values()) for count in votes.values())


chords = st.builds(
    lambda root, quality: parse_chord(root + quality),
    st.sampled_from(ROOTS),
    st.sampled_from(("", "m", "7", "m7", "maj7", "m7b5", "7sus4", "6")),
)


@settings(max_examples=150, deadline=None)
@given(st.lists(chords, min_size=2, max_size=6, unique=True), st.sampled_from((Hand(), WIDER)))
def test_without_repeats_the_choice_is_the_best_by_turns_then_by_the_middle(line, hand):
    """Against every least path, ranked the slow way."""
    chart = [Slot(chord) for chord in line]
    _, paths = least_paths(chart, hand)
    assert ranks(sounded(solve(chart, hand)), hand) == min(ranks(path, hand) for path in paths)


@st.composite
def forms(draw):
    """A small song: its sections of one to three chords in a form that repeats some of them."""
    form = draw(st.sampled_from(FORMS)).split()
    sections = {name: draw(st.lists(chords, min_size=1, max_size=2 if len(form) > 3 else 3)) for name in "ABC"}
    return [Slot(chord, place=(name, number)) for name in form for number, chord in enumerate(sections[name])]


def is_alike(chart, path):
    shells = {}
    return all(shells.setdefault(slot.place, shell) == shell for slot, shell in zip(chart, path, strict=True))


@settings(max_examples=200, deadline=None)
@given(forms(), st.sampled_from((Hand(), WIDER)))
def test_repeated_sections_get_the_same_shells_wherever_that_costs_nothing(chart, hand):
    """Against every least path: if a single one plays all repeats alike, one such is found."""
    least, paths = least_paths(chart, hand)
    part = solve(chart, hand)
    assert part.movement == least == travelled(sounded(part))
    if any(is_alike(chart, path) for path in paths):
        assert is_alike(chart, sounded(part))


@settings(max_examples=200, deadline=None)
@given(
    st.lists(chords, min_size=2, max_size=3), st.lists(chords, min_size=1, max_size=2), st.sampled_from((Hand(), WIDER))
)
def test_the_same_phrase_gets_the_same_shells_wherever_that_costs_nothing(phrase, others, hand):
    line = [*phrase, others[0], *phrase, others[-1]]
    chart = [Slot(chord) for chord in line]
    _, paths = least_paths(chart, hand)
    if min(differing_phrases(line, path) for path in paths) == 0:
        assert differing_phrases(line, sounded(solve(chart, hand))) == 0


# Lines with several least choruses, found by trying every path; the rule named is the one that settles them.
@pytest.mark.parametrize(
    ("line", "rule", "kinds"),
    [
        (
            "F7 Bbm7 Ebmaj7 Db7",
            "alternate",
            "third seventh third seventh",
        ),  # all the others lie nearer the middle
        ("Amaj7 D7 C7 Fm7", "alternate", "seventh third seventh third"),
        ("Amaj7 Dm7 F7 Bbmaj7", "middle", "seventh third third seventh"),
        ("Fm7 C7 Bb7", "middle", "seventh third third"),
    ],
)
def test_worked_ties(line, rule, kinds):
    chart = slots_of(line)
    _, paths = least_paths(chart, Hand())
    found = sounded(solve(chart, Hand()))
    assert [shell.kind.removeprefix("root-") for shell in found] == kinds.split()
    others = [ranks(path, Hand()) for path in paths if path != found]
    own = ranks(found, Hand())
    assert others
    if rule == "alternate":
        assert all(own[0] < other[0] for other in others) and any(own[1] > other[1] for other in others)
    else:
        assert all(own[0] == other[0] and own[1] < other[1] for other in others)


def test_where_alike_would_cost_movement_as_few_places_as_can_be_differ():
    """One semitone is worth more than any likeness: found by trying every path over many small songs."""
    hand = Hand()
    seen = 0
    for number in range(60):
        steps = ((0, "m7"), (5, "7"), (3, ""), (number % 7, "7"))
        names = [ROOTS[(number * 5 + step) % 12] + quality for step, quality in steps]
        first, second, third, fourth = (parse_chord(name) for name in names)
        chart = [
            Slot(chord, place)
            for chord, place in ((first, 1), (second, 2), (third, 3), (first, 1), (second, 2), (fourth, 4))
        ]
        least, paths = least_paths(chart, hand)
        found = sounded(solve(chart, hand))
        differing = [sum(path[i] != path[i + 3] for i in (0, 1)) for path in paths]
        assert travelled(found) == least
        assert sum(found[i] != found[i + 3] for i in (0, 1)) == min(differing)
        seen += min(differing) > 0
    assert seen  # the case did come up


def test_the_same_answer_in_every_process():
    """Python salts the hashes of texts anew in each process; the answer must not hang on it."""
    program = (
        "from companion.hands.left.solver import solve\n"
        "from companion.hands.hand import Hand\n"
        "from companion.hands.left.model import Slot\n"
        "from companion.theory.symbols import parse_chord\n"
        "line = 'C Am7 Dm7 G7 C F Bb7 C6 A7 Dm G7 C'.split() * 3\n"
        "slots = [Slot(parse_chord(symbol), place=(symbol, i % 12)) for i, symbol in enumerate(line)]\n"
        "part = solve(slots, Hand(highest_root=60, highest_top=67))\n"
        "print([(c.shell.midi, c.fingers, c.why, c.alternative) for c in part.choices])\n"
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
