"""The objective: how far the hand travels in one chorus, and what each legal shell would make of it.

The distance between two shells is the semitones that the lower note moves plus those that the upper note moves. A
chorus is a ring: the move from its last chord back to its first counts too. Everything here is exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from operator import add

from companion.hands.left.model import Shell

BAN = 1 << 40  # what a shell costs that the student's pin rules out: more than any chorus


def distance(left: Shell, right: Shell) -> int:
    """Semitones both notes travel from one shell to the other."""
    (lower, upper), (next_lower, next_upper) = left.midi, right.midi
    return abs(lower - next_lower) + abs(upper - next_upper)


@dataclass(frozen=True, slots=True, eq=False)
class Menu:
    """What may be played for a chord. number: equal menus are one object with one number. shells: all the legal ones,
    in their fixed order. bans: 0 for each, or BAN where a pin rules it out. off_middle: how far each lies from the
    middle of the hand's range, in half semitones."""

    number: int
    shells: tuple[Shell, ...]
    bans: tuple[int, ...]
    off_middle: tuple[int, ...]


class Moves:
    """Distances between all shells of two menus, worked out once for each pair of menus that meets."""

    def __init__(self) -> None:
        self._tables: dict[tuple[int, int], tuple[tuple[int, ...], ...]] = {}

    def table(self, left: Menu, right: Menu) -> tuple[tuple[int, ...], ...]:
        """table[a][b]: from shell a of the left menu to shell b of the right one."""
        key = (left.number, right.number)
        found = self._tables.get(key)
        if found is None:
            arrivals = [shell.midi for shell in right.shells]
            found = tuple(
                tuple(abs(lower - to_lower) + abs(upper - to_upper) for to_lower, to_upper in arrivals)
                for lower, upper in (shell.midi for shell in left.shells)
            )
            self._tables[key] = found
        return found


def extras(menus: Sequence[Menu], moves: Moves) -> tuple[int, list[list[int]]]:
    """(least, extra): the least movement of any chorus, and for every place and shell there what the best chorus with
    that shell has more than the least.

    At a pinned place the shells that the pin rules out count as what they would cost if the pin were lifted, which
    may be negative. One table forward and one backward for each shell of the starting place, so the time is linear in
    the length of the chorus.
    """
    count = len(menus)
    start = min(range(count), key=lambda i: len(menus[i].shells))  # the fewer there, the fewer rounds
    ring = [*menus[start:], *menus[:start]]
    tables = [moves.table(ring[i], ring[(i + 1) % count]) for i in range(count)]
    columns = [tuple(zip(*table, strict=True)) for table in tables]
    totals: list[list[int]] = [[] for _ in ring]
    for opening, ban in enumerate(ring[0].bans):
        forward = [[tables[0][opening][opening] + ban]]  # a single chord: it moves to itself
        backward = [[row[opening] for row in tables[-1]]]
        if count > 1:
            forward.append([ban + move + own for move, own in zip(tables[0][opening], ring[1].bans, strict=True)])
            for i in range(2, count):
                last, own = forward[-1], ring[i].bans
                forward.append([min(map(add, last, column)) + b for column, b in zip(columns[i - 1], own, strict=True)])
            for i in range(count - 2, 0, -1):
                rest = list(map(add, backward[-1], ring[i + 1].bans))
                backward.append([min(map(add, row, rest)) for row in tables[i]])
            forward[0][0] = min(map(add, forward[-1], backward[0]))
            backward.reverse()
        totals[0].append(forward[0][0])
        for i in range(1, count):
            through = list(map(add, forward[i], backward[i - 1]))
            totals[i] = list(map(min, totals[i], through)) if totals[i] else through
    least = min(totals[0])
    extra = [
        [total - least - ban for total, ban in zip(row, menu.bans, strict=True)]
        for row, menu in zip(totals, ring, strict=True)
    ]
    return least, extra[count - start :] + extra[: count - start]
