"""How older companions chose among choruses of the same, least movement (see former.py).

Places that were to be played alike are one choice, so the ring of chords folds into a small network of choices. That is solved by
taking out one choice at a time that has two neighbours at most, and leaving what it costs between those two (dynamic programming
over the network's shape). Where playing alike would cost a semitone, or the network is too tangled for that, places of a section
alone are played alike, and where even that fails each place is by itself.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from itertools import accumulate
from operator import add

from companion.hands.left.model import Shell
from companion.hands.left.ring import Table, joined

_TURNS = ({"third", "seventh"}, {"fourth", "seventh"})
Values = tuple[int, ...]  # shells by their numbers in a menu


@dataclass(frozen=True, slots=True, eq=False)
class Ring:
    """The chords of a chorus that sound. menus: what each may take; numbers: equal for equal menus; classes: equal for the same
    chord of a section that comes again. moves: from each to the next, semitones of both notes. least: of a chorus; open: for each
    chord the shells of choruses that move no more."""

    menus: Sequence[Sequence[Shell]]
    numbers: list[int]
    classes: list[int]
    off_middle: Sequence[Sequence[int]]
    moves: list[Table]
    least: int
    open: list[Values]

    @classmethod
    def of(
        cls, menus: Sequence[tuple[Shell, ...]], places: Sequence[Hashable], off_middle: Sequence[Sequence[int]]
    ) -> Ring:
        """places: equal for the same chord of a section, None for one by itself. off_middle: of each shell of each menu."""
        known: dict[Hashable, int] = {}
        numbers = [known.setdefault(menu, len(known)) for menu in menus]
        names: dict[Hashable, int] = {}
        classes = [
            names.setdefault((i,) if place is None else (place, number), len(names))
            for i, (place, number) in enumerate(zip(places, numbers, strict=True))
        ]
        moves = [_moves(left, right) for left, right in zip(menus, [*menus[1:], menus[0]], strict=True)]
        return cls(menus, numbers, classes, off_middle, moves, *_least(moves))

    def settle(self) -> list[int]:
        """The shells that were taken, by their numbers in the menus."""
        for classes in (self._phrase_classes(), self.classes):
            picks = self._alike(classes)
            if picks is not None and self._movement(picks) == self.least:
                return picks
        picks = self._solve(list(range(len(self.menus))), self.open)
        assert picks is not None  # a ring can always be solved
        return picks

    def _movement(self, picks: Sequence[int]) -> int:
        after = [*picks[1:], picks[0]]
        return sum(table[a][b] for table, a, b in zip(self.moves, picks, after, strict=True))

    def _phrase_classes(self) -> list[int]:
        """The classes, joined where the same two chords come in a row and a shell is open to all of them."""
        parents = list(range(len(self.menus)))
        shared = self._shared(self.classes)

        def first_of(name: int) -> int:
            while parents[name] != name:
                name = parents[name]
            return name

        seen: dict[tuple[int, int], int] = {}
        for i, number in enumerate(self.numbers):
            twin = seen.setdefault((self.numbers[i - 1], number), i)
            for step in (-1, 0):
                name, other = first_of(self.classes[i + step]), first_of(self.classes[twin + step])
                both = tuple(value for value in shared[other] if value in shared[name])
                if name != other and both:
                    parents[name], shared[other] = other, both
        return [first_of(name) for name in self.classes]

    def _shared(self, classes: list[int]) -> dict[int, Values]:
        shared: dict[int, Values] = {}
        for name, values in zip(classes, self.open, strict=True):
            shared[name] = tuple(value for value in shared.get(name, values) if value in values)
        return shared

    def _alike(self, classes: list[int]) -> list[int] | None:
        """Every class as one choice; one that shares no open shell is left in single places."""
        shared = self._shared(classes)
        known: dict[Hashable, int] = {}
        groups = [
            known.setdefault((name,) if shared[name] else (name, i), len(known)) for i, name in enumerate(classes)
        ]
        return self._solve(groups, [shared[name] or values for name, values in zip(classes, self.open, strict=True)])

    def _solve(self, groups: list[int], domains: list[Values]) -> list[int] | None:
        """The best picks where places of one group are played alike; None where that is too tangled."""
        turn = len(self.menus) * 256 + 1  # more than all distances from the middle, in half semitones
        move = turn * (len(self.menus) + 1)
        network = _Network()
        for i, group in enumerate(groups):
            network.add(group, [self.off_middle[i][value] for value in domains[i]])
            if not len(domains[i - 1]) == len(domains[i]) == 1:
                network.join(groups[i - 1], group, self._table(i, domains[i - 1], domains[i], move, turn))
        values = network.solve()
        if values is None:
            return None
        return [domain[values[group]] for group, domain in zip(groups, domains, strict=True)]

    def _table(self, i: int, before: Values, here: Values, move: int, turn: int) -> list[list[int]]:
        tops = [[shell.top for shell in self.menus[at]] for at in (i - 1, i)]
        moves = self.moves[i - 1]
        return [[move * moves[a][b] + turn * ({tops[0][a], tops[1][b]} not in _TURNS) for b in here] for a in before]


class _Network:
    """Choices with costs of their own (costs[x][value]) and between pairs (links[x][y][value of x][value of y])."""

    def __init__(self) -> None:
        self.costs: dict[int, list[int]] = {}
        self.links: dict[int, dict[int, Table]] = {}

    def add(self, x: int, costs: list[int]) -> None:
        """What a choice costs by itself."""
        self.costs[x] = list(map(add, self.costs[x], costs)) if x in self.costs else costs
        self.links.setdefault(x, {})

    def join(self, x: int, y: int, table: Table) -> None:
        """Add a cost between two choices, or one and the same."""
        if x == y:
            self.add(x, [row[value] for value, row in enumerate(table)])
            return
        for a, b, costs in ((x, y, table), (y, x, list(zip(*table, strict=True)))):
            links = self.links.setdefault(a, {})
            links[b] = [list(map(add, *rows)) for rows in zip(links[b], costs, strict=True)] if b in links else costs

    def solve(self) -> dict[int, int] | None:
        """The value of every choice at the least total, the first of equals."""
        undo: list[tuple[int, dict[int, Table]]] = []
        waiting = list(self.costs)
        left = set(waiting)
        while waiting:
            x = waiting.pop(0)
            if x in left and len(self.links[x]) <= 2:
                left.remove(x)
                undo.append((x, self._take_out(x)))
                waiting += undo[-1][1]
        if left:
            return None
        values: dict[int, int] = {}
        for x, links in reversed(undo):
            total = self.costs[x]
            for y, table in links.items():
                total = [cost + row[values[y]] for cost, row in zip(total, table, strict=True)]
            values[x] = total.index(min(total))
        return values

    def _take_out(self, x: int) -> dict[int, Table]:
        links = self.links.pop(x)
        toward = [list(zip(*table, strict=True)) for table in links.values()]  # from each neighbour to x
        for y in links:
            del self.links[y][x]
        own = [list(map(add, row, self.costs[x])) for row in toward[0]] if toward else []
        if len(links) == 1:
            self.add(next(iter(links)), [min(row) for row in own])
        elif links:
            y, z = links
            self.join(y, z, [[min(map(add, a, b)) for b in toward[1]] for a in own])
        return links


def _moves(left: Sequence[Shell], right: Sequence[Shell]) -> Table:
    return [[sum(abs(x - y) for x, y in zip(a.midi, b.midi, strict=True)) for b in right] for a in left]


def _least(tables: Sequence[Table]) -> tuple[int, list[Values]]:
    """What the least way round a ring costs, and for each place the values that such a way may have."""
    ahead = list(accumulate(tables, lambda total, table: joined([total, table])))  # from place 0 to place i + 1
    behind = list(accumulate(reversed(tables), lambda total, table: joined([table, total])))[::-1]  # from i to 0
    least = min(row[value] for value, row in enumerate(ahead[-1]))
    found = [tuple(value for value, row in enumerate(ahead[-1]) if row[value] == least)]
    for before, after in zip(ahead[:-1], behind[1:], strict=True):
        to_here = list(zip(*before, strict=True))
        found.append(tuple(value for value, row in enumerate(after) if min(map(add, row, to_here[value])) == least))
    return least, found
