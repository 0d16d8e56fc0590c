"""Least-cost assignment over a sparse network of choices, exact.

A chorus is a ring: each chord chooses a shell and each move costs something. Where a section comes again and is to be
played alike, its chords become one choice each and the ring folds into a small network. Both are solved by eliminating
one choice at a time (dynamic programming over whatever shape the network has): a choice with at most two neighbours
is replaced by a cost between those two. A long ring costs a constant per chord. What is left of an unusual form, where
every choice has three neighbours or more, is tried value by value.

Costs are whole numbers of any size. Among equals the first value wins, so the outcome is the same every time.
"""

from __future__ import annotations

from collections.abc import Sequence
from operator import add

Table = list[list[int]]
# A choice taken out: itself, its neighbours with their tables, its own costs.
_Removed = tuple[int, tuple[tuple[int, Table], ...], list[int]]
MOST_TRIALS = 256  # values tried for the part that cannot be eliminated; beyond that we give up


class Network:
    """Choices with costs of their own and costs between pairs. Filled with `join`, emptied by `solve`."""

    def __init__(self, costs: Sequence[Sequence[int]]) -> None:
        """costs[x][value]: what choice x costs by itself at each of its values."""
        self.costs: dict[int, list[int]] = {x: list(row) for x, row in enumerate(costs)}
        self.links: dict[int, dict[int, Table]] = {x: {} for x in self.costs}  # links[x][y][value of x][value of y]

    def join(self, x: int, y: int, table: Sequence[Sequence[int]]) -> None:
        """Add a cost between two choices. One and the same choice, or one without an alternative, needs no link."""
        if x == y:
            self.costs[x] = [cost + table[value][value] for value, cost in enumerate(self.costs[x])]
        elif len(table) == 1:
            self.costs[y] = list(map(add, self.costs[y], table[0]))
        elif len(table[0]) == 1:
            self.costs[x] = [cost + row[0] for cost, row in zip(self.costs[x], table, strict=True)]
        else:
            self._add(x, y, [list(row) for row in table])
            self._add(y, x, [list(column) for column in zip(*table, strict=True)])

    def solve(self, trials: int = MOST_TRIALS) -> dict[int, int] | None:
        """The value of every choice at the least total cost; None where the network is too tangled to try."""
        undo: list[_Removed] = []
        self._eliminate(undo)
        values: dict[int, int] = {}
        if self.costs:
            tried = self._try_values(trials)
            if tried is None:
                return None
            values = tried
        for x, neighbours, own in reversed(undo):
            total = own
            for y, table in neighbours:
                total = list(map(add, total, table[values[y]]))
            values[x] = total.index(min(total))
        return values

    def _add(self, x: int, y: int, table: Table) -> None:
        links = self.links[x]
        known = links.get(y)
        links[y] = table if known is None else [list(map(add, a, b)) for a, b in zip(known, table, strict=True)]

    def _eliminate(self, undo: list[_Removed]) -> None:
        waiting = list(self.costs)
        while waiting:
            again: list[int] = []
            for x in waiting:
                if x in self.costs and len(self.links[x]) <= 2:
                    again += self._remove(x, undo)
            waiting = list(dict.fromkeys(again))

    def _remove(self, x: int, undo: list[_Removed]) -> list[int]:
        """Take a choice out and leave its cost with its neighbours, which are returned."""
        own = self.costs.pop(x)
        neighbours = list(self.links.pop(x))
        tables = [self.links[y].pop(x) for y in neighbours]
        undo.append((x, tuple(zip(neighbours, tables, strict=True)), own))
        if len(neighbours) == 1:
            y, table = neighbours[0], tables[0]
            best = [min(map(add, row, own)) for row in table]
            self.costs[y] = list(map(add, self.costs[y], best))
        elif len(neighbours) == 2:
            (y, z), (left, right) = neighbours, tables
            half = [list(map(add, row, own)) for row in left]
            joined = [[min(map(add, a, b)) for b in right] for a in half]
            self._add(y, z, joined)
            self._add(z, y, [list(column) for column in zip(*joined, strict=True)])
        return neighbours

    def _try_values(self, trials: int) -> dict[int, int] | None:
        busiest = max(self.costs, key=lambda x: len(self.links[x]))  # the first of equals
        width = len(self.costs[busiest])
        if trials < width:
            return None
        best: dict[int, int] | None = None
        least = 0
        for value in range(width):
            rest = self._with(busiest, value)
            copy = rest._copy()
            values = rest.solve(trials // width)
            if values is None:
                return None
            total = copy.total(values) + self.costs[busiest][value]
            if best is None or total < least:
                best, least = {**values, busiest: value}, total
        return best

    def _copy(self) -> Network:
        other = Network(())
        other.costs = dict(self.costs)
        other.links = {x: dict(links) for x, links in self.links.items()}
        return other

    def _with(self, x: int, value: int) -> Network:
        """What is left of the network once that choice is made."""
        other = self._copy()
        del other.costs[x], other.links[x]
        for y, table in self.links[x].items():
            del other.links[y][x]
            other.costs[y] = list(map(add, other.costs[y], table[value]))
        return other

    def total(self, values: dict[int, int]) -> int:
        """What these values cost together."""
        own = sum(row[values[x]] for x, row in self.costs.items())
        between = sum(
            table[values[x]][values[y]] for x, links in self.links.items() for y, table in links.items() if x < y
        )
        return own + between
