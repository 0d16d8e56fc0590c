"""A player's time: how far off is still in time, and what is a player's own way.

Units: milliseconds, negative = early; seconds for the length of a pulse.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from statistics import median

from companion.practice.model import Figures, StrikeMark

# Verdicts of a strike that came with all its notes.
WHOLE = ("right", "early", "late")
# Fewer strikes say too little of a player's habit (our own choice).
STRIKES_FOR_HABIT = 8


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far from the beat is still in time: the larger of floor_ms and share of a pulse. The spread of intervals
    grows in proportion to their length above about 300 ms (Repp, on expressive piano timing), so a constant alone
    would not do."""

    name: str
    floor_ms: float
    share: float
    source: str

    def ms(self, beat_s: float) -> float:
        """How far off a strike may be at that length of a beat."""
        return max(self.floor_ms, self.share * beat_s * 1000.0)


TOLERANCES = (
    Tolerance(
        "strike",
        40.0,
        0.10,
        "an order of two onsets is told from 22 ms on and is obvious past 60 ms (mazurka.org.uk); "
        "players spread by 2 to 4 % of the beat (Repp & Su 2013, from memory): 2.5 of their spreads at least",
    ),
    Tolerance(
        "behind",
        20.0,
        0.05,
        "taps precede the beat (Repp 2005); a mean behind it is noticed at twice the 2.5 % at which one "
        "displaced tone is (Friberg & Sundberg 1995)",
    ),
    Tolerance(
        "ahead",
        60.0,
        0.12,
        "taps precede the beat by 10 to 80 ms without the player's rushing (Repp & Su 2013, from memory)",
    ),
    Tolerance(
        "uneven",
        20.0,
        0.06,
        "half as much again as the 4 % of the beat of untrained players (Repp & Su 2013, from memory)",
    ),
)
_MS = {tolerance.name: tolerance.ms for tolerance in TOLERANCES}


def tolerance_ms(name: str, beat_s: float) -> float:
    """The tolerance of that name ("strike", "behind", "ahead", "uneven") where a pulse lasts beat_s."""
    return _MS[name](beat_s)


def habit_ms(strikes: Iterable[StrikeMark]) -> float:
    """The offset that is the player's own way of playing with a click: the median of the strikes that came whole, but
    no more than is still in time ("ahead" and "behind" of TOLERANCES). 0 where fewer than eight came."""
    whole = [mark for mark in strikes if mark.verdict in WHOLE]
    if len(whole) < STRIKES_FOR_HABIT:
        return 0.0
    beat_s = median(mark.expected.beat_s for mark in whole)
    usual_ms = median(mark.offset_ms or 0.0 for mark in whole)
    return min(tolerance_ms("behind", beat_s), max(-tolerance_ms("ahead", beat_s), usual_ms))


def own_spread_ms(strikes: Iterable[StrikeMark]) -> float:
    """How far a player's strikes lie about their own beat: 1.4826 times the median absolute deviation, which is the standard
    deviation of a normal distribution and unmoved by slips (Hampel 1974, JASA 69:383-393). 0 where fewer than eight came."""
    offsets = [mark.offset_ms for mark in strikes if mark.verdict in WHOLE and mark.offset_ms is not None]
    if len(offsets) < STRIKES_FOR_HABIT:
        return 0.0
    middle = median(offsets)
    return 1.4826 * median(abs(offset_ms - middle) for offset_ms in offsets)


# A strike is off where it lies this many of the player's own standard deviations away: one by itself, and one beside which half of
# its chord or more lies off to the same side. So in a thousand chords hardly one is called off by chance. But no more than this
# share of a pulse is ever forgiven (our own choice).
ALONE, TOGETHER, MOST_FORGIVEN = 4.0, 3.3, 0.2


def in_time(strikes: Sequence[StrikeMark], own_offset_ms: float, spread_ms: float) -> list[StrikeMark]:
    """The strikes of a chord, those that came right but off told as early or late."""
    offs = [
        mark.offset_ms - own_offset_ms if mark.verdict == "right" and mark.offset_ms is not None else 0.0
        for mark in strikes
    ]

    def is_off(place: int, widths: float) -> bool:
        beat_s = strikes[place].expected.beat_s
        own_ms = min(widths * spread_ms, 1000.0 * MOST_FORGIVEN * beat_s)
        return abs(offs[place]) > max(tolerance_ms("strike", beat_s), own_ms)

    off = [is_off(place, TOGETHER) for place in range(len(strikes))]
    timed = list(strikes)
    for place in range(len(strikes)):
        if not off[place]:
            continue
        alike = sum(other_off and offs[place] * offs[other] > 0.0 for other, other_off in enumerate(off))
        if (alike > 1 and 2 * alike >= len(strikes)) or is_off(place, ALONE):
            timed[place] = replace(strikes[place], verdict="early" if offs[place] < 0.0 else "late")
    return timed


def timing_words(figures: Figures, beat_s: float) -> str:
    """A pass's time in a word or two: "in time", "early", "late", "uneven", "early and uneven", "late and uneven"; ""
    where nothing was heard.

    Offset and spread are kept apart. The average of a player who keeps to the click lies a little before it, and that
    is in time ("ahead" of TOLERANCES). beat_s: the length of a pulse.
    """
    if figures.offset_ms is None or figures.spread_ms is None:
        return ""
    words = []
    if figures.offset_ms > tolerance_ms("behind", beat_s):
        words.append("late")
    elif figures.offset_ms < -tolerance_ms("ahead", beat_s):
        words.append("early")
    if figures.spread_ms > tolerance_ms("uneven", beat_s):
        words.append("uneven")
    return " and ".join(words) or "in time"
