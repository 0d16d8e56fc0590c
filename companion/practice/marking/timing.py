"""A player's time: how far off is still in time, and what is a player's own way.

Units: milliseconds, negative = early; seconds for the length of a pulse.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import sqrt
from statistics import NormalDist, fmean, median

from companion.practice.marking.robust import qn
from companion.practice.model import Figures, StrikeMark

# Verdicts of a strike that came with all its notes.
WHOLE = ("right", "early", "late", "short")
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
    whole = [mark for mark in strikes if mark.verdict in WHOLE and mark.offset_ms is not None]
    if len(whole) < STRIKES_FOR_HABIT:
        return 0.0
    beat_s = median(mark.expected.beat_s for mark in whole)
    usual_ms = median(mark.offset_ms or 0.0 for mark in whole)
    return min(tolerance_ms("behind", beat_s), max(-tolerance_ms("ahead", beat_s), usual_ms))


def own_spread_ms(strikes: Iterable[StrikeMark]) -> float:
    """How far a player's strikes lie about their own beat: a standard deviation (robust.qn), of more strikes than WIDTHS is made for as much wider as chance
    alone carries the furthest of them further. 0 where fewer than eight came."""
    offsets = [
        mark.offset_ms / mark.expected.spreads
        for mark in strikes
        if mark.verdict in WHOLE and mark.offset_ms is not None
    ]
    if len(offsets) < STRIKES_FOR_HABIT:
        return 0.0
    furthest = NormalDist().inv_cdf(1.0 - CALLED / (2 * len(offsets)))  # both early and late
    return qn(offsets) * max(1.0, furthest / WIDTHS)


# A strike is off where it lies this many of the player's own standard deviations away, and so are the strikes of a chord where their
# mean lies as many of its own away: of a normal distribution one in 4,600 lies further out, so that in a take of sixty chords of four
# strikes a twentieth of one is called off by chance; of a longer take (a whole arrangement has 500 strikes) no more than that either. But no more than a sixteenth, in shares of a
# pulse, is ever forgiven: there another strike would be due (our own choice).
WIDTHS, CALLED, MOST_FORGIVEN = 3.7, 0.05, 0.25


# Keys of one strike further apart are a roll: two onsets so far apart are plainly two (mazurka.org.uk; see "strike" of TOLERANCES).
ROLLED_MS = 60.0


def usual_roll_ms(strikes: Iterable[StrikeMark], own_offset_ms: float) -> float | None:
    """How far behind the player's own beat the middle of a roll lies as a rule (own_offset_ms: see mark_pass); None where fewer than eight
    strikes are rolled, which say nothing of a habit."""
    rolled = [mark for mark in strikes if mark.verdict in WHOLE and _is_rolled(mark)]
    if len(rolled) < STRIKES_FOR_HABIT:
        return None
    return median(mark.offset_ms or 0.0 for mark in rolled) - own_offset_ms


def _is_rolled(mark: StrikeMark) -> bool:
    keys_ms = mark.note_offsets_ms
    return bool(keys_ms) and max(keys_ms) - min(keys_ms) > ROLLED_MS


def _off_ms(mark: StrikeMark, own_offset_ms: float, roll_ms: float | None) -> float:
    """How far a strike lies from the player's own beat, for its verdict: the mean of its keys. A roll may as well begin with the beat
    (common practice): the beat lies between its first key and its middle, where the player's rolls have it as a rule (roll_ms), and of a
    player who seldom rolls where it is nearest."""
    middle_ms = (mark.offset_ms or 0.0) - own_offset_ms
    if not _is_rolled(mark):
        return middle_ms
    first_ms = min(mark.note_offsets_ms) - own_offset_ms
    return max(first_ms, middle_ms - max(0.0, middle_ms if roll_ms is None else roll_ms))


def in_time(
    strikes: Sequence[StrikeMark], own_offset_ms: float, spread_ms: float, roll_ms: float | None = None
) -> list[StrikeMark]:
    """The strikes of a chord, those that came right but off told as early or late. roll_ms: see usual_roll_ms."""
    offs_ms = {
        place: _off_ms(mark, own_offset_ms, roll_ms)
        for place, mark in enumerate(strikes)
        if mark.verdict == "right" and mark.offset_ms is not None
    }
    if not offs_ms:
        return list(strikes)
    beat_s = strikes[0].expected.beat_s
    least_ms = tolerance_ms("strike", beat_s)

    def is_off(off_ms: float, spreads: float) -> bool:
        own_ms = min(WIDTHS * spreads * spread_ms, 1000.0 * MOST_FORGIVEN * beat_s)
        return abs(off_ms) > max(least_ms, own_ms)

    middle_ms = fmean(offs_ms.values())
    # What the beat itself is in doubt by moves all strikes of a chord alike.
    doubt = fmean(strikes[place].expected.spreads ** 2 for place in offs_ms) - 1.0
    all_off = is_off(middle_ms, sqrt(max(0.5 / len(offs_ms), 1.0 / len(offs_ms) + doubt)))
    timed = list(strikes)
    for place, off_ms in offs_ms.items():
        with_all = all_off and off_ms * middle_ms > 0.0 and abs(off_ms) > least_ms
        if with_all or is_off(off_ms, strikes[place].expected.spreads):
            timed[place] = replace(strikes[place], verdict="early" if off_ms < 0.0 else "late")
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
