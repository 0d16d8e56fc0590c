"""Where each beat of a stretch without a break was: a line through its strokes that bends no more than the player's tempo does.

The tempo drifts at random from pulse to pulse, strokes lie at random about the beat; what is known of the beat at a pulse comes from the strokes
before it and, by the same filter run backwards, from those after it, so that it can be asked for without a stroke, or a chord, as well. How
far the tempo drifts is taken from the take itself, as what makes its strokes likeliest.

Sources: Kalman 1960, "A new approach to linear filtering and prediction problems", J. Basic Eng. 82:35-45; Fraser & Potter 1969, "The optimum linear
smoother as a combination of two optimum linear filters", IEEE Trans. Automatic Control 14:387-390; Wahba 1978, "Improper priors, spline smoothing ...",
J. R. Stat. Soc. B 40:364-372: such a line is the smoothing spline; Harvey 1989, "Forecasting, structural time series models and the Kalman filter",
ch. 3.4: the likelihood by the errors of prediction. All from memory.

Units: pulses along the performance; seconds. Variances are in shares of the variance of a stroke about the beat.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from functools import cached_property
from itertools import pairwise
from math import log, sqrt
from statistics import median
from typing import NamedTuple

Point = tuple[float, float]  # pulse, second

# The variance by which the length of a pulse drifts in one pulse: from next to none to 4 % and more of the tempo in ten beats.
DRIFTS = (0.0003, 0.002, 0.008, 0.03, 0.1, 0.3)
USUAL_DRIFT = 0.002
# Stiffer is likelier before anything was played, by so much of the logarithm of likelihood a step (our own choice).
_STIFFER = 4.0
# Fewer strokes tell no spread; of the square of a normal error the median; what lies further out than three deviations counts no more.
_FEWEST, _MEDIAN_SQUARE, _FURTHEST = 8, 0.4549, 9.0
# What is known before the first stroke: of when it comes nothing, of the length of a pulse so large a share, of a stroke about the beat so much in s.
_ANY_TIME, _BEAT_SHARE, _USUAL_SPREAD_S = 1e6, 0.05, 0.02


class _State(NamedTuple):
    """At a pulse: its second, the length of a pulse, and how sure both are."""

    time_s: float
    beat_s: float
    var_time: float
    var_both: float
    var_beat: float

    def on(self, pulses: float, drift: float) -> _State:
        """So many pulses later."""
        time_s, beat_s, var_time, var_both, var_beat = self
        drifted = drift * pulses
        return _State(
            time_s + pulses * beat_s,
            beat_s,
            var_time + pulses * (2.0 * var_both + pulses * (var_beat + drifted / 3.0)),
            var_both + pulses * (var_beat + drifted / 2.0),
            var_beat + drifted,
        )

    def after(self, time_s: float) -> _State:
        """Once a stroke came at that second."""
        off_s, total = time_s - self.time_s, self.var_time + 1.0
        keep, keep_beat = self.var_time / total, self.var_both / total
        return _State(
            self.time_s + keep * off_s,
            self.beat_s + keep_beat * off_s,
            self.var_time / total,
            self.var_both / total,
            self.var_beat - keep_beat * self.var_both,
        )

    def turned(self) -> _State:
        """The same seen backwards."""
        return _State(-self.time_s, self.beat_s, self.var_time, -self.var_both, self.var_beat)

    def joined(self, other: _State) -> tuple[float, float]:
        """The second, and its variance, by both of two that know of different strokes."""
        # Precisions add: a and b are those of the times, c what both say together.
        one, two = self._precision(), other._precision()
        tt, tb, bb = (x + y for x, y in zip(one, two))
        told_t = one[0] * self.time_s + one[1] * self.beat_s + two[0] * other.time_s + two[1] * other.beat_s
        told_b = one[1] * self.time_s + one[2] * self.beat_s + two[1] * other.time_s + two[2] * other.beat_s
        both = tt * bb - tb * tb
        return (bb * told_t - tb * told_b) / both, bb / both

    def _precision(self) -> tuple[float, float, float]:
        both = self.var_time * self.var_beat - self.var_both**2
        return self.var_beat / both, -self.var_both / both, self.var_time / both


def _filtered(points: Sequence[Point], beat_s: float, drift: float) -> tuple[list[_State], list[tuple[float, float]]]:
    """What is known after each stroke; and of each but the first how far it lay from where those before it had it, squared and in shares of its
    variance, and that variance."""
    state = _State(points[0][1], beat_s, _ANY_TIME, 0.0, (_BEAT_SHARE * beat_s / _USUAL_SPREAD_S) ** 2).after(
        points[0][1]
    )
    states, errors = [state], []
    for (before, _), (pulse, time_s) in pairwise(points):
        state = state.on(pulse - before, drift)
        total = state.var_time + 1.0
        errors.append(((time_s - state.time_s) ** 2 / total, total))
        state = state.after(time_s)
        states.append(state)
    return states, errors


class SteadyStretch:
    """A part of the performance without a break: its strokes that kept time, in order of pulse. beat_s: the usual length of a pulse; drift: one of
    DRIFTS."""

    def __init__(self, points: Sequence[Point], beat_s: float, drift: float = USUAL_DRIFT) -> None:
        self.points, self.beat_s, self._drift = tuple(points), beat_s, drift

    @cached_property
    def _before(self) -> list[_State]:
        return _filtered(self.points, self.beat_s, self._drift)[0]

    @cached_property
    def _behind(self) -> list[_State]:
        back = [(-pulse, -time_s) for pulse, time_s in reversed(self.points)]
        return [state.turned() for state in reversed(_filtered(back, self.beat_s, self._drift)[0])]

    def at(self, pulse: float) -> float:
        """The second of a pulse, by the strokes around it."""
        return self.read(pulse)[0]

    def read(self, pulse: float, own: Point | None = None) -> tuple[float, float]:
        """The second of a pulse, by the strokes around it; and how far an offset from it spreads, in the player's own spreads: less than
        1 where the stroke `own` is one of those that say when it was due, more where it is not (the scale of a studentized
        residual, Cook & Weisberg 1982, "Residuals and influence in regression", ch. 2)."""
        low, high = bisect_left(self.points, (pulse, -1e300)), bisect_right(self.points, (pulse, 1e300))
        if own is None or own not in self.points[low:high]:
            due_s, doubt = self.without(low, low, pulse)
            return due_s, sqrt(1.0 + doubt)
        due_s, doubt = self.without(low, high, pulse)
        return due_s + doubt / (1.0 + doubt) * (own[1] - due_s), sqrt(1.0 / (1.0 + doubt))

    def without(self, low: int, high: int, pulse: float) -> tuple[float, float]:
        """The second of a pulse by the strokes without those from low to high, which lie around it; and its variance."""
        before = self._before[low - 1].on(pulse - self.points[low - 1][0], self._drift) if low else None
        behind = None
        if high < len(self.points):
            behind = self._behind[high].turned().on(self.points[high][0] - pulse, self._drift).turned()
        if before and behind:
            return before.joined(behind)
        known = before or behind
        if known is None:  # nothing but the stroke itself
            return self.points[0][1] + (pulse - self.points[0][0]) * self.beat_s, 1.0
        return known.time_s, known.var_time


def likeliest_drift(stretches: Sequence[tuple[Sequence[Point], float]]) -> tuple[float, float]:
    """Of DRIFTS that by which the strokes are likeliest, slips aside; and how far they lie about such a beat, in seconds (a standard deviation; 0.0
    of too few). stretches: the strokes that kept time and the usual length of a pulse."""
    best, found = float("-inf"), (USUAL_DRIFT, 0.0)
    for number, drift in enumerate(DRIFTS):
        errors = [error for points, beat_s in stretches for error in _filtered(points, beat_s, drift)[1]]
        if len(errors) < _FEWEST:
            break
        variance = max(1e-12, median(square for square, _ in errors) / _MEDIAN_SQUARE)
        likely = -0.5 * sum(min(_FURTHEST, square / variance) + log(variance * total) for square, total in errors)
        if likely - _STIFFER * number > best:
            best, found = likely - _STIFFER * number, (drift, sqrt(variance))
    return found
