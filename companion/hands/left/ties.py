"""Which of several choruses with the same, least movement is taken.

The rules, each only among what the ones before it left equal; none of them ever costs a semitone:
- place: the same chord of a section that comes again gets the same shell: one thing less to learn
- phrase: the same two chords in a row get the same two shells wherever they come: the hand learns the phrase
- alternate: root-third and root-seventh take turns: on falling fifths that is how the hand stays where it is
- middle: nearer the middle of the range: there it sounds neither muddy nor in the way of the melody
- order: the first in the list of options: any choice would do, but it must be the same every day
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from itertools import product
from operator import add
from typing import TypeVar

from companion.hands.left.model import Shell
from companion.hands.left.movement import Menu, Moves
from companion.hands.left.network import Network

_ROUNDS = 4  # times that a majority is taken and the chorus settled again; two are enough for ordinary songs
_TRIALS = 512  # chords settled again to bring single phrases into line


def alternates(left: Shell, right: Shell) -> bool:
    """Whether the third (or the fourth) and the seventh take turns between two shells."""
    return {top_of(left), top_of(right)} in ({"third", "seventh"}, {"fourth", "seventh"})


def top_of(shell: Shell) -> str:
    """What lies above: "third", "seventh"."""
    return shell.kind.split("-")[1]


@dataclass(frozen=True, slots=True)
class _Weights:
    """What one breach of a rule costs: more than all breaches of the weaker rules together."""

    alternate: int
    phrase: int
    place: int
    move: int

    @classmethod
    def for_length(cls, count: int) -> _Weights:
        alternate = count * 256 + 1  # two of the piano's 88 keys lie less than 256 half semitones from any middle
        phrase = alternate * (count + 1)
        place = phrase * (count + 1)
        return cls(alternate, phrase, place, place * (count + 1))


Picks = list[int]  # for every place the number of its shell in its menu
Values = tuple[int, ...]  # the shells that are still open at a place, by their numbers
Wanted = list[int | None]  # for every place the shell it should have to be like the others of its class
PairKey = tuple[int, int]
_Value = TypeVar("_Value", int, tuple[int, int])


class Chorus:
    """The sounded chords of one chorus, as a ring, and the shells that a least chorus may have there."""

    def __init__(
        self,
        menus: Sequence[Menu],
        places: Sequence[Hashable],
        moves: Moves,
        least: int,
        extra: Sequence[Sequence[int]],
    ) -> None:
        """places: equal for the same chord of a section that comes again, None for a place of its own.
        least, extra: from `movement.extras`."""
        self.menus, self.moves, self.least = menus, moves, least
        self.weights = _Weights.for_length(len(menus))
        self.open: list[Values] = [
            tuple(value for value, more in enumerate(row) if more == 0 and not menu.bans[value])
            for row, menu in zip(extra, menus, strict=True)
        ]
        known: dict[Hashable, int] = {}
        self.classes = [
            known.setdefault((i,) if place is None else (place, menu.number), len(known))
            for i, (place, menu) in enumerate(zip(places, menus, strict=True))
        ]
        self.pairs: list[PairKey] = [(menus[i - 1].number, menus[i].number) for i in range(len(menus))]

    def settle(self) -> Picks:
        """The shells that the rules choose, by their numbers in the menus."""
        if all(len(values) == 1 for values in self.open):
            return [values[0] for values in self.open]
        picks = None
        for classes in (self._phrase_classes(), self.classes):
            groups, domains, wanted = self._alike(classes)
            picks = self._solve(groups, domains, wanted, {})
            if picks is not None and self.movement(picks) == self.least:
                return self._with_phrases(picks, groups, domains, wanted)
        picks, wanted = self._nearly_alike(picks)
        return self._with_phrases(picks, list(range(len(self.menus))), self.open, wanted)

    def movement(self, picks: Picks) -> int:
        """Semitones that both notes travel in the chorus."""
        return sum(
            self.moves.table(self.menus[i - 1], self.menus[i])[picks[i - 1]][pick] for i, pick in enumerate(picks)
        )

    def _phrase_classes(self) -> list[int]:
        """The classes of places, joined where the same two chords come in a row and a shell is open to all of them."""
        parents = list(range(len(self.menus)))
        shared = self._shared(self.classes)

        def first_of(name: int) -> int:
            while parents[name] != name:
                parents[name] = parents[parents[name]]
                name = parents[name]
            return name

        seen: dict[PairKey, int] = {}
        for i, pair in enumerate(self.pairs):
            twin = seen.setdefault(pair, i)
            for place in (-1, 0):
                name, other = first_of(self.classes[i + place]), first_of(self.classes[twin + place])
                both = tuple(value for value in shared[other] if value in shared[name])
                if name != other and both:
                    parents[name], shared[other] = other, both
        return [first_of(name) for name in self.classes]

    def _alike(self, classes: list[int]) -> tuple[list[int], list[Values], Wanted]:
        """Every class of places as one choice, of the shells open to all of it. A class without any is left in single
        places that ask for the shell open to most of them."""
        shared = self._shared(classes)
        numbers: dict[tuple[int, ...], int] = {}
        groups = [
            numbers.setdefault((name,) if shared[name] else (name, i), len(numbers)) for i, name in enumerate(classes)
        ]
        domains = [shared[name] or values for name, values in zip(classes, self.open, strict=True)]
        wanted = [None if shared[name] else want for name, want in zip(classes, self._majority(self.open), strict=True)]
        return groups, domains, wanted

    def _shared(self, classes: list[int]) -> dict[int, Values]:
        """For every class the shells that are open at all its places."""
        shared: dict[int, Values] = {}
        for name, values in zip(classes, self.open, strict=True):
            shared[name] = tuple(value for value in shared.get(name, values) if value in values)
        return shared

    def _majority(self, values: Sequence[Sequence[int]]) -> Wanted:
        """For every place the shell that its class has most often, going by these shells for each place; None where the
        class has only one place."""
        votes: dict[int, Counter[int]] = {}
        for name, each in zip(self.classes, values, strict=True):
            votes.setdefault(name, Counter()).update(each)
        members = Counter(self.classes)
        majority = {name: _most(count) if members[name] > 1 else None for name, count in votes.items()}
        return [majority[name] for name in self.classes]

    def _nearly_alike(self, first: Picks | None) -> tuple[Picks, Wanted]:
        """Where playing all repeats alike would cost movement: as few places as can be found that differ.

        Asks for the majority's shell in each class and takes the majority again as long as that makes fewer differ.
        """
        groups = list(range(len(self.menus)))
        best: tuple[int, Picks, Wanted] | None = None
        references = [self._majority(self.open)]
        if first is not None:
            references.insert(0, self._majority([(pick,) for pick in first]))
        for reference in references:
            for _ in range(_ROUNDS):
                picks = self._solve(groups, self.open, reference, {})
                assert picks is not None  # a ring can always be solved
                reference = self._majority([(pick,) for pick in picks])
                differ = sum(want not in (None, pick) for pick, want in zip(picks, reference, strict=True))
                if best is not None and differ >= best[0]:
                    break
                best = (differ, picks, reference)
        assert best is not None
        return best[1], best[2]

    def _with_phrases(self, picks: Picks, groups: list[int], domains: list[Values], wanted: Wanted) -> Picks:
        """The same pair of chords with the same pair of shells wherever that breaks no stronger rule."""
        asked, differ = self._phrases(picks)
        for _ in range(_ROUNDS):
            if not differ:
                break
            tried = self._solve(groups, domains, wanted, asked)
            assert tried is not None  # it was solved before
            asked, now = self._phrases(tried)
            if now >= differ:
                break
            picks, differ = tried, now
        return self._phrase_by_phrase(picks, groups, domains, wanted) if differ else picks

    def _phrase_by_phrase(self, picks: Picks, groups: list[int], domains: list[Values], wanted: Wanted) -> Picks:
        """What majorities did not bring into line: each pair of chords that differs, with each pair of shells it could
        have, one after the other. For as many trials as a chart that people play can need."""
        asked, differ = self._phrases(picks)
        trials = _TRIALS // len(picks)
        for i, pair in enumerate(self.pairs):
            if pair not in asked or asked[pair] == (picks[i - 1], picks[i]):
                continue
            for shells in product(domains[i - 1], domains[i]):
                if not (differ and trials):
                    return picks
                trials -= 1
                tried = self._solve(groups, domains, wanted, {**asked, pair: shells})
                assert tried is not None  # it was solved before
                now_asked, now = self._phrases(tried)
                if now < differ:
                    picks, asked, differ = tried, now_asked, now
        return picks

    def _phrases(self, picks: Picks) -> tuple[dict[PairKey, PairKey], int]:
        """For every pair of chords that comes more than once the pair of shells it mostly has; and how often it has
        another."""
        votes: dict[PairKey, Counter[PairKey]] = {}
        for i, pair in enumerate(self.pairs):
            votes.setdefault(pair, Counter())[picks[i - 1], picks[i]] += 1
        asked = {pair: _most(count) for pair, count in votes.items() if count.total() > 1}
        return asked, sum(count.total() - max(count.values()) for count in votes.values())

    def _solve(
        self, groups: list[int], domains: list[Values], wanted: Wanted, asked: dict[PairKey, PairKey]
    ) -> Picks | None:
        """The least costly shells where places of one group are played alike; None where that is too tangled.

        wanted: the shell each place should have, None for any. asked: the shells that pairs of chords should have.
        """
        costs: list[list[int]] = []
        for group, menu, values, want in zip(groups, self.menus, domains, wanted, strict=True):
            own = [menu.off_middle[value] + self.weights.place * (want not in (None, value)) for value in values]
            if group == len(costs):
                costs.append(own)
            else:
                costs[group] = list(map(add, costs[group], own))
        network = Network(costs)
        tables: dict[tuple[PairKey, Values, Values], list[list[int]]] = {}
        for i, pair in enumerate(self.pairs):
            if len(domains[i - 1]) == len(domains[i]) == 1:
                continue  # nothing to choose
            key = (pair, domains[i - 1], domains[i])
            if key not in tables:
                tables[key] = self._table(i, domains[i - 1], domains[i], asked.get(pair))
            network.join(groups[i - 1], groups[i], tables[key])
        solved = network.solve()
        if solved is None:
            return None
        return [domain[solved[group]] for group, domain in zip(groups, domains, strict=True)]

    def _table(self, i: int, before: Values, here: Values, asked: PairKey | None) -> list[list[int]]:
        """What the move to place i costs from each shell before to each shell here."""
        left, right = self.menus[i - 1], self.menus[i]
        moves, weights = self.moves.table(left, right), self.weights
        return [
            [
                weights.move * moves[a][b]
                + weights.alternate * (not alternates(left.shells[a], right.shells[b]))
                + weights.phrase * (asked is not None and asked != (a, b))
                for b in here
            ]
            for a in before
        ]


def _most(count: Counter[_Value]) -> _Value:
    """The most frequent value, the least of equals."""
    return min(count, key=lambda value: (-count[value], value))
