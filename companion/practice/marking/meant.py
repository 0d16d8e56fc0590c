"""Presses outside every window that were plainly meant for a strike: a chord pushed ahead of the beat or found after it, and the key of a roll that
came too late.

A window says what is in time; notes say what is meant. Without this a shell half a beat early would be told as one that came a beat late.
Only changes are pushed and waited for: of a chord's repeats the nearest by the clock is meant.

Units: seconds.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import inf

from companion.practice.marking.strokes import WITH_SHARE, gather
from companion.practice.model import Expected, Press
from companion.practice.reach import ROLL_S

# Off by more of a pulse than this it was not meant for the beat (our own choice; a push is half a beat).
FURTHEST = 0.75


def meant_from_s(strike: Expected, before: Expected | None = None) -> float:
    """From when on a stroke may be meant for a strike. before: the one before it."""
    opens_s = strike.due_s - strike.window_s
    if strike.number:
        return opens_s if before is None else min(opens_s, (before.due_s + strike.due_s) / 2.0)
    pushed_s = strike.due_s - FURTHEST * strike.beat_s
    return min(opens_s, pushed_s if before is None else max(pushed_s, before.due_s))


def meant_until_s(strike: Expected, after: Expected | None = None) -> float:
    """Until when. after: the strike after it, which may be pushed in its turn."""
    closes_s = strike.due_s + strike.window_s
    late_s = strike.due_s + FURTHEST * strike.beat_s
    if strike.number:
        return closes_s if after is None else max(closes_s, min(late_s, (strike.due_s + after.due_s) / 2.0))
    if after is not None:
        pushed_s = max(meant_from_s(after, strike), (strike.due_s + after.due_s) / 2.0)
        late_s = min(late_s, pushed_s if after.number == 0 else after.due_s)
    return max(closes_s, late_s)


def reach_s(expected: Sequence[Expected], place: int) -> tuple[float, float]:
    """From when to when the presses lie that decide what a strike takes, its own and the spare ones of those beside it."""
    strike = expected[place]
    near_s = _near_s(strike)
    beside = expected[max(0, place - 1) : place + 2]
    return (
        min(strike.due_s - near_s, beside[0].due_s - beside[0].window_s),
        max(strike.due_s + near_s, beside[-1].due_s + beside[-1].window_s),
    )


def _near_s(strike: Expected) -> float:
    return FURTHEST * strike.beat_s + strike.window_s + ROLL_S


def take_what_was_meant(
    expected: Sequence[Expected], taken: Sequence[list[Press]], extra: list[Press], ceiling: int, places: Iterable[int]
) -> None:
    """Move presses to the strikes they were meant for, in place. expected: one hand's, in order of time. taken: the presses in the window of
    each; extra: those in none. ceiling: what is higher is the other hand's. places: of the strikes to look at, in order; each takes from
    the strikes beside it at most."""
    for place in places:
        strike = expected[place]
        came = [press for press in taken[place] if press.note in strike.notes]
        missing = set(strike.notes).difference(press.note for press in came)
        if not missing:
            continue
        spare = [press for press in _spare(expected, taken, extra, place) if press.note <= ceiling]
        if came:
            found = _rolled(spare, came, missing, _struck_beside(expected, taken, spare, place))
        else:
            found = _off(expected, place, spare, {id(press) for press in extra})
        for press in found:
            for owner in (extra, *taken[max(0, place - 1) : place + 2]):
                owner[:] = [other for other in owner if other is not press]
            taken[place].append(press)


def _spare(
    expected: Sequence[Expected], taken: Sequence[list[Press]], extra: Sequence[Press], place: int
) -> list[Press]:
    """The presses that no strike beside this one wants, or has already from a nearer press, in order of time."""
    strike = expected[place]
    near_s = _near_s(strike)
    spare = [press for press in extra if abs(press.time_s - strike.due_s) <= near_s]
    for number in (place - 1, place + 1):
        if 0 <= number < len(expected):
            beside, first = expected[number], dict[int, Press]()
            for press in sorted(taken[number], key=lambda press: abs(press.time_s - beside.due_s)):
                if press.note not in beside.notes or first.setdefault(press.note, press) is not press:
                    spare.append(press)
    return sorted(spare, key=lambda press: press.time_s)


def _struck_beside(
    expected: Sequence[Expected], taken: Sequence[list[Press]], spare: Sequence[Press], place: int
) -> list[Press]:
    """The due keys of the strikes beside this one that lack a key, also among the spare ones: what went down with them stands for it."""
    at_hand = {press.note for press in spare}
    struck: list[Press] = []
    for number in (place - 1, place + 1):
        if 0 <= number < len(expected):
            notes = expected[number].notes
            own = [press for press in taken[number] if press.note in notes]
            if not at_hand.union(press.note for press in own).issuperset(notes):
                struck += own
    return struck


def _rolled(spare: Sequence[Press], came: Sequence[Press], missing: set[int], beside: Sequence[Press]) -> list[Press]:
    """The other keys of a stroke of which some came in time, even where they come past half the way to the next strike: it does not
    want them. beside: see _struck_beside."""
    found: dict[int, Press] = {}
    for press in spare:
        apart_s = [abs(press.time_s - other.time_s) for other in came]
        beside_s = min((abs(press.time_s - other.time_s) for other in beside), default=inf)
        if press.note in missing and max(apart_s) <= ROLL_S and beside_s >= WITH_SHARE * min(apart_s):
            found.setdefault(press.note, press)
    return list(found.values())


def _off(expected: Sequence[Expected], place: int, spare: Sequence[Press], free: set[int]) -> list[Press]:
    """The stroke that came before or after its strike's window: the one with most of its notes, of these the nearest. Half of the notes of a
    change tell it where they lie in no window (`free`, by identity), else all; all notes of a repeat, and in no window."""
    strike = expected[place]
    from_s = meant_from_s(strike, expected[place - 1] if place else None)
    until_s = meant_until_s(strike, expected[place + 1] if place + 1 < len(expected) else None)
    best: tuple[int, float] = (0, 0.0)
    found: list[Press] = []
    for stroke in gather(spare, ROLL_S):
        right = [press for press in stroke if press.note in strike.notes]
        is_free = all(id(press) in free for press in right)
        least = len(strike.notes) / 2 if is_free and not strike.number else len(strike.notes)
        if strike.number and not is_free:
            continue
        if len(right) < least or not from_s < right[0].time_s <= until_s:
            continue
        worth = (len(right), -abs(right[0].time_s - strike.due_s))
        if not found or worth > best:
            best, found = worth, list(stroke)
    return found
