"""From the chords of a chorus to the left hand's part.

The objective can be checked by hand: add up the semitones that both notes travel from each chord to the next, the move
from the last back to the first included, and take the chorus with the least total (movement.py). Where several have
it, the rules of ties.py choose, the same way every time and never at the cost of a semitone. Chords marked N.C. are
passed over: the hand moves from the chord before to the one after.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence

from companion.hands.fingering import fingers_for
from companion.hands.hand import Hand
from companion.hands.left.model import Alternative, Choice, Part, Shell, Slot
from companion.hands.left.movement import BAN, Menu, Moves, distance, extras
from companion.hands.left.options import options_for, pinned_options
from companion.hands.left.reason import Case, why
from companion.hands.left.ties import Chorus
from companion.theory.chord import Chord


def solve(slots: Sequence[Slot], hand: Hand) -> Part:
    """The part with the least movement for one chorus.

    Raises ShellError where a chord has no legal shell under this hand or a pin cannot be kept.
    """
    menus = _menus(slots, hand)
    ring = [menu for menu in menus if menu is not None]
    sounded = [i for i, menu in enumerate(menus) if menu is not None]
    if not sounded:
        return Part(tuple(Choice(slot, None, why="no chord: the hand rests") for slot in slots), 0)
    moves = Moves()
    least, extra = extras(ring, moves)
    picks = Chorus(ring, [slots[i].place for i in sounded], moves, least, extra).settle()
    return Part(_choices(slots, sounded, ring, picks, extra, hand), least)


def _menus(slots: Sequence[Slot], hand: Hand) -> list[Menu | None]:
    """For each slot what may be played, one object for equal chords with equal pins; None for N.C."""
    known: dict[tuple[Chord, str | None], Menu] = {}
    menus: list[Menu | None] = []
    for slot in slots:
        if slot.chord is None:
            menus.append(None)
            continue
        key = (slot.chord, slot.pin)
        if key not in known:
            known[key] = _menu(len(known), slot.chord, slot, hand)
        menus.append(known[key])
    return menus


def _menu(number: int, chord: Chord, slot: Slot, hand: Hand) -> Menu:
    if slot.pin is None:
        shells = wanted = options_for(chord, hand, slot.label)
    else:
        wanted = pinned_options(chord, hand, slot.pin, slot.label)
        usual = options_for(chord, hand, slot.label, needed=False)
        shells = usual + tuple(shell for shell in wanted if shell not in usual)
    bans = tuple(0 if shell in wanted else BAN for shell in shells)
    return Menu(number, shells, bans, tuple(hand.off_middle(*shell.midi) for shell in shells))


def _choices(
    slots: Sequence[Slot], sounded: list[int], ring: list[Menu], picks: list[int], extra: list[list[int]], hand: Hand
) -> tuple[Choice, ...]:
    shells = [menu.shells[pick] for menu, pick in zip(ring, picks, strict=True)]
    fingers = fingers_for([shell.midi for shell in shells])
    choices = [Choice(slot, None, why="no chord: the hand rests") for slot in slots]
    played: dict[Hashable, Shell] = {}
    phrases: dict[tuple[int, int, int], Shell] = {}
    for turn, i in enumerate(sounded):
        slot, shell, menu = slots[i], shells[turn], ring[turn]
        before = shells[turn - 1] if len(shells) > 1 else None
        rests = turn > 0 and sounded[turn - 1] != i - 1
        last_time = None if slot.place is None else played.get(slot.place)
        phrase = (ring[turn - 1].number, picks[turn - 1], menu.number)
        case = Case(
            slot, shell, before, turn == 0, rests, menu.shells, tuple(extra[turn]), last_time, phrases.get(phrase)
        )
        choices[i] = Choice(
            slot,
            shell,
            menu.shells,
            movement=0 if before is None else distance(before, shell),
            fingers=fingers[turn],
            why=why(case, hand),
            alternative=_alternative(menu, picks[turn], extra[turn]),
        )
        phrases[phrase] = shell
        if slot.place is not None:
            played[slot.place] = shell
    return tuple(choices)


def _alternative(menu: Menu, pick: int, extra: list[int]) -> Alternative | None:
    """The other shell that adds least, of equals the one nearer the middle of the range."""
    others = [value for value in range(len(menu.shells)) if value != pick]
    if not others:
        return None
    value = min(others, key=lambda other: (extra[other], menu.off_middle[other]))
    return Alternative(menu.shells[value], extra[value])
