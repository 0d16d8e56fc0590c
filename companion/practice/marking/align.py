"""Which stroke of a take is which stroke of the form: one global alignment.

The take's strokes are walked through in order (Viterbi's algorithm over the places of the form). A stroke is an expected
one or put in; expected ones may be left out; the player may wait, go back to a bar line or the start of a section, or on to
a later one, come in after a rest where the time says, and go round any number of times. Notes decide first, time second:
the time between two strokes is held against the local beat, and what it costs to be off has a ceiling, which is the price of
a wait. A place that lies further below the best than any jump costs can hardly win again and is dropped (BEAM), which leaves a
handful of places a stroke; within that beam the alignment is exact.

Sources: Dannenberg 1984, "An on-line algorithm for real-time accompaniment", Proc. ICMC: dynamic programming over notes, extra
and missing ones. Nakamura, Ono, Sagayama & Watanabe 2015, "A stochastic temporal model of polyphonic MIDI performance with
ornaments", Journal of New Music Research 44:287-304, and "Real-time audio-to-score alignment of music performances containing
errors and arbitrary repeats and skips", IEEE/ACM TASLP 24:329-339 (2016): jumps from anywhere through the best place so far. Cont
2010, "A coupled duration-focused architecture for real-time music-to-score alignment", IEEE TPAMI 32:974-987: time beside notes, with
a beat that follows the player.

Units: pulses; seconds; scores, of which a whole right stroke is 3.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from companion.practice.marking.form import WHOLE_STROKE, Form, NoteScores
from companion.practice.marking.strokes import Stroke

# What a step costs (our own choice, tuned on made-up takes; tests/practice/takes.py). A jump must cost more than a chord with
# wrong notes does, and less than two bars of them.
PUT_IN = 2.0
PUT_IN_OUTSIDE = 0.7  # before the first and after the last stroke of the song
LEFT_OUT_FIRST, LEFT_OUT_LATER = 3.0, 1.4
# To the start of a section, a bar line, a chord inside a bar; and less where it is near.
JUMP = {2: 6.0, 1: 7.5}
JUMP_CHORD = 9.0
NEAR_JUMP = {2: 4.5, 1: 5.0}
NEAR_BARS = 4
# What lies this far below the best place is dropped.
BEAM = 9.0
# To begin, or to end, elsewhere than the form does: at a section, a bar line, inside a bar.
START = {2: 1.5, 1: 3.0}
START_ANYWHERE = 4.5
REST = 4.0
HASTY_JUMP = 1.5  # more, where no time was lost
WAIT_FIRST, WAIT_LATER = 3.0, 4.0
PUSH_FIRST, TOO_SOON = 3.0, 4.5
# How far off in pulses costs a half, and how much more for every pulse between.
OFF, OFF_PER_PULSE = 0.10, 0.03
PUT_IN_AT_ONCE = 3  # strokes put in between two, with time still kept


@dataclass(frozen=True, slots=True)
class AlignStep:
    """stroke: its number in the take; strike: its number in the form; turn: how often the form was gone through before;
    jumped: whether the player went there by a jump, not on from the step before."""

    stroke: int
    strike: int
    turn: int
    jumped: bool


@dataclass(frozen=True, slots=True)
class Alignment:
    """steps in order of time; score: of the whole."""

    steps: tuple[AlignStep, ...]
    score: float

    def pulse(self, form: Form, step: AlignStep) -> float:
        """Where a step lies, in pulses from the start of the first time through."""
        return form.pulses[step.strike] + step.turn * form.length


@lru_cache(32)  # the same form is walked through several times
def _near_openings(positions: tuple[int, ...], opens: tuple[int, ...], bars: int) -> list[list[tuple[int, float]]]:
    """For each strike the first strikes of the bars around it but the next, and what it costs to go there: up to NEAR_BARS begun again, or
    as many left out, after the form's last strike from its start. positions: the bar of each strike; opens: as in Form."""
    begins = [(goal, positions[goal], NEAR_JUMP[rank]) for goal, rank in enumerate(opens) if rank]
    last = len(positions) - 1
    return [
        [
            (goal, cost)
            for goal, begun, cost in begins
            if (goal != place + 1 and -NEAR_BARS <= begun - position <= NEAR_BARS + 1)
            or (place == last and 0 < begun - position + bars - 1 <= NEAR_BARS)
        ]
        for place, position in enumerate(positions)
    ]


def align(
    form: Form, scores: NoteScores, strokes: Sequence[Stroke], beats_s: Sequence[float] | None = None
) -> Alignment:
    """The best alignment there is. beats_s: the length of a pulse at each stroke; None: notes alone decide."""
    if not strokes or not form.strikes:
        return Alignment((), 0.0)
    walk = _Walk(form, scores, strokes, beats_s)
    for number in range(len(strokes)):
        walk.step(number)
    return walk.best()


FURTHEST = 0.65  # pulses from where two steps say a stroke between them was due


def filled(form: Form, scores: NoteScores, strokes: Sequence[Stroke], alignment: Alignment) -> Alignment:
    """With the strokes put in between two steps that are, whole, a strike left out between them, near its time: as each gap is held against the
    beat by itself, a repeat between two chords that were pushed alike costs as much as one put in and one left out."""
    count = len(form.strikes)
    steps = list(alignment.steps[:1])
    for before, after in pairwise(alignment.steps):
        between = range(before.stroke + 1, after.stroke)
        from_pulse, until_pulse = alignment.pulse(form, before), alignment.pulse(form, after)
        if between and not after.jumped and until_pulse > from_pulse:
            from_s, until_s = strokes[before.stroke].time_s, strokes[after.stroke].time_s
            beat_s = (until_s - from_s) / (until_pulse - from_pulse)
            place = before.turn * count + before.strike + 1
            for stroke in between:
                values = scores.of(strokes[stroke].notes)[0]
                for number in range(place, after.turn * count + after.strike):
                    turn, strike = divmod(number, count)
                    step = AlignStep(stroke, strike, turn, False)
                    due_s = from_s + (alignment.pulse(form, step) - from_pulse) * beat_s
                    near = abs(strokes[stroke].time_s - due_s) < FURTHEST * beat_s
                    if near and values[strike] > 0.9 * WHOLE_STROKE:
                        steps.append(step)
                        place = number + 1
                        break
        steps.append(after)
    return Alignment(tuple(steps), alignment.score)


_NOWHERE = (-1, -1)
Cell = tuple[float, int, int, bool]  # score; stroke and strike before; jumped


class _Walk:
    def __init__(
        self, form: Form, scores: NoteScores, strokes: Sequence[Stroke], beats_s: Sequence[float] | None
    ) -> None:
        self._form, self._scores, self._strokes, self._beats_s = form, scores, strokes, beats_s
        self._times = [stroke.time_s for stroke in strokes]
        firsts = [strike.number == 0 for strike in form.strikes]
        self._free = [strike.free for strike in form.strikes] * 2
        self._count = count = len(form.strikes)
        # Twice round, so that no place needs a modulo.
        self._pulses = [pulse + turn * form.length for turn in range(2) for pulse in form.pulses]
        self._left_out = [LEFT_OUT_FIRST if first else LEFT_OUT_LATER for first in firsts] * 2
        self._wait = [WAIT_FIRST if first else WAIT_LATER for first in firsts] * 2
        self._push = [PUSH_FIRST if first else TOO_SOON for first in firsts] * 2
        self._jump = {
            place: JUMP.get(opens, JUMP_CHORD) for place, (opens, first) in enumerate(zip(form.opens, firsts)) if first
        }
        self._start = [0.0, *(START.get(opens, START_ANYWHERE) for opens in form.opens[1:])]
        self._end = [*self._start[1:], 0.0]
        positions = tuple(strike.group.position for strike in form.strikes)
        self._near = _near_openings(positions, form.opens, len(form.bar_pulses))
        self._hasty = 0.8 * min(b - a for a, b in zip(self._pulses, self._pulses[1 : count + 1]))
        self._cells: list[dict[int, Cell]] = []
        # The best score after each stroke, and the cell it came from.
        self._bests: list[float] = []
        self._best_cells: list[tuple[int, int]] = []

    def step(self, number: int) -> None:
        """Every way to take the stroke for an expected one."""
        values, likely = self._scores.of(self._strokes[number].notes)
        now_s = self._times[number]
        beat_s = self._beats_s[number] if self._beats_s else 0.0
        before = self._bests[-1] if number else 0.0
        cells: dict[int, Cell] = {}
        for back in range(1, min(PUT_IN_AT_ONCE, number) + 1):
            gap = (now_s - self._times[number - back]) / beat_s if beat_s else 0.0
            self._go_on(cells, values, number - back, PUT_IN * (back - 1), gap, before - BEAM)
        if number:
            lost = beat_s and now_s - self._times[number - 1] >= self._hasty * beat_s
            self._go_elsewhere(cells, values, likely, number, before - (0.0 if lost or not beat_s else HASTY_JUMP))
        for goal in likely:
            total = values[goal] - self._start[goal] - PUT_IN_OUTSIDE * number
            if goal not in cells or total > cells[goal][0]:
                cells[goal] = (total, *_NOWHERE, True)
        idle = before - PUT_IN_OUTSIDE
        best, place = max(((cell[0], -goal) for goal, cell in cells.items()), default=(idle, 1))
        if place > 0 or idle > best:
            best = idle
            self._best_cells.append(self._best_cells[-1] if number else _NOWHERE)
        else:
            self._best_cells.append((number, -place))
        self._bests.append(best)
        floor = best - BEAM
        self._cells.append({goal: cell for goal, cell in cells.items() if cell[0] >= floor})

    def _go_on(
        self, cells: dict[int, Cell], values: list[float], earlier: int, price: float, gap: float, floor: float
    ) -> None:
        """To the next expected strike, or one of those after it with what lies between left out. gap: pulses since; 0: unknown."""
        count, pulses, left_out, wait, push = self._count, self._pulses, self._left_out, self._wait, self._push
        free = self._free  # there the player's own time says nothing
        for at, cell in self._cells[earlier].items():
            rest = cell[0] - price
            if gap > 3.0 and price == 0.0:
                self._rest(cells, values, rest - REST, earlier, at, gap)
            here = pulses[at]
            place = at + 1
            while rest >= floor and place - at < count:
                goal = place if place < count else place - count
                total = rest + values[goal]
                if gap and not free[place]:
                    due = pulses[place] - here
                    off = gap - due
                    cost = off / (OFF + OFF_PER_PULSE * due)
                    cost *= 0.5 * cost
                    most = wait[place] if off > 0.0 else push[place]
                    total -= cost if cost < most else most
                if goal not in cells or total > cells[goal][0]:
                    cells[goal] = (total, earlier, at, False)
                rest -= left_out[place]
                place += 1

    def _go_elsewhere(
        self, cells: dict[int, Cell], values: list[float], likely: list[int], number: int, before: float
    ) -> None:
        """Back to a bar line, or on to one. A jump lands on a stroke of which half or more is right."""
        origin = self._best_cells[-1]
        jump = self._jump
        for goal in likely:
            if goal in jump:
                total = before - jump[goal] + values[goal]
                if goal not in cells or total > cells[goal][0]:
                    cells[goal] = (total, *origin, True)
        landing = set(likely)
        price = before - self._bests[-1]
        for at, cell in self._cells[-1].items():
            for goal, cost in self._near[at]:
                if goal in landing:
                    total = cell[0] + price - cost + values[goal]
                    if goal not in cells or total > cells[goal][0]:
                        cells[goal] = (total, number - 1, at, True)

    def _rest(
        self, cells: dict[int, Cell], values: list[float], score: float, earlier: int, at: int, gap: float
    ) -> None:
        """After a silence the player may be where the time says, or a beat beside it."""
        form = self._form
        pulse = (form.pulses[at] + gap) % form.length
        near = bisect_left(form.pulses, pulse)
        for place in (near - 1, near, near + 1):
            goal = place % self._count
            off = (form.pulses[goal] - pulse + form.length / 2.0) % form.length - form.length / 2.0
            total = score + values[goal] - min(TOO_SOON, 0.5 * (off / (3.0 * OFF)) ** 2)
            known = cells.get(goal)
            if values[goal] > 0.0 and abs(off) < 1.0 and (known is None or total > known[0]):
                cells[goal] = (total, earlier, at, False)

    def best(self) -> Alignment:
        last = len(self._strokes) - 1
        score, number, goal = max(
            (
                (cell[0] - self._end[goal] - PUT_IN_OUTSIDE * (last - number), -number, goal)
                for number, cells in enumerate(self._cells)
                for goal, cell in cells.items()
            ),
            default=(0.0, 1, -1),
        )
        number = -number
        path: list[tuple[int, int, bool]] = []
        while number >= 0:
            _, earlier, at, jumped = self._cells[number][goal]
            path.append((number, goal, jumped))
            number, goal = earlier, at
        path.reverse()
        steps, turn = [], 0
        for place, (number, goal, jumped) in enumerate(path):
            before = path[place - 1][1] if place else -1
            # On from the form's last strike is the next time round, if only to a later bar; but nearer to its end it is begun again.
            again = jumped and 2.0 * self._pulses[goal] > self._form.length
            if place and ((before == self._count - 1 and not again) or (not jumped and goal <= before)):
                turn += 1
            steps.append(AlignStep(number, goal, turn, jumped))
        return Alignment(tuple(steps), score)
