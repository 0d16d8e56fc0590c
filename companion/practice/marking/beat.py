"""The beat of a player, followed along an alignment and broken where the player waited.

Two questions in turn. Where did the beat break? Several readings of the take are carried along side by side, each with a
place and a length of the beat that follow the player a little at every stroke (a Kalman filter with a slowly drifting
tempo); a stroke that is off may be a slip (ignored, at a price) or a wait (the beat begins anew there, at a higher price), and
what comes after it decides. Then, where was each beat? A line through the strokes that kept time, between two breaks, that bends as the
player's tempo does (steady.py); it tells how far strokes lie about it, by which the breaks are looked for again.

Sources: Cont 2010 (see align.py) for a beat that follows along an alignment; Bar-Shalom & Fortmann 1988, "Tracking and data
association", for several readings carried along and pruned (from memory).

Units: pulses along the performance; seconds.
"""

from __future__ import annotations

import itertools
from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import median
from typing import Any

from companion.practice.marking.steady import Point, SteadyStretch, likeliest_drift

# Prices, in units of half a squared standard deviation (our own choice).
SLIP, WAIT, HURRY = 5.0, 10.0, 18.0
# A slip like the one before it: in the same chord, in the next.
SAME_CHORD, NEXT_CHORD = 1.5, 5.0
LEAST_WAIT = 0.14  # pulses; what is less is a chord come late
FURTHEST_SLIP = 0.65  # pulses; what is more is no slip
READINGS, READINGS_ALIKE = 24, 3  # kept in all, and of those with the same last break
# How far the tempo drifts in a pulse, as a share of it, and strokes lie about it, before more is known.
DRIFT, USUAL_SPREAD_S = 0.004, 0.025
ROUNDS = 3
LEAST_SPREAD_S, MOST_SPREAD_S = 0.008, 0.045
WIDTH_PULSES, FEWEST_AROUND = 7.0, 12
# A chord further off than so many standard deviations does not count for the beat (as a verdict, see timing.WIDTHS).
CHORD_WIDTHS, LATE_IN_A_ROW = 3.7, 2
REACH_PULSES, AROUND_PULSES, FEWEST_SLOPES = 4.0, 12.0, 8


@dataclass(frozen=True, slots=True)
class Beat:
    """breaks: numbers of the points that begin a stretch, the first included; stretches, as many. spread_s: how far the
    player's strokes lie about the beat (a standard deviation, from the median of the absolute offsets)."""

    breaks: tuple[int, ...]
    stretches: tuple[SteadyStretch, ...]
    spread_s: float


def local_beats(points: Sequence[Point], cuts: Sequence[int]) -> list[float]:
    """The length of a pulse at each point: the median of the slopes around it (after Theil and Sen, see robust.py), each over REACH_PULSES or
    a step that is longer, those of AROUND_PULSES to either side, but no fewer than FEWEST_SLOPES. cuts: points that begin anew after a jump,
    over which no slope is taken. Empty where there is no slope at all."""
    steps = [after - before for (before, _), (after, _) in itertools.pairwise(points) if after > before]
    if not steps:
        return []
    step = sum(steps) / len(steps)
    reach = max(1, round(REACH_PULSES / step))
    width = max(FEWEST_SLOPES, round(AROUND_PULSES / step))
    cut = set(cuts)
    slopes: list[tuple[int, float]] = []
    since = 0
    for number in range(len(points)):
        if number in cut:
            since = number
        back = max(since, number - reach)
        (a, a_s), (b, b_s) = points[back], points[number]
        if b - a > 0.0 and b_s > a_s and number - back >= min(reach, 2):
            slopes.append(((back + number) // 2, (b_s - a_s) / (b - a)))
    if not slopes:
        return []
    places = [place for place, _ in slopes]
    found = []
    for number in range(len(points)):
        at = bisect_left(places, number)
        found.append(median(slope for _, slope in slopes[max(0, at - width) : at + width] or slopes[-width:]))
    return found


def follow(
    points: Sequence[Point],
    beats_s: Sequence[float],
    cuts: Sequence[int],
    trusted: Sequence[bool],
    chords: Sequence[int],
) -> Beat:
    """points: the strokes in order; beats_s: the local length of a pulse at each; cuts: points where the player went elsewhere,
    so that the beat begins anew in any case. trusted: whether a stroke's notes came, so that its time says something. chords: a
    number for each that changes with the chord."""
    cut = set(cuts)
    spread_s, drift = USUAL_SPREAD_S, (DRIFT * median(beats_s) / USUAL_SPREAD_S) ** 2
    breaks: list[int] = []
    for _ in range(ROUNDS):
        breaks, kept = _track(points, beats_s, cut, trusted, chords, spread_s, drift)
        breaks = _without_slips(points, beats_s, cut, chords, breaks, kept)
        edges = list(itertools.pairwise([*breaks, len(points)]))
        lengths_s = [median(beats_s[first:end]) for first, end in edges]
        inside = [sorted(points[n] for n in range(first, end) if kept[n]) for first, end in edges]
        drift, known_s = likeliest_drift([(timed, beat_s) for timed, beat_s in zip(inside, lengths_s) if timed])
        spread_s = min(MOST_SPREAD_S, max(LEAST_SPREAD_S, known_s or spread_s))
    stretches = []
    for (first, end), beat_s, timed in zip(edges, lengths_s, inside):
        if not timed:
            stretches.append(SteadyStretch(sorted(points[first:end]), beat_s, drift))
            continue
        stretch = SteadyStretch(timed, beat_s, drift)
        back = [
            n for n in range(first, end) if trusted[n] and not kept[n] and _keeps_time(stretch, points[n], spread_s)
        ]
        numbers = sorted([*(n for n in range(first, end) if kept[n]), *back], key=lambda n: points[n])
        numbers = _without_late_chords(numbers, points, chords, beat_s, spread_s, drift)
        stretches.append(SteadyStretch([points[n] for n in numbers], beat_s, drift))
    return Beat(tuple(breaks), tuple(stretches), spread_s)


def _keeps_time(stretch: SteadyStretch, point: Point, spread_s: float) -> bool:
    """Whether a stroke that was taken for a slip is none by the beat that was found in the end."""
    due_s, spreads = stretch.read(point[0])
    return abs(point[1] - due_s) < sqrt(2.0 * SLIP) * spreads * spread_s


def _without_late_chords(
    timed: list[int],
    points: Sequence[Point],
    chords: Sequence[int],
    beat_s: float,
    spread_s: float,
    drift: float,
) -> list[int]:
    """The strokes without those of chords that lie off the beat which the others give (deletion diagnostics, Cook & Weisberg 1982): where
    strokes are few, the two of a late chord draw the beat after them. timed: numbers of the points that keep time, in order of pulse. Of such
    chords near each other the worst goes first, and of a row no more than LATE_IN_A_ROW: over a wider gap a tempo that wanders says nothing."""
    away: set[int] = set()  # chords
    while True:
        stretch = SteadyStretch([points[n] for n in timed], beat_s, drift)
        numbers = [chords[n] for n in timed]
        places = [*(i for i in range(len(timed)) if i == 0 or numbers[i] != numbers[i - 1]), len(timed)]
        off: list[tuple[float, int, int]] = []
        for low, high in itertools.pairwise(places):
            count = high - low
            if low == 0 or high == len(timed) or len(timed) - count < FEWEST_AROUND:
                continue
            if _in_a_row(numbers[low], away) > LATE_IN_A_ROW:
                continue
            read = [(points[n][1], *stretch.without(low, high, points[n][0])) for n in timed[low:high]]
            doubt = sum(variance for _, _, variance in read) / count
            mean_s = sum(time_s - due_s for time_s, due_s, _ in read) / count
            widths = abs(mean_s) / (spread_s * sqrt(1.0 / count + doubt))
            if widths > CHORD_WIDTHS:
                off.append((widths, low, high))
        if not off:
            return timed
        worst = [
            (low, high)
            for widths, low, high in off
            if all(
                widths >= other or abs(points[timed[low]][0] - points[timed[at]][0]) > 2.0 * WIDTH_PULSES
                for other, at, _ in off
            )
        ]
        gone = {place for low, high in worst for place in range(low, high)}
        away |= {numbers[low] for low, _ in worst}
        timed = [n for place, n in enumerate(timed) if place not in gone]


def _in_a_row(chord: int, away: set[int]) -> int:
    """How many chords in a row would be away, were this one too."""
    first = last = chord
    while first - 1 in away:
        first -= 1
    while last + 1 in away:
        last += 1
    return last - first + 1


# A break that so few chords of one end of the take lie beyond is none.
_END_CHORDS = 2


def _without_slips(
    points: Sequence[Point],
    beats_s: Sequence[float],
    cut: set[int],
    chords: Sequence[int],
    breaks: list[int],
    kept: list[bool],
) -> list[int]:
    """The breaks without those by which the first chords, or the last, came late: there the beat of the many counts. kept: points of
    such chords are marked as not in time."""
    edges = [*breaks, len(points)]
    found = list(breaks)
    for place, (first, end) in enumerate(itertools.pairwise(edges)):
        shift = (
            (points[end][1] - points[end - 1][1]) / beats_s[first] - (points[end][0] - points[end - 1][0])
            if end < len(points)
            else 0.0
        )
        few = chords[end - 1] - chords[first] < _END_CHORDS
        if not few:
            continue
        if end < len(points) and end not in cut and -FURTHEST_SLIP < shift < 0.0 and (place == 0 or first in cut):
            found.remove(end)
        elif end == len(points) and place and first not in cut and first in found:
            gap = (points[first][1] - points[first - 1][1]) / beats_s[first] - (points[first][0] - points[first - 1][0])
            if gap >= FURTHEST_SLIP:
                continue
            found.remove(first)
        else:
            continue
        kept[first:end] = [False] * (end - first)
    return found


History = tuple[tuple[int, float], Any]  # the latest entry, and those before it or None


@dataclass(slots=True)
class _Tracking:
    """One reading of the take so far. time_s, beat_s: where the beat is at `pulse` and how long; var_*: how sure. history: linked
    list of (kind, off_s) from the latest back; kind: 0 kept time, 1 a slip, 2 a break."""

    cost: float
    pulse: float
    time_s: float
    beat_s: float
    var_time: float
    var_both: float
    var_beat: float
    history: History | None
    broke: float  # the pulse of the last break


def _track(
    points: Sequence[Point],
    beats_s: Sequence[float],
    cut: set[int],
    trusted: Sequence[bool],
    chords: Sequence[int],
    spread_s: float,
    drift: float,
) -> tuple[list[int], list[bool]]:
    """Breaks, and whether each point kept time. drift: as in steady.py."""
    readings: list[_Tracking] = []
    for number, (point, usual_s) in enumerate(zip(points, beats_s)):
        if number == 0 or number in cut:
            best = min(readings, key=lambda r: r.cost, default=None)
            cost, history = (best.cost, best.history) if best else (0.0, None)
            readings = [_begin(cost, point, usual_s, spread_s, history)]
            continue
        slip_again = SAME_CHORD if chords[number] == chords[number - 1] else NEXT_CHORD
        readings = _best(
            [
                after
                for before in readings
                for after in _go_on(before, point, usual_s, spread_s, drift, trusted[number], slip_again)
            ]
        )
    best = min(readings, key=lambda r: r.cost)
    kinds: list[tuple[int, float]] = []
    history = best.history
    while history:
        kinds.append(history[0])
        history = history[1]
    kinds.reverse()
    return (
        [number for number, (kind, _) in enumerate(kinds) if kind == 2],
        [kind != 1 for kind, _ in kinds],
    )


def _go_on(
    before: _Tracking,
    point: Point,
    usual_s: float,
    spread_s: float,
    drift: float,
    trusted: bool,
    slip_again: float,
) -> Iterator[_Tracking]:
    """What the next stroke may be: in time, a slip, or the first after a wait. slip_again: the price of a slip like the last."""
    pulse, time_s = point
    noise = spread_s**2
    du = pulse - before.pulse
    due_s = before.time_s + du * before.beat_s
    drift *= noise * max(du, 0.0)
    var_time = before.var_time + 2.0 * du * before.var_both + du * du * before.var_beat + drift * du * du / 3.0
    var_both = before.var_both + du * before.var_beat + drift * du / 2.0
    var_beat = before.var_beat + drift
    off_s = time_s - due_s
    total = var_time + noise
    price = 0.5 * off_s * off_s / total
    if trusted and price < SLIP:
        keep_t, keep_b = var_time / total, var_both / total
        yield _Tracking(
            before.cost + price,
            pulse,
            due_s + keep_t * off_s,
            before.beat_s + keep_b * off_s,
            (1.0 - keep_t) * var_time,
            (1.0 - keep_t) * var_both,
            var_beat - keep_b * var_both,
            ((0, off_s), before.history),
            before.broke,
        )
    if price > 1.5 or not trusted:
        slip = SLIP if abs(off_s) < FURTHEST_SLIP * usual_s else WAIT
        last = before.history[0] if before.history else (0, 0.0)
        if slip == SLIP and last[0] == 1 and abs(last[1] - off_s) < 4.0 * spread_s:
            slip = slip_again
        cost, history = before.cost + (slip if trusted else 0.5), ((1, off_s), before.history)
        yield _Tracking(cost, pulse, due_s, before.beat_s, var_time, var_both, var_beat, history, before.broke)
        if abs(off_s) > LEAST_WAIT * usual_s and price > 2.0:
            cost = before.cost + (WAIT if off_s > 0.0 else HURRY)
            begun = _begin(cost, point, before.beat_s, spread_s, before.history)
            begun.var_beat = var_beat + (0.02 * usual_s) ** 2
            yield begun


def _begin(cost: float, point: Point, beat_s: float, spread_s: float, history: History | None) -> _Tracking:
    pulse, time_s = point
    return _Tracking(cost, pulse, time_s, beat_s, spread_s**2, 0.0, (0.04 * beat_s) ** 2, ((2, 0.0), history), pulse)


def _best(readings: list[_Tracking]) -> list[_Tracking]:
    """The likeliest, but few of those that broke at the same place, so that a wait is not crowded out before it can prove
    itself."""
    kept: list[_Tracking] = []
    alike: Counter[float] = Counter()
    for reading in sorted(readings, key=lambda r: r.cost):
        alike[reading.broke] += 1
        if alike[reading.broke] <= READINGS_ALIKE:
            kept.append(reading)
            if len(kept) == READINGS:
                break
    return kept
