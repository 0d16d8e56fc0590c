"""Equal phrases get equal hands: finding them, and the least chorus that counts them.

A phrase is four bars or more of equal chords that come again in the chorus. Its inner shells are those of all its chords but
the first and the last, for these two are met from other chords and lead to others. The objective adds PHRASE points for
every phrase whose inner shells are not those that this phrase mostly has: so they are the same, unless that costs the chorus more.

Solved exactly: between the first and the last of its inner shells a phrase's way is a least one, whatever lies around it.
So the ways that all phrases of a kind may have in common are as many as there are pairs of such ends, a way that never
does better than another one is left out, and which of the rest is taken is tried, best bound first (branch and bound). Songs
need a handful of trials; a chart of hundreds of kinds of phrases may end with the best of as many as MOST_LINKS allows.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush

from companion.hands.left.ring import Table, joined, least_round, least_way

FEWEST_BARS = 4
MOST_LINKS = 20_000  # of all rings that are tried for one chorus: a second's work at most


@dataclass(frozen=True, slots=True)
class Phrase:
    """length: in bars (from `find_phrases`) or in chords that sound. starts: where it begins, each time it comes."""

    length: int
    starts: tuple[int, ...]


def find_phrases(bars: Sequence[Hashable]) -> list[Phrase]:
    """The phrases of a chorus in the order in which they begin, none overlapping another; equal bars are equal values.

    What comes most often is a phrase first, of those the longest, then the earliest.
    """
    found = sorted(_candidates(bars), key=lambda phrase: (-len(phrase.starts), -phrase.length, phrase.starts))
    taken = bytearray(len(bars))
    phrases = []
    for phrase in found:
        begin, length = _untaken(phrase, taken)
        free = [at + begin for at in phrase.starts if not any(taken[at + begin : at + begin + length])]
        if length >= FEWEST_BARS and len(free) > 1:
            phrases.append(Phrase(length, tuple(free)))
            for start in free:
                taken[start : start + length] = b"\1" * length
    return sorted(phrases, key=lambda phrase: phrase.starts)


def _candidates(bars: Sequence[Hashable]) -> Iterator[Phrase]:
    """All runs of bars that come again without overlapping, each from as far left as all its places have in common."""
    groups: dict[tuple[Hashable, ...], list[int]] = {}
    for start in range(len(bars) - FEWEST_BARS + 1):
        groups.setdefault(tuple(bars[start : start + FEWEST_BARS]), []).append(start)
    waiting = [(FEWEST_BARS, starts) for starts in groups.values() if len(starts) > 1 and not _follow(bars, starts)]
    while waiting:
        length, starts = waiting.pop()
        apart = _apart(starts, length)
        if len(apart) > 1:
            yield Phrase(length, apart)
        if len(apart) == len(starts):  # longer ones of those that overlap would come less often
            longer: dict[Hashable, list[int]] = {}
            for start in starts:
                if start + length < len(bars):
                    longer.setdefault(bars[start + length], []).append(start)
            waiting += [(length + 1, each) for each in longer.values() if len(each) > 1]


def _untaken(phrase: Phrase, taken: Sequence[int]) -> tuple[int, int]:
    """(first bar within the phrase, length) without what is taken at either end wherever it comes."""
    begin, end = 0, phrase.length
    while begin < end and all(taken[start + begin] for start in phrase.starts):
        begin += 1
    while begin < end and all(taken[start + end - 1] for start in phrase.starts):
        end -= 1
    return begin, end - begin


def _follow(bars: Sequence[Hashable], starts: Sequence[int]) -> bool:
    """Whether the same bar comes before all of them."""
    return starts[0] > 0 and len({bars[start - 1] for start in starts}) == 1


def _apart(starts: Sequence[int], length: int) -> tuple[int, ...]:
    """Of these the ones that do not overlap, from the left."""
    kept: list[int] = []
    for start in starts:
        if not kept or start - kept[-1] >= length:
            kept.append(start)
    return tuple(kept)


@dataclass(frozen=True, slots=True)
class _Standard:
    """A way that phrases of a kind may have in common. first, last: its ends, inner values of the phrase; cost: between them.
    table: from the first value of a phrase to its last, whether it is played so or, at the price, otherwise."""

    first: int
    last: int
    cost: int
    table: Table


class _Kind:
    """All phrases of one kind: their tables, and the ways they may have in common."""

    def __init__(self, tables: Sequence[Table], price: int) -> None:
        """tables: from the first chord of the phrase to its last, three chords at least."""
        self.tables = tables
        self.free = [[cost + price for cost in row] for row in joined(tables)]
        if len(tables) > 2:
            ends = [(a, b, cost) for a, row in enumerate(joined(tables[1:-1])) for b, cost in enumerate(row)]
        else:
            ends = [(value, value, 0) for value in range(len(tables[-1]))]
        self.standards = _undominated([_Standard(*end, self._table(*end)) for end in ends])

    def _in_common(self, first: int, last: int, cost: int) -> Table:
        leave = self.tables[-1][last]
        return [[row[first] + cost + out for out in leave] for row in self.tables[0]]

    def _table(self, first: int, last: int, cost: int) -> Table:
        return [list(map(min, *rows)) for rows in zip(self.free, self._in_common(first, last, cost), strict=True)]

    def way(self, standard: _Standard, begin: int, end: int) -> list[int]:
        """The values of one phrase from `begin` to `end`, where the way in common is that one."""
        first, last = standard.first, standard.last
        if self._in_common(first, last, standard.cost)[begin][end] > self.free[begin][end]:
            return least_way(self.tables, begin, end)
        inner = least_way(self.tables[1:-1], first, last) if len(self.tables) > 2 else [first]
        return [begin, *inner, end]


def _undominated(standards: list[_Standard]) -> list[_Standard]:
    """Without those that another is at least as good as for all ends of the phrase."""
    flat = {tuple(cost for row in each.table for cost in row): each for each in reversed(standards)}
    kept: list[tuple[int, ...]] = []
    for costs in sorted(flat, key=sum):
        if not any(all(a <= b for a, b in zip(better, costs, strict=True)) for better in kept):
            kept.append(costs)
    return [flat[costs] for costs in kept]


def least_chorus(tables: Sequence[Table], phrases: Sequence[Phrase], price: int) -> list[int]:
    """The values of the least chorus, phrases that differ counted at their price.

    tables: from every chord to the next, the last one back to the first. phrases: by chords.
    """
    phrases = [phrase for phrase in phrases if phrase.length > 2]
    if not phrases:
        start = min(range(len(tables)), key=lambda at: len(tables[at]))  # the fewer values there, the fewer rounds
        values = least_round([*tables[start:], *tables[:start]])[1]
        return values[len(tables) - start :] + values[: len(tables) - start]
    return _Chorus(tables, phrases, price).least()


class _Chorus:
    """A chorus as a ring of few links: each phrase is one, and each stretch between two phrases."""

    def __init__(self, tables: Sequence[Table], phrases: Sequence[Phrase], price: int) -> None:
        self.count = len(tables)
        twice = [*tables, *tables]
        self.kinds = [
            _Kind(twice[phrase.starts[0] : phrase.starts[0] + phrase.length - 1], price) for phrase in phrases
        ]
        begins = sorted((start, kind) for kind, phrase in enumerate(phrases) for start in phrase.starts)
        self.spans: list[tuple[int, int, int | None]] = []  # first place, last place (beyond the end: round), kind
        for number, (start, kind) in enumerate(begins):
            last = start + phrases[kind].length - 1
            after = begins[number + 1][0] if number + 1 < len(begins) else begins[0][0] + self.count
            self.spans.append((start, last, kind))
            self.spans.append((last, after, None))
        self.between = [twice[first:last] if kind is None else [] for first, last, kind in self.spans]
        self.joined = [joined(between) if between else None for between in self.between]

    def least(self) -> list[int]:
        """The values by place."""
        bound, ends = self._round([_lowest(kind.standards) for kind in self.kinds])
        best = self._settled([kind.standards for kind in self.kinds], ends)
        waiting = [(bound, 0, [kind.standards for kind in self.kinds], ends)]
        tried = 2 * len(self.spans)
        while waiting and waiting[0][0] < best[0] and tried < MOST_LINKS:
            _, _, open_, ends = heappop(waiting)
            split = self._most_disputed(open_, ends)
            for standard in open_[split]:
                fixed = [[standard] if kind == split else each for kind, each in enumerate(open_)]
                bound, ends = self._round([_lowest(standards) for standards in fixed])
                if bound < best[0]:
                    best = min(best, self._settled(fixed, ends), key=lambda each: each[0])
                    heappush(waiting, (bound, tried, fixed, ends))
                tried += 2 * len(self.spans)
        return self._values(best[1], best[2])

    def _round(self, of_kinds: list[Table]) -> tuple[int, list[int]]:
        return least_round(self._links(of_kinds))

    def _settled(self, open_: list[list[_Standard]], ends: list[int]) -> tuple[int, list[int], list[_Standard]]:
        """A chorus where each kind has one way: the one that is least with these ends."""
        standards = [
            min(each, key=lambda standard: self._cost(kind, standard.table, ends)) for kind, each in enumerate(open_)
        ]
        return *self._round([standard.table for standard in standards]), standards

    def _most_disputed(self, open_: list[list[_Standard]], ends: list[int]) -> int:
        """The kind whose phrases would most like to go different ways."""

        def dispute(kind: int) -> int:
            alike = min(self._cost(kind, standard.table, ends) for standard in open_[kind])
            return alike - self._cost(kind, _lowest(open_[kind]), ends)

        return max(range(len(open_)), key=dispute)

    def _cost(self, kind: int, table: Table, ends: list[int]) -> int:
        """Of all phrases of a kind with these ends."""
        return sum(
            table[ends[number]][ends[(number + 1) % len(ends)]]
            for number, (_, _, each) in enumerate(self.spans)
            if each == kind
        )

    def _links(self, of_kinds: list[Table]) -> list[Table]:
        return [
            of_kinds[kind] if kind is not None else table  # type: ignore[misc]
            for (_, _, kind), table in zip(self.spans, self.joined, strict=True)
        ]

    def _values(self, ends: list[int], standards: list[_Standard]) -> list[int]:
        values = [0] * self.count
        for number, (first, _, kind) in enumerate(self.spans):
            begin, end = ends[number], ends[(number + 1) % len(ends)]
            if kind is None:
                way = least_way(self.between[number], begin, end)
            else:
                way = self.kinds[kind].way(standards[kind], begin, end)
            for place, value in enumerate(way, first):
                values[place % self.count] = value
        return values


def _lowest(standards: Sequence[_Standard]) -> Table:
    """What the kind costs at least, whichever of these is taken."""
    table = standards[0].table
    for other in standards[1:]:
        table = [list(map(min, row, more)) for row, more in zip(table, other.table, strict=True)]
    return table
