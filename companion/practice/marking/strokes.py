"""Keys gathered into strokes of the hand: what goes down within a roll is one stroke.

Units: seconds from the start of the file.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean, median

from companion.practice.marking.expected import TimedStrike
from companion.practice.model import Press
from companion.practice.reach import ROLL_S

# A key went down with the one after it, not with the one before, where the gaps to them are as this to 1 (our own choice).
WITH_SHARE = 1.0 / 3.0


@dataclass(frozen=True, slots=True)
class Stroke:
    """presses in order of time; notes: their notes."""

    presses: tuple[Press, ...]
    notes: frozenset[int]

    @classmethod
    def of(cls, presses: Sequence[Press]) -> Stroke:
        """A stroke of these keys."""
        return cls(tuple(presses), frozenset(press.note for press in presses))

    @property
    def time_s(self) -> float:
        """The mean of its keys."""
        return fmean(press.time_s for press in self.presses)

    def time_for(self, notes: Sequence[int]) -> float:
        """The mean of those of its keys that were wanted, of all where none was."""
        return fmean([press.time_s for press in self.presses if press.note in notes] or [self.time_s])


def strokes_of(presses: Sequence[Press]) -> list[Stroke]:
    """presses: in order of time. A roll never reaches past half the way to the next stroke, which at fast tempi is less than
    ROLL_S. The same key again is a new stroke."""
    found = gather(presses, ROLL_S)
    if len(found) > 2:
        usual_s = median(after[0].time_s - before[0].time_s for before, after in pairwise(found))
        if usual_s < 2.0 * ROLL_S:
            found = gather(presses, usual_s / 2.0)
    return [Stroke.of(group) for group in found]


def gather(presses: Sequence[Press], roll_s: float) -> list[list[Press]]:
    """presses: in order of time; put together where they lie within roll_s of the first."""
    groups: list[list[Press]] = []
    down: set[int] = set()
    for press in presses:
        if groups and press.time_s - groups[-1][0].time_s <= roll_s and press.note not in down:
            groups[-1].append(press)
            down.add(press.note)
        else:
            groups.append([*(_begun_before(groups[-1], press) if groups else []), press])
            down = {press.note for press in groups[-1]}
    return groups


def _begun_before(group: list[Press], first: Press) -> list[Press]:
    """Taken from a stroke: its last keys where they went down with the first of the stroke after it, and plainly not with those
    before them."""
    for place in range(len(group) - 1, 0, -1):
        with_s, apart_s = first.time_s - group[place].time_s, group[place].time_s - group[place - 1].time_s
        if WITH_SHARE * apart_s > with_s and all(press.note != first.note for press in group[place:]):
            begun = group[place:]
            del group[place:]
            return begun
    return []


def split_strokes(
    strokes: Sequence[Stroke], steps: Sequence[tuple[int, int]], strikes: Sequence[TimedStrike]
) -> list[Stroke]:
    """The strokes with those in two that hold two strikes in a row, which come so close in a fast swing. steps: stroke and strike of
    each step of an alignment."""
    taken: dict[int, tuple[int, set[int]]] = {}
    for place, (taker, strike) in enumerate(steps):
        taken[taker] = strike, {other for _, other in steps[max(0, place - 1) : place + 2]}
    found: list[Stroke] = []
    for number, stroke in enumerate(strokes):
        parts = [stroke]
        if number in taken and len(stroke.presses) > len(strikes[taken[number][0]].notes):
            strike, near = taken[number]
            for one, other in ((strike, (strike + 1) % len(strikes)), (strike - 1, strike)):
                if not ({one % len(strikes), other} - {strike}) & near:
                    parts = _in_two(stroke, strikes[one].notes, strikes[other].notes) or parts
                    if len(parts) > 1:
                        break
        found += parts
    return found


def _in_two(stroke: Stroke, first: Sequence[int], second: Sequence[int]) -> list[Stroke]:
    """A stroke parted where its keys lie furthest apart, if the parts hold half of the notes of each strike or more, and of one
    all; else none."""
    gaps = [after.time_s - before.time_s for before, after in pairwise(stroke.presses)]
    place = gaps.index(max(gaps)) + 1
    parts = [Stroke.of(stroke.presses[:place]), Stroke.of(stroke.presses[place:])]
    shares = [len(part.notes.intersection(wanted)) / len(wanted) for part, wanted in zip(parts, (first, second))]
    return parts if min(shares) >= 0.5 and max(shares) == 1.0 else []
