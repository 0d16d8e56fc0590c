"""The click a take was played to, where there is one: then it says when each strike was due, not the player's own beat.

Units: seconds from the start of the file; pulses.
"""

from __future__ import annotations

from bisect import bisect_left
from cmath import exp, phase, pi
from collections.abc import Sequence
from itertools import pairwise
from statistics import median

from companion.practice.marking.take import Take

FEWEST_CLICKS = 4
# Strokes of one sound nearer than this are one click.
SAME_CLICK_S = 0.03
SAME_BEAT = 0.12  # of a beat: so far drummers' beats may differ (our own choice)


class ClickClock:
    """Called with a pulse and the number of its stretch: when the click says that it was due. Which click is which pulse is found
    stretch by stretch, to the nearest whole click, so that after a wait the player is held against the click again."""

    def __init__(self, take: Take, clicks_s: Sequence[float]) -> None:
        self._clicks = _apart(clicks_s)
        self._step_s = median(after - before for before, after in pairwise(self._clicks))
        share = self._step_s * take.tempo_bpm / 60.0
        self._pulses = float(round(share)) if share >= 0.75 else 1.0 / round(1.0 / share)
        grid = min(1.0, self._pulses)
        ends = [*take.beat.breaks[1:], len(take.points)]
        self._first: list[float] = []  # the pulse of click 0, in each stretch
        for first, end in zip(take.beat.breaks, ends):
            off = median(pulse - self._pulses * self._number(at_s) for pulse, at_s in take.points[first:end])
            self._first.append(grid * round(off / grid))

    def __call__(self, pulse: float, stretch: int) -> float:
        """The second of a pulse; before the first click and after the last at the usual distance."""
        number = (pulse - self._first[stretch]) / self._pulses
        low = min(max(int(number), 0), len(self._clicks) - 2)
        if 0.0 <= number <= len(self._clicks) - 1:
            return self._clicks[low] + (number - low) * (self._clicks[low + 1] - self._clicks[low])
        end = 0 if number < 0.0 else len(self._clicks) - 1
        return self._clicks[end] + (number - end) * self._step_s

    def _number(self, time_s: float) -> float:
        """Which click, from 0, in parts of one."""
        after = bisect_left(self._clicks, time_s)
        if after == 0:
            return (time_s - self._clicks[0]) / self._step_s
        if after == len(self._clicks):
            return after - 1 + (time_s - self._clicks[-1]) / self._step_s
        before_s, after_s = self._clicks[after - 1], self._clicks[after]
        return after - 1 + (time_s - before_s) / (after_s - before_s)


def beats_of_ride(strokes_s: Sequence[float]) -> list[float]:
    """The strokes of a ride cymbal, and of what is played with it, without those that swing between two beats: a stroke is one if those around it are a beat
    apart. Even eighths stay as they are: each of them is a click. strokes_s: in order."""
    strokes = _apart(strokes_s)
    if len(strokes) < FEWEST_CLICKS:
        return strokes
    gaps = sorted(after - before for before, after in pairwise(strokes))
    beat_s = gaps[len(gaps) * 3 // 4]  # of three gaps of the pattern one is a beat and the others are shorter
    between = {
        at
        for before, at, after in zip(strokes, strokes[1:], strokes[2:])
        if abs(after - before - beat_s) < SAME_BEAT * beat_s
    }
    return [at for at in strokes if at not in between]


def _apart(clicks_s: Sequence[float]) -> list[float]:
    return [at for before, at in pairwise([float("-inf"), *sorted(clicks_s)]) if at - before > SAME_CLICK_S]


def click_clock(take: Take, clicks_s: Sequence[float]) -> ClickClock | None:
    """The clock of the clicks in a file; None where there are too few to keep time by, or they stop before half of the take."""
    inside = [at for at in clicks_s if take.points[0][1] - 10.0 <= at <= take.points[-1][1] + 10.0]
    if len(inside) < FEWEST_CLICKS or inside[-1] - inside[0] < 0.5 * (take.points[-1][1] - take.points[0][1]):
        return None
    return ClickClock(take, clicks_s)


def steady_clock(take: Take, tempo_bpm: float) -> ClickClock:
    """A click of that tempo that nobody recorded, laid where the strokes lie on average."""
    beat_s = 60.0 / tempo_bpm
    turn = phase(sum(exp(2j * pi * ((at_s - pulse * beat_s) % beat_s) / beat_s) for pulse, at_s in take.points))
    start_s = turn / (2.0 * pi) * beat_s
    first = int((take.points[0][1] - start_s) / beat_s) - 2
    last = int((take.points[-1][1] - start_s) / beat_s) + 2
    return ClickClock(take, [start_s + number * beat_s for number in range(first, last + 1)])
