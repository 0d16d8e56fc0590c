"""When each of a hand's strikes came, by their order alone: where the player takes time as he likes, as in a ritardando.

The keys that were struck are laid along the strikes that were due so that most of them are what was due there; of two ways alike the one nearer to
when it was due by the beat (dynamic programming, as for the longest common subsequence: Needleman and Wunsch 1970, from memory).

Units: seconds; MIDI notes.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import dataclass, replace

from companion.practice.marking.ornaments import TremoloKeys
from companion.practice.model import Expected, Press
from companion.practice.reach import ROLL_S

_BEATS_BEFORE = 2.0  # the first strike that is free may come so much before it was due
_OFF = 0.2  # what a key loses that comes a beat or more from when it was due (our own choice): less than a key is worth


def in_order(due: Sequence[Expected], presses: Sequence[Press]) -> tuple[Expected, ...]:
    """The strikes with those moved to when they came whose time is the player's own; one that did not come stays between those around it. due: of one hand,
    in order of time, as are the presses."""
    free = [place for place, strike in enumerate(due) if strike.free]
    theirs = [due[place] for place in free]
    if not theirs:
        return tuple(due)
    timed, tremolos = [strike for strike in due if not strike.free], TremoloKeys(due)
    from_s = max(
        [theirs[0].due_s - _BEATS_BEFORE * theirs[0].beat_s, *(each.due_s + each.window_s for each in timed[-1:])]
    )
    came = _came(theirs, [press for press in presses if not tremolos.goes_on(press) and press.time_s > from_s])
    moved = list(due)
    for at, place in enumerate(free):
        time_s = came[at]
        moved[place] = replace(due[place], due_s=_between(theirs, came, at) if time_s is None else time_s)
    return tuple(sorted(moved, key=lambda strike: strike.due_s))


@dataclass(frozen=True, slots=True)
class _Way:
    """The best way to the strike `place`, whose first key was struck at time_s; before: the way up to that."""

    value: float
    place: int
    time_s: float
    notes: Set[int]  # of that strike, up to now
    before: _Way | None


def _came(due: Sequence[Expected], presses: Sequence[Press]) -> list[float | None]:
    """When each strike came, None where it did not."""
    best: list[_Way | None] = [None] * len(due)
    for press in presses:
        top: _Way | None = None
        found = list(best)
        for place, strike in enumerate(due):
            own = best[place]
            if press.note in strike.notes:
                off = _OFF * min(1.0, abs(press.time_s - strike.due_s) / strike.beat_s)
                ways = [_Way((top.value if top else 0.0) + 1.0 - off, place, press.time_s, {press.note}, top)]
                if own is not None and press.time_s - own.time_s <= ROLL_S and press.note not in own.notes:
                    ways.append(replace(own, value=own.value + 1.0 - off, notes=own.notes | {press.note}))
                found[place] = max((*ways, *([own] if own else [])), key=lambda way: way.value)
            if own is not None and (top is None or own.value > top.value):
                top = own
        best = found
    came: list[float | None] = [None] * len(due)
    way = max((each for each in best if each is not None), key=lambda each: each.value, default=None)
    while way is not None:
        came[way.place] = way.time_s
        way = way.before
    return came


def _between(due: Sequence[Expected], came: Sequence[float | None], at: int) -> float:
    """As far from those around it that came as it was due."""
    before = next((place for place in range(at - 1, -1, -1) if came[place] is not None), None)
    after = next((place for place in range(at + 1, len(due)) if came[place] is not None), None)
    own_s = due[at].due_s
    if before is None or after is None:
        near = after if before is None else before
        return own_s if near is None else own_s + (came[near] or 0.0) - due[near].due_s
    low_s, high_s = came[before] or 0.0, came[after] or 0.0
    span_s = due[after].due_s - due[before].due_s
    return low_s + (own_s - due[before].due_s) / span_s * (high_s - low_s) if span_s else low_s
