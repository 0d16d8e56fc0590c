"""The left hand worked out the slow and obvious way, to hold the solver against."""

from __future__ import annotations

from itertools import product

from companion.hands.hand import Hand
from companion.hands.left.model import Shell, Slot
from companion.hands.left.options import options_for, pinned_options
from companion.theory.symbols import parse_chord


def slots_of(line: str, **pins: str) -> list[Slot]:
    """ "Dm7 G7 N.C. C6" as slots without places. pins: by number, such as _2="root-fifth" for the second chord."""
    return [
        Slot(None if symbol == "N.C." else parse_chord(symbol), pin=pins.get(f"_{number}"))
        for number, symbol in enumerate(line.split(), 1)
    ]


def travelled(shells: list[Shell] | tuple[Shell, ...]) -> int:
    """Semitones that both notes travel in a ring of shells."""
    return sum(
        abs(left.midi[0] - right.midi[0]) + abs(left.midi[1] - right.midi[1])
        for left, right in zip(shells, [*shells[1:], shells[0]], strict=True)
    )


def open_to(slot: Slot, hand: Hand) -> tuple[Shell, ...]:
    if slot.pin is not None:
        return pinned_options(slot.chord, hand, slot.pin)
    return options_for(slot.chord, hand)


def all_paths(slots: list[Slot], hand: Hand):
    """Every choice of legal shells for the chords that sound."""
    return product(*(open_to(slot, hand) for slot in slots if slot.chord is not None))


def least_paths(slots: list[Slot], hand: Hand) -> tuple[int, list[tuple[Shell, ...]]]:
    """The least movement of all paths, and every path that has it."""
    least, paths = None, []
    for path in all_paths(slots, hand):
        total = travelled(path) if path else 0
        if least is None or total < least:
            least, paths = total, []
        if total == least:
            paths.append(path)
    return least or 0, paths
