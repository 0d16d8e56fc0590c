"""The cheapest way of a bass through slots: places in time, each with the pitches allowed there and a price for each.

Units: straight ticks within the bar, MIDI numbers. The prices are ours.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

# E1 to D3: where a double bass begins as it sounds, and how high it walks or so (from memory).
LOWEST, HIGHEST = 28, 50
OCTAVE = 12

# The price of a move by its semitones: steps are free, leaps dearer, the octave a little less so.
_MOVE_PRICE = (0.0, 0.0, 0.0, 0.6, 0.8, 1.2, 1.8, 1.8, 3.0, 3.5, 4.5, 5.0, 3.5)
_REPEAT_PRICE = 5.0
_BACK_AND_FORTH_PRICE = 1.5
_PASSING_LEAP_PRICE = 4.0  # a tone from outside the chord is come to and left by step
_COMFORT = 38  # D2: the middle of the register a line keeps to
_REGISTER_PRICE = 0.012  # times the square of the distance from it
# Above all that a line can cost by itself, so it gives way to the left hand wherever any line does. Over the left hand is the lesser evil: there
# the student at least hears the own root.
_SAME_KEY_PRICE, _OVER_PRICE = 1100.0, 1000.0
# Above those. Only a loop of a chord or two that gives way to one in another key has no way without it.
_FAR_PRICE = 100_000.0
_NO_WAY = float("inf")


@dataclass(frozen=True, slots=True)
class Slot:
    """A place for one note. position: of its bar. prices: pitch -> its price. passing: pitches that want a step on both sides.
    opens: a chord begins there. steps_on: the next slot's note lies one or two semitones from this one's."""

    position: int
    tick: int
    ticks: int
    prices: dict[int, float]
    passing: frozenset[int] = frozenset()
    opens: bool = False
    steps_on: bool = False


@dataclass(frozen=True, slots=True)
class Beside:
    """What the left hand holds beside the bass. key: its lowest."""

    tick: int
    end_tick: int
    key: int


def pitches(pcs: Iterable[int]) -> list[int]:
    """Every pitch of these pitch classes in the compass, rising."""
    wanted = set(pcs)
    return [pitch for pitch in range(LOWEST, HIGHEST + 1) if pitch % OCTAVE in wanted]


def leaving_room(slot: Slot, beside: Sequence[Beside]) -> Slot | None:
    """The slot with the keys priced that the left hand needs for itself, its lowest and all above that. None where that is all there are: the bass rests there, as a player does who
    hears the pianist play the bass (common practice)."""
    end = slot.tick + slot.ticks
    key = min((each.key for each in beside if each.tick < end and slot.tick < each.end_tick), default=HIGHEST + 1)
    if key <= min(slot.prices):
        return None
    return replace(
        slot,
        prices={
            pitch: price + (_SAME_KEY_PRICE if pitch == key else _OVER_PRICE if pitch > key else 0.0)
            for pitch, price in slot.prices.items()
        },
    )


def cheapest(slots: Sequence[Slot], walks: bool) -> list[int]:
    """The pitches of every slot by dynamic programming; of equal ways the lower pitch before wins.

    walks: a repeated note and a turn back to the note before last cost something. The latter looks along the best way
    so far only, which may miss the very cheapest line; the rules do not hang on it.
    """
    return priced_way(slots, walks)[1]


def priced_way(slots: Sequence[Slot], walks: bool) -> tuple[float, list[int]]:
    """The cheapest way with its price, the slots at least one."""
    best = dict(slots[0].prices)
    came_from: list[dict[int, int]] = [{}]
    again, back_again = (_REPEAT_PRICE, _BACK_AND_FORTH_PRICE) if walks else (0.0, 0.0)
    for before, slot in itertools.pairwise(slots):
        ways = [(last, cost, came_from[-1].get(last), last in before.passing) for last, cost in best.items()]
        reached: dict[int, float] = {}
        origin: dict[int, int] = {}
        for pitch, price in slot.prices.items():
            wants_step = pitch in slot.passing
            found = _NO_WAY
            for last, cost, second_last, wanted_step in ways:
                move = abs(pitch - last)
                if before.steps_on and not 0 < move <= 2:
                    continue
                cost += _FAR_PRICE if move > OCTAVE else _MOVE_PRICE[move] if move else again
                if move > 2 and (wanted_step or wants_step):
                    cost += _PASSING_LEAP_PRICE
                if pitch == second_last:
                    cost += back_again
                if cost < found:
                    found, origin[pitch] = cost, last
            if pitch in origin:
                reached[pitch] = found + price + _REGISTER_PRICE * (pitch - _COMFORT) ** 2
        best = reached
        came_from.append(origin)
    pitch = min(best, key=best.__getitem__)
    price, line = best[pitch], [pitch]
    for origin in reversed(came_from[1:]):
        pitch = origin[pitch]
        line.append(pitch)
    return price, line[::-1]
