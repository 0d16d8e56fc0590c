"""The shells that older companions chose, for students who learnt a song with them: `former_pins` makes them pins.

Then movement alone counted (semitones that both notes travel), sixth chords took root and fifth, the highest root was F3 and
a tritone was legal down to B1. Of the choruses of least movement the one was taken in which the same chord of a section, and the
same two chords in a row, were played alike wherever they came; of those the one where third and seventh took turns most
often, then the one nearer the middle of the range, then the first in the list of options (former_ties.py).
"""

from __future__ import annotations

import contextlib
from collections.abc import Hashable, Sequence
from dataclasses import replace

from companion.errors import ShellError
from companion.hands.hand import Hand
from companion.hands.left.former_ties import Ring
from companion.hands.left.model import Shell, Slot
from companion.hands.left.options import first_legal, former_tiers, pin_of, pinned_options
from companion.hands.limits import edited_limits
from companion.theory.shell_kinds import Pin

_HIGHEST_ROOT, _TRITONE = 53, "B1"


def former_hand(hand: Hand) -> Hand:
    """The hand as older companions took it: what the student left at the default had another one then."""
    usual = Hand()
    limits = edited_limits({"tritone": _TRITONE}, hand.limits) if hand.limits == usual.limits else hand.limits
    highest = _HIGHEST_ROOT if hand.highest_root == usual.highest_root else hand.highest_root
    return replace(hand, limits=limits, highest_root=max(highest, hand.lowest_root), rest_on_fifth="never")


def former_pins(slots: Sequence[Slot], hand: Hand, reason: str, sixths: bool = False) -> dict[Hashable, Pin]:
    """The shells of before as pins, by the places of the slots: as they were the first time that each place came. Those that the hand
    of today may not play there are left out.

    hand: as it is set now. reason: said with each. sixths: whether sixth chords might take third and sixth too (a setting then).
    """
    pins: dict[Hashable, Pin] = {}
    for slot, shell in zip(slots, former_shells(slots, hand, sixths), strict=True):
        if slot.chord is None or shell is None or slot.place in pins:
            continue
        pin = pin_of(shell, reason)
        try:
            kept = pinned_options(slot.chord, hand, pin)
        except ShellError:
            continue
        if shell in kept:
            pins[slot.place] = pin
    return pins


def former_shells(slots: Sequence[Slot], hand: Hand, sixths: bool = False) -> list[Shell | None]:
    """For every slot the shell of before, None for N.C.; None for all where a chord had no legal shell then."""
    old = former_hand(hand)
    found: list[Shell | None] = [None] * len(slots)
    sounded = [i for i, slot in enumerate(slots) if slot.chord is not None]
    menus = [_menu(slots[i], old, sixths) for i in sounded]
    if not menus or not all(menus):
        return found
    ring = Ring.of(menus, [slots[i].place for i in sounded], [_off_middle(menu, old) for menu in menus])
    for i, menu, pick in zip(sounded, menus, ring.settle(), strict=True):
        found[i] = menu[pick]
    return found


def _menu(slot: Slot, hand: Hand, sixths: bool) -> tuple[Shell, ...]:
    """A pin that names a place or a reason is younger, so it did not count; nor did one that does not fit the hand."""
    assert slot.chord is not None
    if slot.pin is not None and str(slot.pin) == slot.pin.kind:
        with contextlib.suppress(ShellError):
            return pinned_options(slot.chord, hand, slot.pin)
    return first_legal(slot.chord, hand, former_tiers(slot.chord, sixths))


def _off_middle(menu: Sequence[Shell], hand: Hand) -> tuple[int, ...]:
    return tuple(hand.off_middle(*shell.midi) for shell in menu)
