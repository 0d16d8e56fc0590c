"""The one change to practise by itself after a pass: what a teacher would point at."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from companion.practice.model import VERDICTS

Place = tuple[int, int]  # the bar's index in the chorus, and the chord in it, from 0


@dataclass(frozen=True, slots=True)
class Try:
    """How a chord was come to, once. verdict: one of VERDICTS. lost: what it cost, such as how far off it was in milliseconds or how long
    it was waited for; the more the worse."""

    place: Place
    verdict: str
    lost: float = 0.0


def worst_change(passes: Sequence[Sequence[Try]], habits: Iterable[Place] = ()) -> Place | None:
    """The chord, of those that slipped in the latest pass, whose change is to be practised; None where none slipped.

    passes: the latest last. habits: places where a habit was found, the most telling first: they come before any count. Else by slips
    over tries + 2, so that 3 of 4 stands before 1 of 1 (the rule of succession's caution with few tries), then the worse
    verdict, then what was lost, then the earlier place.
    """
    slipped = {each.place: each for each in passes[-1] if each.verdict != "right"} if passes else {}
    for place in habits:
        if place in slipped:
            return place

    def cost(place: Place) -> tuple[float, int, float, int, int]:
        tries = [each for played in passes for each in played if each.place == place]
        slips = sum(each.verdict != "right" for each in tries)
        latest = slipped[place]
        index, chord = place
        return slips / (len(tries) + 2), VERDICTS.index(latest.verdict), latest.lost, -index, -chord

    return max(slipped, key=cost, default=None)


def bars_around(loop: Sequence[int], index: int) -> tuple[int, ...]:
    """The bar and the one before it in the loop, which goes round; nothing where that is no less than the loop itself."""
    if len(loop) < 3 or index not in loop:
        return ()
    place = list(loop).index(index)
    return loop[place - 1], index
