"""The least way through a phrase of melody notes with their voicings: exact dynamic programming.

What counts is each voicing's own cost, the rules of one, two and three fingers on the melody (prices.py), and how far the notes under it move. Two
neighbours tell all of that but the rule of three fingers, for which the finger before is kept too. A voicing that costs more than another with
the same finger on top, by more than all that the notes under it can save, is part of no best way and left out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from companion.hands.right.prices import FINGERS, note_cost, pair_table, triple_table
from companion.hands.right.voicing_rules import INNER_MOST, STEP_MOST, TURN_MOST
from companion.hands.right.voicings import Voicing, inner_cost

Ways = Mapping[Voicing, int]  # a voicing -> what it costs in all copies together
Table = Sequence[Sequence[int]]
_Onward = tuple[int, int]  # what is to come costs at least so much, by that way of the next place


@dataclass(frozen=True, slots=True)
class _Way:
    """A voicing with what it and its finger on the melody cost."""

    voicing: Voicing
    finger: int
    cost: int


def least_path(
    keys: Sequence[int], copies: int, held: Mapping[int, int], ways: Mapping[int, Ways]
) -> tuple[Voicing, ...]:
    """A voicing for each note. keys: of the melody; copies: how many phrases it is for at once; held: place -> the finger that the melody must have; ways: place
    where there may be company -> all there is, with what it costs for all copies. The way from or to such a place costs STEP_MOST and TURN_MOST at most,
    as the hand may lift."""
    count = len(keys)
    columns = [_column(keys, at, copies, held.get(at), ways.get(at)) for at in range(count)]
    steps = [
        _bounded(pair_table(keys[at], keys[at + 1]), STEP_MOST if ways.keys() & {at, at + 1} else None, copies)
        for at in range(count - 1)
    ]
    # By place, the finger before and the way there: what all after it costs at least, and by which way next.
    onward: list[dict[int, list[_Onward]]] = [{} for _ in range(count)]
    onward[-1] = {finger: [(0, 0)] * len(columns[-1]) for finger in (FINGERS if count > 1 else (0,))}
    for at in range(count - 2, -1, -1):
        turns = _turns(keys, at, ways, copies)
        onward[at] = {finger: [] for finger in turns}
        fingers = {way.finger for way in columns[at]}
        behind = {finger: _sorted(columns[at + 1], onward[at + 1][finger], steps[at][finger - 1]) for finger in fingers}
        for way in columns[at]:
            least = _least_behind(way.voicing.added, behind[way.finger], copies)
            for before, turn in turns.items():
                row = turn[way.finger - 1]
                onward[at][before].append(min((cost + row[finger - 1], number) for finger, (cost, number) in least))
    number = min(range(len(columns[0])), key=lambda number: columns[0][number].cost + onward[0][0][number][0])
    path = [columns[0][number]]
    for at in range(count - 1):
        _, number = onward[at][path[-2].finger if at else 0][number]
        path.append(columns[at + 1][number])
    return tuple(way.voicing for way in path)


def _column(keys: Sequence[int], at: int, copies: int, held: int | None, ways: Ways | None) -> list[_Way]:
    """What may be played at a place, in an order that decides among equals: most notes first, then the highest, then the lower fingers."""
    around = (keys[at - 1] if at else None, keys[at + 1] if at + 1 < len(keys) else None)
    own = {finger: copies * note_cost(finger, keys[at], *around) for finger in FINGERS}
    if ways is None:
        fingers = FINGERS if held is None else (held,)
        return [_Way(Voicing((keys[at],), (finger,)), finger, own[finger]) for finger in fingers]
    cheapest: dict[tuple[tuple[int, ...], int], tuple[int, Voicing]] = {}
    for voicing, cost in ways.items():
        same = (voicing.added, voicing.fingers[-1])
        if held in (None, voicing.fingers[-1]) and (
            same not in cheapest or (cost, voicing.fingers) < (cheapest[same][0], cheapest[same][1].fingers)
        ):
            cheapest[same] = (cost, voicing)
    least: dict[int, int] = {}
    for (_, finger), (cost, _) in cheapest.items():
        least[finger] = min(cost, least.get(finger, cost))
    found = [
        _Way(voicing, finger, cost + own[finger])
        for (_, finger), (cost, voicing) in cheapest.items()
        if cost <= least[finger] + 2 * INNER_MOST * copies
    ]
    return sorted(found, key=lambda way: _rank(way.voicing))


def _rank(voicing: Voicing) -> tuple[int, tuple[int, ...], tuple[int, ...]]:
    return -len(voicing.keys), tuple(-key for key in voicing.keys), voicing.fingers


def _bounded(table: Table, most: int | None, copies: int) -> list[list[int]]:
    return [[copies * (cost if most is None else min(most, cost)) for cost in row] for row in table]


def _turns(keys: Sequence[int], at: int, ways: Mapping[int, Ways], copies: int) -> dict[int, Table]:
    """By the finger before, the rule of three fingers: [finger here - 1][finger next - 1]. At the first note no finger is before it."""
    if not at:
        return {0: [[0] * len(FINGERS)] * len(FINGERS)}
    most = TURN_MOST if ways.keys() & {at - 1, at, at + 1} else None
    table = triple_table(keys[at] - keys[at - 1], keys[at + 1] - keys[at])
    return {finger: _bounded(table[finger - 1], most, copies) for finger in FINGERS}


_Next = tuple[int, int, int, tuple[int, ...]]  # cost, number in the column, finger, added keys


def _sorted(column: Sequence[_Way], onward: Sequence[_Onward], step: Sequence[int]) -> list[_Next]:
    """What may come next with all that follows it, the cheapest first, but for what the notes under the melody move."""
    return sorted(
        (after.cost + step[after.finger - 1] + later, number, after.finger, after.voicing.added)
        for number, (after, (later, _)) in enumerate(zip(column, onward, strict=True))
    )


def _least_behind(added: tuple[int, ...], behind: Sequence[_Next], copies: int) -> list[tuple[int, _Onward]]:
    """By the finger of the next note, the least of all from it on after these added keys."""
    found: dict[int, _Onward] = {}
    fingers = len({finger for _, _, finger, _ in behind})
    bound = 1 << 60  # nothing that costs more is the least with any finger
    for cost, number, finger, after in behind:
        if cost > bound:
            break
        least = found.get(finger)
        if least is None or cost < least[0]:
            cost += copies * inner_cost(added, after)
            if least is None or (cost, number) < least:
                found[finger] = cost, number
                if len(found) == fingers:
                    bound = max(found.values())[0]
    return list(found.items())
