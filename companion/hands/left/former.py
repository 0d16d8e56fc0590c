"""The shells that older companions chose, for students who learnt a song with them: `former_pins` makes them pins.

Then movement alone counted (semitones that both notes travel), sixth chords took root and fifth, the highest root was F3 and
a tritone was legal down to B1. Among equals repeats were played alike, third and seventh took turns, and the middle of
the range was nearer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from companion.hands.hand import Hand
from companion.hands.left.model import Shell, Slot
from companion.hands.left.options import first_legal, former_tiers, pinned_options
from companion.hands.left.phrases import Phrase, least_chorus
from companion.hands.left.prices import Table, Weights, turn_of
from companion.hands.limits import edited_limits
from companion.theory.chord import Chord

_HIGHEST_ROOT, _TRITONE = 53, "B1"


def former_hand(hand: Hand) -> Hand:
    """The hand as older companions took it: what the student left at the default had another one then."""
    usual = Hand()
    limits = edited_limits({"tritone": _TRITONE}, hand.limits) if hand.limits == usual.limits else hand.limits
    highest = _HIGHEST_ROOT if hand.highest_root == usual.highest_root else hand.highest_root
    return replace(hand, limits=limits, highest_root=max(highest, hand.lowest_root), rest_on_fifth="never")


def former_shells(slots: Sequence[Slot], hand: Hand) -> list[Shell | None]:
    """For every slot the shell of before, None for N.C. or where nothing was legal then. hand: as it is set now."""
    old = former_hand(hand)
    sounded = [i for i, slot in enumerate(slots) if slot.chord is not None]
    menus = [_options(slots[i], old) for i in sounded]
    if not menus or not all(menus):
        return [None] * len(slots)
    weights = Weights.for_length(len(menus))
    chords = [slots[i].chord for i in sounded]
    tables = [
        _table(menus[n], menus[(n + 1) % len(menus)], (chords[n], chords[(n + 1) % len(menus)]), old, weights)
        for n in range(len(menus))
    ]
    picks = least_chorus(tables, _sections([slots[i] for i in sounded]), weights.phrases)
    found: list[Shell | None] = [None] * len(slots)
    for i, menu, pick in zip(sounded, menus, picks, strict=True):
        found[i] = menu[pick]
    return found


def _options(slot: Slot, hand: Hand) -> tuple[Shell, ...]:
    assert slot.chord is not None
    if slot.pin is not None:
        return pinned_options(slot.chord, hand, slot.pin, slot.label)
    return first_legal(slot.chord, hand, former_tiers(slot.chord))


def _table(
    left: Sequence[Shell],
    right: Sequence[Shell],
    chords: tuple[Chord | None, Chord | None],
    hand: Hand,
    weights: Weights,
) -> Table:
    before, after = chords
    assert before is not None and after is not None
    return [
        [
            weights.cost * (abs(a.midi[0] - b.midi[0]) + abs(a.midi[1] - b.midi[1]))
            + weights.turns * (turn_of(before, a) * turn_of(after, b) >= 0)
            + hand.off_middle(*b.midi)
            for b in right
        ]
        for a in left
    ]


def _sections(slots: Sequence[Slot]) -> list[Phrase]:
    """Runs of places that come again in the same order, each as long as it is alike."""
    names: dict[object, list[int]] = {}
    for turn, slot in enumerate(slots):
        names.setdefault(slot.place, []).append(turn)
    found: dict[int, tuple[int, list[int]]] = {}
    turn = 0
    while turn < len(slots):
        starts = names[slots[turn].place]
        length = 1
        while turn + length < len(slots) and names[slots[turn + length].place] == [at + length for at in starts]:
            length += 1
        if len(starts) > 1 and slots[turn].place is not None:
            found.setdefault(starts[0], (length, starts))
        turn += length
    return [Phrase(length, tuple(starts)) for length, starts in found.values()]
