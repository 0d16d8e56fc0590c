"""Which two fingers of the left hand take a shell.

The rule (common practice): the wider the interval, the wider the fingers; the thumb or the second finger on top,
never two neighbours for more than a third. Where a note stays, its finger stays if the next interval can be
taken so; and the same shell is taken by the same fingers wherever it comes. Fingers are counted 1 for the thumb to 5 for the little finger, written lower note first: "5-1".
Hands differ: a teacher's or the student's own fingering is as good.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import pairwise
from operator import add

Midi = tuple[int, int]  # lower and upper MIDI number of a shell

# (narrowest, widest) interval in semitones -> fingerings, the usual one first. All rows: common practice.
FINGERINGS = (
    (1, 2, ("2-1", "3-2", "5-4")),  # seconds
    (3, 4, ("4-2", "3-1", "5-3")),  # thirds
    (5, 6, ("5-2", "4-1")),  # fourth and tritone
    (7, 7, ("5-1", "5-2")),  # fifth
    (8, 24, ("5-1",)),  # sixths, sevenths and wider
)
# What weighs how much; no number of the lesser outweighs one of the greater in a song.
_CHANGE = 1_000_000  # another finger on a note that stays
_OTHERWISE = 1_000  # other fingers on a shell than it mostly has
_ROUNDS = 4  # in which it is sought again by what a shell was mostly given; two nearly always do
# 1: each step away from the usual fingering of the interval


def fingerings_for(interval: int, little_finger: bool = False) -> tuple[str, ...]:
    """The fingerings of an interval in semitones, the usual one first. little_finger: only those with it on the lower note."""
    found = next(fingers for narrowest, widest, fingers in FINGERINGS if narrowest <= interval <= widest)
    return tuple(fingers for fingers in found if fingers[0] == "5") if little_finger else found


def changes(left: Midi, right: Midi, left_fingers: str, right_fingers: str) -> int:
    """How many notes stay from one shell to the next but would get another finger."""
    held = zip(left, left_fingers.split("-"), strict=True)
    new = dict(zip(right, right_fingers.split("-"), strict=True))
    return sum(midi in new and new[midi] != finger for midi, finger in held)


def fingers_for(line: Sequence[Midi], little_finger: bool = False) -> list[str]:
    """A fingering for each shell of a line: as few changes of finger on held notes as can be; then the same fingers on the same
    shell wherever it comes; then the usual ones.

    line: lower and upper MIDI number of each shell. little_finger: whether it plays every lower note.
    """
    ranked = {shell: fingerings_for(shell[1] - shell[0], little_finger) for shell in line}
    usual = _usual(line, ranked)
    for _ in range(_ROUNDS):
        priced = {
            shell: [(rank + _OTHERWISE * (each != usual[shell]), each) for rank, each in enumerate(row)]
            for shell, row in ranked.items()
        }
        found = _least(line, priced)
        before, usual = usual, _mostly(line, found, ranked)
        if usual == before:
            break
    return found


def _mostly(line: Sequence[Midi], found: Sequence[str], ranked: Mapping[Midi, Sequence[str]]) -> dict[Midi, str]:
    """The fingering that each shell was given in the most places."""
    given = Counter(zip(line, found, strict=True))
    return {shell: max(row, key=lambda each: given[shell, each]) for shell, row in ranked.items()}


def _usual(line: Sequence[Midi], ranked: Mapping[Midi, Sequence[str]]) -> dict[Midi, str]:
    """The fingering of each shell that the held notes allow in the most places where it comes."""
    onward = _changes_to_here(line, ranked)
    back = _changes_to_here(line[::-1], ranked)[::-1]
    allowed: dict[Midi, Counter[str]] = {shell: Counter() for shell in line}
    for shell, before, behind in zip(line, onward, back, strict=True):
        sums = list(map(add, before, behind))
        allowed[shell].update(each for each, total in zip(ranked[shell], sums, strict=True) if total == min(sums))
    return {shell: max(ranked[shell], key=lambda each: counts[each]) for shell, counts in allowed.items()}


def _changes_to_here(line: Sequence[Midi], ranked: Mapping[Midi, Sequence[str]]) -> list[list[int]]:
    """For each shell and each of its fingerings the fewest changes on held notes from the first shell on."""
    found = [[0] * len(ranked[shell]) for shell in line[:1]]
    steps: dict[tuple[Midi, Midi], list[list[int]]] = {}  # a chart has few different changes
    for left, right in pairwise(line):
        if (left, right) not in steps:
            steps[left, right] = [[changes(left, right, a, b) for a in ranked[left]] for b in ranked[right]]
        found.append([min(map(add, found[-1], row)) for row in steps[left, right]])
    return found


def _least(line: Sequence[Midi], priced: Mapping[Midi, Sequence[tuple[int, str]]]) -> list[str]:
    """The fingerings whose prices come to least, changes of finger on held notes counted. priced: shell -> (price, fingering)."""
    if not line:
        return []
    steps: dict[tuple[Midi, Midi], list[list[int]]] = {}
    totals = [price for price, _ in priced[line[0]]]
    came_from: list[list[int]] = []
    for left, right in pairwise(line):
        step = steps.get((left, right))
        if step is None:
            step = [
                [_CHANGE * changes(left, right, before, here) + price for _, before in priced[left]]
                for price, here in priced[right]
            ]
            steps[left, right] = step
        sums = [list(map(add, totals, row)) for row in step]
        totals = list(map(min, sums))
        came_from.append([row.index(least) for row, least in zip(sums, totals, strict=True)])
    at = totals.index(min(totals))
    fingers = [priced[line[-1]][at][1]]
    for shell, origin in zip(reversed(line[:-1]), reversed(came_from), strict=True):
        at = origin[at]
        fingers.append(priced[shell][at][1])
    return fingers[::-1]
