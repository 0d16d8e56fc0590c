"""A take recorded elsewhere: where in it the song starts, at what tempo, in which pattern and how often, then marked
like any pass.

Proposals (see align.py) are judged by one measure: how many of the notes due and of the notes played go together,
near ones counting more. A take recorded without a click has a clock of its own, so a tempo that wanders is followed,
a few bars at a time; with a known tempo only the start is looked for. Units: seconds from the start of the file;
tempo in pulses a minute.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, pairwise
from math import ceil
from statistics import fmean, quantiles

from companion.groove.model import Arrangement
from companion.groove.swing import played_ratio
from companion.practice.marking.align import Line, Point, find_changes, fit_line, settle, strokes, vote_starts
from companion.practice.marking.expected import (
    BarStart,
    Options,
    Strike,
    expected_strikes,
    steady_starts,
    strikes,
    window_s,
)
from companion.practice.marking.marks import clean_presses, mark_pass, tolerance_ms
from companion.practice.model import Expected, PassMarks, Press
from companion.practice.reach import left_hand_ceiling

TEMPO_RANGE = (20.0, 400.0)
# A take in which less than this goes together is another song (judge's measure, 0 to 1; our own choice).
LEAST_LIKENESS = 0.2
# Two patterns with a likeness this near are a tie.
TIE = 0.01
# Another round must bring at least this.
LEAST_GAIN = 0.0005
# Both hands play where so many notes, and such a share of them, are higher than the left hand comes.
RIGHT_HAND_NOTES, RIGHT_HAND_SHARE = 8, 0.1
STARTS_TRIED = 8
REFINED = 4  # of the proposals for a pattern, the likeliest
# Quartiles of the time between strokes this near together give the same beat, but for the player's spread.
OTHER_BEAT = 0.05
# The tempo is followed over this many bars to either side, within this share of the whole take's tempo, and only
# where that brings so many more of the strikes into time (our own choice).
FOLLOWED_BARS, FOLLOWED_SHARE, FOLLOWED_FROM = 6, 0.1, 0.1
# Each round of following reaches a few bars further; none is needed where a steady tempo already explains so much.
FOLLOWING_ROUNDS, STEADY_ENOUGH = 40, 0.7


@dataclass(frozen=True, slots=True)
class Take:
    """arrangement: the loop with the pattern the take is played in. passes: the bars of each pass; the last may break
    off. tempo_bpm: on average. likeness: 0 to 1, how much of what was due and what was played goes together."""

    arrangement: Arrangement
    passes: tuple[tuple[BarStart, ...], ...]
    tempo_bpm: float
    likeness: float

    @property
    def start_s(self) -> float:
        """When the first bar of the first pass begins."""
        return self.passes[0][0].start_s


def left_hand(presses: Iterable[Press], arrangement: Arrangement) -> list[Press]:
    """The presses in which to look for the loop. Where a good part of a take is higher than the left hand comes, both
    hands play, and that part is the right hand's; else every note may help, also one an octave too high."""
    presses = clean_presses(presses)
    ceiling = left_hand_ceiling(arrangement.bars)
    low = [press for press in presses if press.note <= ceiling]
    high = len(presses) - len(low)
    return low if high >= max(RIGHT_HAND_NOTES, RIGHT_HAND_SHARE * len(presses)) else presses


def find_take(
    presses: Sequence[Press],
    arrangement: Arrangement,
    patterns: Sequence[str],
    near_bpm: float,
    tempo_bpm: float | None = None,
) -> Take | None:
    """Find the loop in a take; None where it is not there.

    presses: the left hand's. patterns: the rhythms it may be in, the likeliest first, which wins a tie. near_bpm:
    where to look for the tempo besides where the take itself points; tempo_bpm: the tempo of the click it was played
    to, which is then kept.
    """
    presses = clean_presses(presses)
    if not presses or not any(chord.notes for bar in arrangement.bars for chord in bar.chords):
        return None
    heard = _Heard(presses)
    best: _Fit | None = None
    for pattern in patterns:
        fits = _fits(heard, replace(arrangement, pattern=pattern), near_bpm, tempo_bpm)
        fit = max(fits, key=lambda fit: round(fit.likeness, 4), default=None)  # among equals the earlier start
        if fit and (best is None or fit.likeness > best.likeness + TIE):
            best = fit
    if best is None or best.likeness < LEAST_LIKENESS:
        return None
    if tempo_bpm is None:
        best = _steady_or_followed(heard, best)
    return _take(best)


def expected_in(take: Take, options: Options | None = None) -> tuple[tuple[Expected, ...], ...]:
    """The strikes of each pass (see expected_strikes)."""
    return tuple(expected_strikes(take.arrangement, starts, options) for starts in take.passes)


def mark_take(take: Take, presses: Sequence[Press], options: Options | None = None) -> tuple[PassMarks, ...]:
    """Mark each pass, as one that is played live. presses: of both hands. What was played more than a beat before the first strike or after the last is no part of it."""
    passes = expected_in(take, options)
    edges = [passes[0][0].due_s - passes[0][0].beat_s]
    edges += [(before[-1].due_s + after[0].due_s) / 2 for before, after in pairwise(passes)]
    edges.append(passes[-1][-1].due_s + passes[-1][-1].beat_s)
    ceiling = left_hand_ceiling(take.arrangement.bars)
    return tuple(
        mark_pass(expected, [press for press in presses if start_s <= press.time_s < end_s], ceiling=ceiling)
        for expected, start_s, end_s in zip(passes, edges, edges[1:])
    )


# --- judging


class _Heard:
    """The presses, also by note, for fast look-up."""

    def __init__(self, presses: list[Press]) -> None:
        self.presses = presses
        self.last_s = presses[-1].time_s
        self.strokes = strokes(presses)
        self.times: dict[int, list[float]] = defaultdict(list)
        for press in presses:
            self.times[press.note].append(press.time_s)

    def nearest(self, note: int, time_s: float, within_s: float) -> float | None:
        times = self.times.get(note, ())
        place = bisect_left(times, time_s)
        near = min(times[max(0, place - 1) : place + 1], key=lambda other: abs(other - time_s), default=None)
        return near if near is not None and abs(near - time_s) <= within_s else None


@dataclass(frozen=True, slots=True)
class _Rhythm:
    """One pass in pulses. strikes: their due_s and gap_s count pulses. bar_pulses: where each bar starts; pulses: of
    the whole pass."""

    arrangement: Arrangement
    strikes: tuple[Strike, ...]
    bar_pulses: tuple[float, ...]
    pulses: float

    @classmethod
    def of(cls, arrangement: Arrangement, tempo_bpm: float) -> _Rhythm:
        """The swing is that of tempo_bpm."""
        ratio = played_ratio(arrangement.feel, arrangement.swing_ratio, tempo_bpm)
        in_pulses = strikes(replace(arrangement, swing_ratio=ratio), steady_starts(arrangement, 0.0, 60.0))
        *starts, end = accumulate((float(bar.meter.pulses) for bar in arrangement.bars), initial=0.0)
        return cls(arrangement, tuple(in_pulses), tuple(starts), end)

    def pulses_of(self, bars: int) -> list[float]:
        """Where each of so many bars begins, through every pass."""
        length = len(self.bar_pulses)
        return [place // length * self.pulses + self.bar_pulses[place % length] for place in range(bars)]


@dataclass(frozen=True, slots=True)
class _Fit:
    """A rhythm laid over a take. lines: for each bar of every pass, on pulses counted from the start of the first
    pass. points: the strikes that came whole; in_time: how many of them did so in time. bars: how many of the bars
    count; the last pass may break off."""

    rhythm: _Rhythm
    lines: tuple[Line, ...]
    likeness: float
    points: tuple[Point, ...]
    in_time: int
    bars: int


def _judge(heard: _Heard, rhythm: _Rhythm, lines: Sequence[Line]) -> _Fit:
    """Lay the rhythm over the take. A further pass counts if half of its strikes came, up to the last bar that was
    played."""
    length = len(rhythm.bar_pulses)
    points: list[Point] = []
    together, due, in_time, bars = 0.0, 0, 0, 0
    for turn in range(len(lines) // length):
        pass_points: list[Point] = []
        pass_together, pass_in_time, last_position = 0.0, 0, -1
        for strike in rhythm.strikes:
            line = lines[turn * length + strike.group.position]
            pulse = turn * rhythm.pulses + strike.due_s
            due_s = line.at(pulse)
            window = window_s(line.beat_s, strike.gap_s * line.beat_s)
            found = [heard.nearest(note, due_s, window) for note in strike.notes]
            near = [time_s for time_s in found if time_s is not None]
            pass_together += sum(1.0 - ((time_s - due_s) / window) ** 2 for time_s in near)
            if len(near) == len(strike.notes):
                pass_points.append((pulse, fmean(near)))
                pass_in_time += 1000.0 * abs(fmean(near) - due_s) <= tolerance_ms("strike", line.beat_s)
                last_position = strike.group.position
        if turn:
            if len(pass_points) < len(rhythm.strikes) / 2:
                break
            wanted = last_position + 1
        else:
            wanted = length
        points += pass_points
        together += pass_together
        in_time += pass_in_time
        due += sum(len(strike.notes) for strike in rhythm.strikes if strike.group.position < wanted)
        bars = turn * length + wanted
    likeness = 2.0 * together / (due + len(heard.presses)) if due else 0.0
    return _Fit(rhythm, tuple(lines[:bars]), likeness, tuple(points), in_time, bars)


# --- proposing


def _fits(heard: _Heard, arrangement: Arrangement, near_bpm: float, tempo_bpm: float | None) -> list[_Fit]:
    """The judged proposals for one pattern, earlier starts first."""
    rhythm = _Rhythm.of(arrangement, tempo_bpm or near_bpm)
    if not rhythm.strikes or len(heard.strokes) < 2:
        return []
    proposals, followed = [], []
    beats = [60.0 / tempo_bpm] if tempo_bpm else [*_beats_of_strokes(heard, rhythm), 60.0 / near_bpm]
    if tempo_bpm is None:
        points = _change_points(heard, rhythm)
        line = fit_line(points)
        if line:
            proposals.append(line)
            followed.append(_follow(heard, _Rhythm.of(arrangement, 60.0 / line.beat_s), points, line))
            beats[-1] = line.beat_s
    notes = [(strike.due_s, note) for strike in rhythm.strikes for note in strike.notes]
    for beat_s in beats:
        proposals += [Line(start_s, beat_s) for start_s in vote_starts(notes, heard.presses, beat_s, STARTS_TRIED)]
    fast, slow = 60.0 / TEMPO_RANGE[1], 60.0 / TEMPO_RANGE[0]
    fits = [_lay(heard, rhythm, line) for line in proposals if fast <= line.beat_s <= slow]
    fits = sorted(fits, key=lambda fit: -fit.likeness)[:REFINED]
    fits = [_refine(heard, fit, tempo_bpm) for fit in fits]
    best = max(fits, key=lambda fit: fit.likeness, default=None)
    if best and tempo_bpm is None and best.likeness < STEADY_ENOUGH:
        followed.append(_follow(heard, best.rhythm, best.points, best.lines[0]))
    fits.sort(key=lambda fit: fit.lines[0].start_s)
    return [*fits, *filter(None, followed)]


def _change_points(heard: _Heard, rhythm: _Rhythm) -> list[Point]:
    """Points where the shell changes, found without a tempo."""
    pulses = {
        (strike.group.position, strike.group.chord): strike.due_s for strike in rhythm.strikes if strike.number == 0
    }
    chords = [
        (strike.group.position, strike.group.chord, strike.notes) for strike in rhythm.strikes if strike.number == 0
    ]
    return [
        (turn * rhythm.pulses + pulses[position, chord], time_s)
        for (turn, position, chord), time_s in find_changes(chords, heard.strokes)
    ]


def _beats_of_strokes(heard: _Heard, rhythm: _Rhythm) -> list[float]:
    """The pulse, if the times from stroke to stroke have the rhythm's quartiles: the middle one, and the others where
    they say otherwise."""
    wanted = _quartiles([after.due_s - before.due_s for before, after in pairwise(rhythm.strikes)] or [rhythm.pulses])
    played = _quartiles([after - before for (before, _), (after, _) in pairwise(heard.strokes)])
    middle, *others = (played[place] / wanted[place] for place in (1, 0, 2))
    return [middle, *(beat_s for beat_s in others if abs(beat_s / middle - 1.0) > OTHER_BEAT)]


def _quartiles(values: list[float]) -> list[float]:
    return quantiles(values, n=4, method="inclusive") if len(values) > 1 else values * 3


def _lay(heard: _Heard, rhythm: _Rhythm, line: Line) -> _Fit:
    """Judge a steady tempo."""
    return _judge(heard, rhythm, [line] * (_passes(heard, rhythm, line) * len(rhythm.bar_pulses)))


def _refine(heard: _Heard, fit: _Fit, tempo_bpm: float | None) -> _Fit:
    """Draw a better line through what a steady fit found, and again while that helps."""
    for _ in range(8):
        line = fit_line(fit.points, fit.lines[0].beat_s if tempo_bpm else None)
        if line is None or not 0.9 < line.beat_s / fit.lines[0].beat_s < 1.1:
            break
        rhythm = fit.rhythm if tempo_bpm else _Rhythm.of(fit.rhythm.arrangement, 60.0 / line.beat_s)
        again = _lay(heard, rhythm, line)
        if again.likeness <= fit.likeness + LEAST_GAIN:
            break
        fit = again
    return fit


def _passes(heard: _Heard, rhythm: _Rhythm, line: Line) -> int:
    """How many passes there is time for, and strokes enough: half a pass's strikes must have come for it to count."""
    return max(
        1, min(ceil((heard.last_s - line.start_s) / (rhythm.pulses * line.beat_s) + 0.01), _most_passes(heard, rhythm))
    )


def _most_passes(heard: _Heard, rhythm: _Rhythm) -> int:
    return 2 + 2 * len(heard.strokes) // len(rhythm.strikes)


# --- following


def _follow(heard: _Heard, rhythm: _Rhythm, points: Sequence[Point], near: Line) -> _Fit | None:
    """Lay the rhythm over the take by lines of its own for every few bars, first through the points, then through
    what that finds."""
    best = None
    for _ in range(FOLLOWING_ROUNDS):
        lines = _local_lines(heard, rhythm, points, near)
        fit = _judge(heard, rhythm, lines) if lines else None
        if fit is None or (best is not None and fit.likeness <= best.likeness + LEAST_GAIN):
            break
        best, points = fit, fit.points
    return best


def _local_lines(heard: _Heard, rhythm: _Rhythm, points: Sequence[Point], near: Line) -> list[Line]:
    """A line for every bar until the take is over, through the points of the bars around it; where there are too few,
    that of the bar before. near: the line of the whole take, from whose tempo the others may not stray far. Empty
    without any line."""
    points = sorted(points)
    pulses = [pulse for pulse, _ in points]
    lines: list[Line | None] = []
    line: Line | None = None
    turn = 0
    while not turn or ((line or near).at(turn * rhythm.pulses) < heard.last_s and turn < _most_passes(heard, rhythm)):
        for start, end in pairwise((*rhythm.bar_pulses, rhythm.pulses)):
            reach = FOLLOWED_BARS * (end - start)
            first, last = turn * rhythm.pulses + start - reach, turn * rhythm.pulses + end + reach
            around = points[bisect_left(pulses, first) : bisect_left(pulses, last)]
            local = fit_line(around)
            local = settle(around, local) if local else None
            if local and abs(local.beat_s / near.beat_s - 1.0) <= FOLLOWED_SHARE:
                line = local
            lines.append(line)
        turn += 1
    known = next((line for line in lines if line), None)
    return [line or known for line in lines] if known else []


def _steady_or_followed(heard: _Heard, fit: _Fit) -> _Fit:
    """The fit with the tempo followed where that brings clearly more strikes into time, else with the steady one: a
    few late chords in a row are late and no new tempo."""
    line = fit_line(fit.points)
    if line is None:
        return fit
    line = settle(fit.points, line)
    steady = _lay(heard, fit.rhythm, line)
    followed = max(_follow(heard, fit.rhythm, fit.points, line) or fit, fit, key=lambda fit: fit.likeness)
    return followed if followed.in_time > steady.in_time + FOLLOWED_FROM * len(steady.points) else steady


def _take(fit: _Fit) -> Take:
    length = len(fit.rhythm.bar_pulses)
    starts = [
        BarStart(line.at(pulse), 60.0 / line.beat_s) for line, pulse in zip(fit.lines, fit.rhythm.pulses_of(fit.bars))
    ]
    passes = tuple(tuple(starts[first : first + length]) for first in range(0, len(starts), length))
    tempo_bpm = 60.0 / fmean(line.beat_s for line in fit.lines)
    return Take(fit.rhythm.arrangement, passes, tempo_bpm, fit.likeness)
