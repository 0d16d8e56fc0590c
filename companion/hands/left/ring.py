"""The least way along a row of choices, and round a ring of them, exact (dynamic programming).

A table says what each step costs: table[a][b] from value a of one choice to value b of the next. Costs are whole
numbers of any size. Among equals the first value wins, so the outcome is the same every time.
"""

from __future__ import annotations

from collections.abc import Sequence
from operator import add

Table = Sequence[Sequence[int]]


def joined(tables: Sequence[Table]) -> Table:
    """One table for a row of them: the least cost from each first value to each last one."""
    total = tables[0]
    for table in tables[1:]:
        columns = list(zip(*table, strict=True))
        total = [[min(map(add, row, column)) for column in columns] for row in total]
    return total


def least_way(tables: Sequence[Table], first: int, last: int) -> list[int]:
    """The values along a least way from value `first` before the tables to value `last` behind them, both included."""
    forward = [list(tables[0][first])]
    for table in tables[1:]:
        row = forward[-1]
        forward.append([min(map(add, row, column)) for column in zip(*table, strict=True)])
    way = [last]
    for table, row in zip(reversed(tables[1:]), reversed(forward[:-1]), strict=True):
        sums = [cost + step[way[-1]] for cost, step in zip(row, table, strict=True)]
        way.append(sums.index(min(sums)))
    return [first, *reversed(way)]


def least_round(tables: Sequence[Table]) -> tuple[int, list[int]]:
    """(cost, values) of the least way round a ring; the last table leads back to the first choice."""
    total = joined(tables)
    costs = [row[value] for value, row in enumerate(total)]
    start = costs.index(min(costs))
    return costs[start], least_way(tables, start, start)[:-1]
