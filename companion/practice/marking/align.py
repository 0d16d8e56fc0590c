"""Laying a take over a song without knowing when it starts or how fast it is: proposals of where the beats lie.

Points are pairs of a pulse, counted from the start of the first pass, and the second it was played at; a line through
them is a start and a steady tempo. Medians throughout, so that slips and stray notes do not bend it.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from companion.practice.model import Press

Point = tuple[float, float]
Place = tuple[int, int, int]  # pass, position in the loop, chord in the bar; all from 0

# Presses this near together are one stroke of the hand: MIDI's own spread of a millisecond and a rolled pair.
STROKE_S = 0.07
# More is not needed to find the tempo, and the time it takes grows with the square.
MOST_RUNS = 800
MOST_VOTERS = 4000
FEWEST_POINTS = 4
# A line is never bent by more than this share of its tempo at once.
MOST_BEND = 0.05


@dataclass(frozen=True, slots=True)
class Line:
    """start_s: when pulse 0 is; beat_s: length of a pulse."""

    start_s: float
    beat_s: float

    def at(self, pulse: float) -> float:
        """The second at which a pulse is."""
        return self.start_s + pulse * self.beat_s


def fit_line(points: Sequence[Point], beat_s: float | None = None) -> Line | None:
    """The line through points in order of pulse: the median slope from each point to the one half the points further
    on, then the median start (after Theil and Sen, whose estimator takes every pair). beat_s: a tempo that is known.
    None for too few."""
    if len(points) < FEWEST_POINTS:
        return None
    if beat_s is None:
        half = len(points) // 2
        pairs = zip(points, points[half:])
        slopes = [(b_s - a_s) / (b - a) for (a, a_s), (b, b_s) in pairs if b > a]
        if not slopes or median(slopes) <= 0:
            return None
        beat_s = median(slopes)
    return Line(median(time_s - pulse * beat_s for pulse, time_s in points), beat_s)


# How far off, in pulses, a point may lie and still pull on the line, round by round; the last is what is in time.
_PULLS = (0.2, 0.2, 0.15, 0.15, 0.1, 0.1, 0.1)


def settle(points: Sequence[Point], line: Line) -> Line:
    """The line drawn to where most of the points are: least squares with the weights of Beaton and Tukey (1974), (1 -
    u^2)^2, under which what is plainly late pulls no more at all. The line itself where too few are near."""
    for pull in _PULLS:
        reach_s = pull * line.beat_s
        weighted = [
            ((1.0 - (off_s / reach_s) ** 2) ** 2, pulse, off_s)
            for pulse, time_s in points
            for off_s in [time_s - line.at(pulse)]
            if abs(off_s) < reach_s
        ]
        if len(weighted) < FEWEST_POINTS:
            break
        total = sum(weight for weight, _, _ in weighted)
        mean_pulse = sum(weight * pulse for weight, pulse, _ in weighted) / total
        mean_off = sum(weight * off_s for weight, _, off_s in weighted) / total
        width = sum(weight * (pulse - mean_pulse) ** 2 for weight, pulse, _ in weighted)
        slope = (
            sum(weight * (pulse - mean_pulse) * off_s for weight, pulse, off_s in weighted) / width if width else 0.0
        )
        if abs(slope) > MOST_BEND * line.beat_s:  # a few points close together give any slope
            break
        line = Line(line.start_s + mean_off - slope * mean_pulse, line.beat_s + slope)
    return line


def strokes(presses: Sequence[Press]) -> list[tuple[float, frozenset[int]]]:
    """Presses in order of time gathered into strokes of the hand: mean second and notes."""
    groups: list[list[Press]] = []
    for press in presses:
        if groups and press.time_s - groups[-1][0].time_s <= STROKE_S:
            groups[-1].append(press)
        else:
            groups.append([press])
    return [(sum(p.time_s for p in group) / len(group), frozenset(p.note for p in group)) for group in groups]


def vote_starts(notes: Sequence[tuple[float, int]], presses: Sequence[Press], beat_s: float, most: int) -> list[float]:
    """Likely starts at a known tempo. Every press votes for the starts that would make it a due note of its pitch;
    the starts with the most votes, the earlier first among equals. notes: (pulse, note) of one pass."""
    pulses: dict[int, list[float]] = defaultdict(list)
    for pulse, note in notes:
        pulses[note].append(pulse)
    bin_s = 0.1 * beat_s
    votes = Counter(
        round((press.time_s - pulse * beat_s) / bin_s)
        for press in presses[:MOST_VOTERS]
        for pulse in pulses.get(press.note, ())
    )
    sums = {place: votes[place - 1] + votes[place] + votes[place + 1] for place in votes}
    starts: list[int] = []
    for place in sorted(sums, key=lambda place: (-sums[place], place)):
        if all(abs(place - other) > 2 for other in starts):
            starts.append(place)
            if len(starts) == most:
                break
    return [place * bin_s for place in starts]


# --- changes of shell, which tell the tempo whatever the pattern


def find_changes(
    chords: Sequence[tuple[int, int, tuple[int, ...]]], played: Sequence[tuple[float, frozenset[int]]]
) -> list[tuple[Place, float]]:
    """Which change of shell in the take is which in the song, by the longest likeness of the two sequences; the tempo
    plays no part.

    chords: (position, chord, notes) of one pass in order. played: strokes. Only changes that came with all their notes are
    given.
    """
    alphabet = frozenset(note for _, _, notes in chords for note in notes)
    runs: list[tuple[float, frozenset[int]]] = []
    for time_s, struck in played:
        known = struck & alphabet
        if known and (not runs or runs[-1][1] != known):
            runs.append((time_s, known))
    runs = runs[:MOST_RUNS]
    expected: list[tuple[Place, frozenset[int]]] = []
    for turn in range(1 + -(-len(runs) // max(1, len(chords)))):
        for position, chord, notes in chords:
            if not expected or expected[-1][1] != frozenset(notes):
                expected.append(((turn, position, chord), frozenset(notes)))
    if len(runs) < 2 or len(expected) < 2:
        return []
    return [
        (expected[row][0], runs[column][0]) for row, column in _likeness([e for _, e in expected], [r for _, r in runs])
    ]


# What a step earns or costs: all notes, some of them, none; a change put in, as every slip and the return from it
# does; a change left out, which is rare and must not be a cheap way to the same chord further on. Only their order
# matters.
_ALL, _SOME, _NONE, _PUT_IN, _LEFT_OUT = 4, 0, -3, -1, -4


def _likeness(expected: Sequence[frozenset[int]], runs: Sequence[frozenset[int]]) -> list[tuple[int, int]]:
    """Pairs (row, column) that agree in the best alignment (Needleman and Wunsch 1970). What comes before the song in
    the take, and what the take leaves out at the end of the song, costs nothing."""
    width = len(runs)
    steps = []
    above = [0] * (width + 1)
    best, best_row = above[width], 0
    for row, wanted in enumerate(expected, 1):
        here = [row * _LEFT_OUT]
        step = bytearray(width + 1)
        step[0] = 1
        for column, played in enumerate(runs):
            common = len(wanted & played)
            score = above[column] + (_ALL if common == len(wanted) else _SOME if common else _NONE)
            kind = 0
            if above[column + 1] + _LEFT_OUT > score:
                score, kind = above[column + 1] + _LEFT_OUT, 1
            if (
                here[column] + _PUT_IN >= score
            ):  # of two like runs the earlier is the change, the later its return from a slip
                score, kind = here[column] + _PUT_IN, 2
            here.append(score)
            step[column + 1] = kind
        steps.append(step)
        above = here
        if above[width] > best:
            best, best_row = above[width], row
    pairs = []
    row, column = best_row, width
    while row and column:
        kind = steps[row - 1][column]
        if kind == 0 and expected[row - 1] <= runs[column - 1]:
            pairs.append((row - 1, column - 1))
        row -= kind != 2
        column -= kind != 1
    return pairs[::-1]
