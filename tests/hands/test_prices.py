"""The objective against every path there is: seeds 0 on while the solver was written, 50,000 on kept aside."""

import itertools
import random
from dataclasses import replace

import pytest
from hands.lines import sounded
from hands.oracle import PITCHES, QUALITIES, Room, least_cost, plain, ring_cost, travelled
from shipped import spread

from companion.hands.hand import Hand
from companion.hands.left.model import Slot
from companion.hands.left.options import options_for
from companion.hands.left.phrases import find_phrases
from companion.hands.left.solver import solve
from companion.theory.shell_kinds import Pin
from companion.theory.symbols import parse_chord

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
ROOMS = (Room(), Room(41, 58, 64), Room(40, 53, 60, 9), Room(43, 55, 62))
SEEDS = [*range(60), *range(50_000, 50_140)]
SLASHES = ("", "", "", "", "/C", "/E", "/Bb", "/G")


def hand_of(room: Room) -> Hand:
    return Hand(lowest_root=room.low, highest_root=room.high, highest_top=room.top, reach=room.reach)


def random_line(chance: random.Random, count: int) -> list[tuple[str, str]]:
    """(symbol, pin) that mostly fall by fifths; now and then the same root again, a slash, a pinned root-fifth."""
    root, line = chance.randrange(12), []
    while len(line) < count:
        move = chance.random()
        root = (root + (5 if move < 0.5 else 0 if move < 0.65 else chance.randrange(12))) % 12
        symbol = ROOTS[root] + chance.choice(list(QUALITIES))
        over = chance.choice(SLASHES) if "(" not in symbol else ""
        pin = "root-fifth" if not over and chance.random() < 0.1 else ""
        line.append((symbol + over, pin))
    return line


def solvable(line, room):
    chords = [plain(symbol, room, pin) for symbol, pin in line]
    return chords if all(chord.options for chord in chords) else None


@pytest.mark.parametrize("seed", spread(SEEDS, 3))
def test_no_path_costs_less(seed):
    chance = random.Random(seed)
    room = ROOMS[seed % len(ROOMS)]
    while (chords := solvable(line := random_line(chance, chance.randint(1, 6)), room)) is None:
        pass
    slots = [Slot(parse_chord(symbol), pin=Pin(pin) if pin else None) for symbol, pin in line]
    part = solve(slots, hand_of(room))
    midi = [shell.midi for shell in sounded(part)]
    for choice, chord in zip(part.choices, chords, strict=True):
        wanted = {option[:2] for option in chord.options}
        assert {shell.midi for shell in choice.options} >= wanted
        assert choice.slot.pin or {shell.midi for shell in choice.options} == wanted
    path = tuple(
        next(option for option in chord.options if option[:2] == keys) for chord, keys in zip(chords, midi, strict=True)
    )
    assert part.cost == ring_cost(chords, path) == least_cost(chords)
    assert part.cost == sum(choice.bill.total for choice in part.choices)
    assert part.movement == travelled(path)


@pytest.mark.parametrize("seed", spread([*range(12), *range(60_000, 60_040)], 3))
def test_every_shell_costs_what_the_best_path_through_it_costs(seed):
    """Each chord pinned to each of its shells, the rest solved around it."""
    chance = random.Random(seed)
    chords = None
    while chords is None:
        line = [(symbol, "") for symbol, _ in random_line(chance, 4)]
        chords = solvable(line, Room())
    slots = [Slot(parse_chord(symbol)) for symbol, _ in line]
    for at, chord in enumerate(chords):
        for lower, upper, role in chord.options:
            through = [replace(c, options=((lower, upper, role),)) if n == at else c for n, c in enumerate(chords)]
            shell = next(s for s in options_for(slots[at].chord, Hand()) if s.midi == (lower, upper))
            if shell.kind == "root-fifth":
                continue  # pinned it is chosen, and costs less
            pinned = [replace(s, pin=Pin(shell.kind, shell.lower)) if n == at else s for n, s in enumerate(slots)]
            assert solve(pinned, Hand()).cost == least_cost(through)


def phrase_chorus(chance: random.Random, form: str) -> list[list[str]]:
    """A chorus in bars of one chord: a phrase of four bars where the form says A or C, one or two bars elsewhere."""
    sections = {}
    for name in "ABCDE":
        bars = 4 if name in "AC" else chance.randint(1, 2)
        sections[name] = [
            ROOTS[chance.randrange(12)] + chance.choice(("7", "m7", "maj7", "m6", "6", "")) for _ in range(bars)
        ]
    return [bar for name in form for bar in sections[name]]


@pytest.mark.parametrize("seed", spread([*range(30), *range(70_000, 70_090)], 3))
def test_equal_phrases_are_solved_exactly(seed):
    """Phrases are found by the rule's words, every path is tried, and what differs is counted."""
    chance = random.Random(seed)
    form = chance.choice(("ABAD", "AABA", "ABA", "ABACE", "AAB", "ABAB"))
    chords, bars = None, []
    while chords is None or len(bars) > 15:
        bars = phrase_chorus(chance, form)
        chords = solvable([(symbol, "") for symbol in bars], Room())
    phrases = [[(start, start + phrase.length - 1) for start in phrase.starts] for phrase in find_phrases(bars)]
    assert phrases
    slots = [Slot(parse_chord(symbol), bar=number) for number, symbol in enumerate(bars)]
    part = solve(slots, Hand())
    assert part.cost == fast_least(chords, phrases)
    assert part.cost == sum(choice.bill.total for choice in part.choices) + part.phrases


def fast_least(chords, phrases):
    """`least_cost`, the paths of one phrase tried apart: for every inner way that all could have, each phrase has it or pays 4.
    Every inner way there is is tried, so nothing is taken from the solver's own argument."""
    from itertools import product

    best = None
    inners = [list(product(*(chord.options for chord in chords[kind[0][0] + 1 : kind[0][1]]))) for kind in phrases]
    for common in product(*inners):
        total = ring_with(chords, phrases, common)
        best = total if best is None else min(best, total)
    return best


def ring_with(chords, phrases, common):
    """The least ring where every phrase has the common inner way or pays 4, by going through the chords once for each first shell."""
    begins = {first: (last, way) for kind, way in zip(phrases, common, strict=True) for first, last in kind}
    order = list(range(len(chords)))
    best = None
    for opening in chords[0].options:
        states = {opening: 0}
        at = 0
        while at < len(order) - 1:
            if at in begins:
                last, way = begins[at]
                after = {}
                for shell, cost in states.items():
                    for target, more in _through(chords, at, last, shell, way).items():
                        after[target] = min(cost + more, after.get(target, 10**9))
                states, at = after, last
                continue
            after = {}
            for shell, cost in states.items():
                for target in chords[at + 1].options:
                    total = cost + step_cost_at(chords, at, shell, target)
                    after[target] = min(total, after.get(target, 10**9))
            states, at = after, at + 1
        for shell, cost in states.items():
            total = cost + step_cost_at(chords, len(chords) - 1, shell, opening)
            best = total if best is None else min(best, total)
    return best


def step_cost_at(chords, at, x, y):
    from hands.oracle import step_cost

    return step_cost(chords[at], x, chords[(at + 1) % len(chords)], y)


def _through(chords, first, last, shell, way):
    """From the first shell of a phrase to each last one: freely at 4 more, or by the common way."""
    free = {shell: 4}
    for at in range(first, last):
        after = {}
        for here, cost in free.items():
            for target in chords[at + 1].options:
                total = cost + step_cost_at(chords, at, here, target)
                after[target] = min(total, after.get(target, 10**9))
        free = after
    common = sum(step_cost_at(chords, first + 1 + i, x, y) for i, (x, y) in enumerate(itertools.pairwise(way)))
    for target in chords[last].options:
        total = step_cost_at(chords, first, shell, way[0]) + common + step_cost_at(chords, last - 1, way[-1], target)
        free[target] = min(total, free[target])
    return free


@pytest.mark.parametrize("seed", [*range(6), *range(80_000, 80_012)])
def test_the_slow_way_through_phrases_is_every_path(seed):
    """The way through phrases just above, against every single path of a short chorus."""
    chance = random.Random(seed)
    chords = None
    while chords is None or max(len(chord.options) for chord in chords) > 2:
        bars = phrase_chorus(chance, "ABA")
        chords = solvable([(symbol, "") for symbol in bars], Room())
    phrases = [[(start, start + phrase.length - 1) for start in phrase.starts] for phrase in find_phrases(bars)]
    assert fast_least(chords, phrases) == least_cost(chords, phrases)


def test_the_oracle_knows_the_pitches_that_the_lines_name():
    assert set(ROOTS) <= set(PITCHES)
