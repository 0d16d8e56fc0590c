"""From the chords of a chorus to the left hand's part: the chorus that costs least by the prices of prices.py.

Exact, equal phrases included (ring.py, phrases.py). Chords marked N.C. are passed over: the hand moves from the chord before to
the one after.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from companion.errors import ShellError
from companion.hands.fingering import fingers_for
from companion.hands.hand import Hand
from companion.hands.left.model import Bill, Choice, Part, Shell, Slot
from companion.hands.left.options import options_for, pinned_options, rest_for
from companion.hands.left.phrases import Phrase, find_phrases, least_chorus
from companion.hands.left.prices import PHRASE, Change, Menu, Table, Weights, bill, table, turn_of
from companion.hands.left.reason import Case, as_before, why
from companion.theory.chord import Chord
from companion.theory.shell_kinds import Pin

REST = "no chord: the hand rests"


def solve(slots: Sequence[Slot], hand: Hand) -> Part:
    """The part that costs least for one chorus.

    Raises ShellError where a chord has no legal shell under this hand or a pin cannot be kept.
    """
    chorus = _Chorus.of(slots, hand)
    return chorus.part(hand) if chorus.ring else Part(tuple(Choice(slot, None, why=REST) for slot in slots), 0)


@lru_cache(maxsize=128)
def solved(slots: tuple[Slot, ...], hand: Hand) -> Part:
    """As `solve`, once for each chorus: the list, every plan and the stand ask for the same ones again and again. Raises ShellError."""
    return solve(slots, hand)


@dataclass(frozen=True, slots=True, eq=False)
class _Chorus:
    """slots: all of a chorus. sounded: the numbers of those with a chord; ring: what may be played there. bars: for each turn
    of the ring its bar. phrases: by turns of the ring."""

    slots: Sequence[Slot]
    sounded: list[int]
    ring: list[Menu]
    phrases: list[Phrase]
    weights: Weights

    @classmethod
    def of(cls, slots: Sequence[Slot], hand: Hand) -> _Chorus:
        menus = _menus(slots, hand)
        sounded = [i for i, menu in enumerate(menus) if menu is not None]
        ring = [menu for menu in menus if menu is not None]
        return cls(slots, sounded, ring, _phrases(slots, menus), Weights.for_length(len(ring)))

    def tables(self) -> list[Table]:
        """From each turn of the ring to the next."""
        known: dict[tuple[int, int], Table] = {}
        found = []
        for left, right in zip(self.ring, [*self.ring[1:], self.ring[0]], strict=True):
            key = (left.number, right.number)
            if key not in known:
                known[key] = table(left, right, self.weights)
            found.append(known[key])
        return found

    def least(self) -> list[Shell]:
        """The shells of the least chorus, by turn of the ring."""
        price = PHRASE * self.weights.cost + self.weights.phrases
        picks = least_chorus(self.tables(), self.phrases, price)
        return [menu.shells[pick] for menu, pick in zip(self.ring, picks, strict=True)]

    def bills(self, shells: Sequence[Shell]) -> list[Bill]:
        """What the way to each turn of the ring costs."""
        changes: dict[tuple[int, int], Change] = {}
        found = []
        for turn, (menu, shell) in enumerate(zip(self.ring, shells, strict=True)):
            before, left = self.ring[turn - 1], shells[turn - 1]
            key = (before.number, menu.number)
            if key not in changes:
                changes[key] = Change.between(before, menu)
            found.append(bill(changes[key], left, shell, (turn_of(before.chord, left), turn_of(menu.chord, shell))))
        return found

    def differing(self, shells: Sequence[Shell]) -> int:
        """How many phrases do not have the inner shells that their kind mostly has."""
        count = 0
        for phrase in self.phrases:
            inner = [tuple(shells[start + 1 : start + phrase.length - 1]) for start in phrase.starts]
            count += len(inner) - max(map(inner.count, inner))
        return count

    def options(self, turn: int, hand: Hand) -> tuple[Shell, ...]:
        """Every legal shell there, those that a pin rules out too."""
        slot, menu = self.slots[self.sounded[turn]], self.ring[turn]
        usual = options_for(menu.chord, hand, slot.label, needed=False)
        return usual + tuple(shell for shell in menu.shells if shell not in usual)

    def is_limited(self, turn: int, hand: Hand) -> bool:
        """Whether the melody there rules a shell out."""
        ceiling = self.slots[self.sounded[turn]].ceiling
        return ceiling is not None and any(shell.upper.midi > ceiling for shell in self.options(turn, hand))

    def part(self, hand: Hand) -> Part:
        """The least chorus with its reasons."""
        shells = self.least()
        bills = self.bills(shells)
        fingers = fingers_for([shell.midi for shell in shells], hand.little_finger)
        said = self._said(shells)
        choices = [Choice(slot, None, why=REST) for slot in self.slots]
        movement = 0
        for turn, i in enumerate(self.sounded):
            slot, shell = self.slots[i], shells[turn]
            before = turn - 1 if len(shells) > 1 else None
            case = Case(
                slot,
                shell,
                None if before is None else shells[before],
                None if before is None else self.ring[before].chord,
                opens=turn == 0,
                rests=self.ring[turn].rests,
                under_melody=self.is_limited(turn, hand),
            )
            travelled = 0 if before is None else _travelled(shells[before], shell)
            movement += travelled
            choices[i] = Choice(
                slot,
                shell,
                self.options(turn, hand) if slot.pin else self.ring[turn].shells,
                movement=travelled,
                bill=bills[turn],
                fingers=fingers[turn],
                why=why(case),
                repeat=said.get(turn, ""),
            )
        phrases = PHRASE * self.differing(shells)
        return Part(tuple(choices), movement, sum(each.total for each in bills) + phrases, phrases)

    def _said(self, shells: Sequence[Shell]) -> dict[int, str]:
        """What is said at the first chord of each phrase that was there before."""
        said = {}
        for phrase in self.phrases:
            model = phrase.starts[0]
            bars = [self.slots[self.sounded[model + step]].bar for step in range(phrase.length)]
            for start in phrase.starts[1:]:
                differ = [
                    bar for step, bar in enumerate(bars) if shells[model + step].midi != shells[start + step].midi
                ]
                said[start] = as_before(bars, differ)
        return said


def _travelled(left: Shell, right: Shell) -> int:
    return abs(left.midi[0] - right.midi[0]) + abs(left.midi[1] - right.midi[1])


def _phrases(slots: Sequence[Slot], menus: Sequence[Menu | None]) -> list[Phrase]:
    """The phrases by turns of the ring; none where the slots know no bars."""
    bars: list[list[int | None]] = []
    begins: list[int] = []  # for each bar the turn of its first chord that sounds
    at, turn = None, 0
    for slot, menu in zip(slots, menus, strict=True):
        if slot.bar is None:
            return []
        if slot.bar != at:
            at = slot.bar
            bars.append([])
            begins.append(turn)
        bars[-1].append(None if menu is None else menu.number)
        turn += menu is not None
    begins.append(turn)
    return [
        Phrase(
            begins[phrase.starts[0] + phrase.length] - begins[phrase.starts[0]],
            tuple(begins[start] for start in phrase.starts),
        )
        for phrase in find_phrases([tuple(bar) for bar in bars])
    ]


def _menus(slots: Sequence[Slot], hand: Hand) -> list[Menu | None]:
    """For each slot what may be played, one object for equal chords that are asked the same; None for N.C."""
    known: dict[Hashable, Menu] = {}  # by what is asked

    def menu_for(slot: Slot, chord: Chord, rests: bool) -> Menu:
        key: Hashable = (chord, slot.pin, rests)
        if key not in known:
            known[key] = _menu_of(len(known), chord, slot.pin, rests, slot.label, hand)
        menu, ceiling = known[key], slot.ceiling
        if ceiling is None or all(shell.upper.midi <= ceiling for shell in menu.shells):
            return menu
        below = tuple(shell for shell in menu.shells if shell.upper.midi <= ceiling)
        if not below and rests:
            return menu_for(slot, chord, rests=False)
        if not below:
            raise ShellError(f"{slot.label or chord}: no shell of {chord} lies clear of the melody above it.")
        key = (chord, slot.pin, rests, max(shell.upper.midi for shell in below))
        if key not in known:
            known[key] = _menu(len(known), chord, below, menu.rests, hand)
        return known[key]

    return [
        None
        if slot.chord is None
        else menu_for(slot, slot.chord, hand.rests_on(slot.chord, ends=slot.ends) and slot.pin is None)
        for slot in slots
    ]


def _menu_of(number: int, chord: Chord, pin: Pin | None, rests: bool, label: str, hand: Hand) -> Menu:
    if pin is not None:
        return _menu(number, chord, pinned_options(chord, hand, pin, label), pin.kind == "root-fifth", hand)
    if rests and (rest := rest_for(chord, hand)):
        return _menu(number, chord, rest, True, hand)
    return _menu(number, chord, options_for(chord, hand, label), False, hand)


def _menu(number: int, chord: Chord, shells: tuple[Shell, ...], rests: bool, hand: Hand) -> Menu:
    turns = tuple(turn_of(chord, shell) for shell in shells)
    return Menu(number, chord, shells, rests, turns, tuple(hand.off_middle(*shell.midi) for shell in shells))
