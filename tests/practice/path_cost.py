"""What a way through the form costs, from the prices that align.py publishes and nothing else of it: each transition by itself, by the
cheapest of what it can be. With it the alignment is held against every other way, and against what a made-up take truly was."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise

from practice.takes import Made

from companion.practice.marking import align as prices
from companion.practice.marking.beat import local_beats
from companion.practice.marking.form import Form, NoteScores
from companion.practice.marking.strokes import Stroke
from companion.session.take_marks import MarkedTake

Step = tuple[int, int]  # stroke of the take, strike of the form


class PathCost:
    """beats_s: the length of a pulse at each stroke; None: notes alone."""

    def __init__(
        self, form: Form, scores: NoteScores, strokes: Sequence[Stroke], beats_s: Sequence[float] | None
    ) -> None:
        self.form, self.strokes, self.beats_s = form, strokes, beats_s
        self.values = [scores.of(stroke.notes)[0] for stroke in strokes]
        self.likely = [set(scores.of(stroke.notes)[1]) for stroke in strokes]
        self.count = len(form.strikes)
        gaps = [b - a for a, b in pairwise([*form.pulses, form.pulses[0] + form.length])]
        self.hasty = 0.8 * min(gaps)

    def score(self, steps: Sequence[Step]) -> float:
        """Of the whole way."""
        (first, begun), (last, ended) = steps[0], steps[-1]
        total = self._value(first, begun) - self._edge(begun) - prices.PUT_IN_OUTSIDE * first
        total -= self._edge((ended + 1) % self.count) + prices.PUT_IN_OUTSIDE * (len(self.strokes) - 1 - last)
        return total + sum(self._value(*after) - self._cost(before, after) for before, after in pairwise(steps))

    def _value(self, stroke: int, strike: int) -> float:
        return self.values[stroke][strike]

    def _edge(self, strike: int) -> float:
        return 0.0 if strike == 0 else prices.START.get(self.form.opens[strike], prices.START_ANYWHERE)

    def _cost(self, before: Step, after: Step) -> float:
        between = after[0] - before[0] - 1
        gap = (self.strokes[after[0]].time_s - self.strokes[before[0]].time_s) / self._beat(after[0])
        costs = [self._jump(before, after, between)]
        if between < prices.PUT_IN_AT_ONCE:
            costs.append(between * prices.PUT_IN + self._on(before[1], after[1], gap))
        if gap > 3.0 and not between:
            costs.append(prices.REST + self._rested(before[1], after, gap))
        return min(costs)

    def _beat(self, stroke: int) -> float:
        return self.beats_s[stroke] if self.beats_s else float("inf")

    def _on(self, strike: int, goal: int, gap: float) -> float:
        form, count = self.form, self.count
        steps = (goal - strike - 1) % count + 1
        passed = [form.strikes[(strike + step) % count].number for step in range(1, steps)]
        cost = sum(prices.LEFT_OUT_LATER if number else prices.LEFT_OUT_FIRST for number in passed)
        if gap == 0.0:
            return cost
        due = form.pulses[goal] - form.pulses[strike] + (form.length if goal <= strike else 0.0)
        off = gap - due
        first = form.strikes[goal].number == 0
        if off > 0.0:
            most = prices.WAIT_FIRST if first else prices.WAIT_LATER
        else:
            most = prices.PUSH_FIRST if first else prices.TOO_SOON
        return cost + min(most, 0.5 * (off / (prices.OFF + prices.OFF_PER_PULSE * due)) ** 2)

    def _rested(self, strike: int, after: Step, gap: float) -> float:
        form = self.form
        off = (form.pulses[strike] + gap - form.pulses[after[1]]) % form.length
        off = min(off, form.length - off)
        if off >= 1.0 or self._value(*after) <= 0.0:
            return float("inf")
        return min(prices.TOO_SOON, 0.5 * (off / (3.0 * prices.OFF)) ** 2)

    def _jump(self, before: Step, after: Step, between: int) -> float:
        form, goal = self.form, after[1]
        if goal not in self.likely[after[0]]:
            return float("inf")
        opens = form.opens[goal]
        costs = []
        if form.strikes[goal].number == 0:
            costs.append(prices.JUMP.get(opens, prices.JUMP_CHORD) + between * prices.PUT_IN_OUTSIDE)
        bars = form.strikes[goal].group.position - form.strikes[before[1]].group.position
        round_again = bars + len(form.bar_pulses) - 1 if before[1] == self.count - 1 else 0
        is_near = -prices.NEAR_BARS <= bars <= prices.NEAR_BARS + 1 and goal != before[1] + 1
        if opens and not between and (is_near or 0 < round_again <= prices.NEAR_BARS):
            costs.append(prices.NEAR_JUMP[opens])
        if not costs:
            return float("inf")
        hasty = 0.0
        if self.beats_s:
            step_s = self.strokes[after[0]].time_s - self.strokes[after[0] - 1].time_s
            hasty = prices.HASTY_JUMP if step_s < self.hasty * self._beat(after[0]) else 0.0
        return min(costs) + hasty


def true_steps(made: Made, marked: MarkedTake) -> list[tuple[int, int, int]]:
    """Stroke, strike and time round of what was truly played. Strokes of no known press are none."""
    steps = []
    for number, stroke in enumerate(marked.take.strokes):
        meant = Counter(made.meant[press.time_s] for press in stroke.presses if press.time_s in made.meant)
        if meant:
            (turn, strike), _ = meant.most_common(1)[0]
            steps.append((number, strike, turn))
    return steps


def scores_of(made: Made, marked: MarkedTake) -> tuple[float, float]:
    """Of the alignment found, and of what was truly played, each by the beat that it gives."""
    take = marked.take
    found = [(step.stroke, step.strike, step.turn) for step in take.alignment.steps]
    return _score(marked, found), _score(marked, true_steps(made, marked))


def _score(marked: MarkedTake, steps: Sequence[tuple[int, int, int]]) -> float:
    form, strokes = marked.take.form, marked.take.strokes
    points = [(form.pulses[strike] + turn * form.length, strokes[stroke].time_s) for stroke, strike, turn in steps]
    cuts = [number for number in range(1, len(points)) if points[number][0] <= points[number - 1][0]]
    known = local_beats(points, cuts)
    beats, place = [], 0
    for number in range(len(strokes)):
        while place + 1 < len(known) and steps[place + 1][0] <= number:
            place += 1
        beats.append(known[place])
    return PathCost(form, NoteScores(form), strokes, beats).score([step[:2] for step in steps])
