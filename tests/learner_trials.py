"""Ways of practising, tried on the simulated students of learners.py: ours and plain ones. For the bench and its
smaller version in the suite."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import mean

from learners import RECALL_SLOW, Hands, Student

from companion.practice.drills import climbing, fading

PASS_SHARE = fading.DEFAULT_PASS_SHARE
KNOWN = 0.9  # expected share of bars right without cues: cue-free playing
MOST_PASSES = 150
DAY_MIN, WEEK_MIN = 24 * 60.0, 7 * 24 * 60.0


def form(count: int) -> list[fading.FadeBar]:
    """AABA in sections of eight."""
    return [fading.FadeBar(index, "AABA"[index // 8 % 4], index % 8 + 1) for index in range(count)]


class OurFading:
    """The product's rule."""

    def __init__(self, bars: list[fading.FadeBar], seed: int, way: str = "bars") -> None:
        self.state = fading.start(bars, way, seed, PASS_SHARE)

    @property
    def cues(self) -> tuple[int, ...]:
        return self.state.levels

    @property
    def is_over(self) -> bool:
        return self.state.finished

    def after(self, slipped: frozenset[int]) -> None:
        self.state = fading.after_pass(self.state, slipped, 1 - len(slipped) / len(self.state.bars))


class RandomHiding:
    """After each passed pass a share of the bars, drawn by lot, loses everything at once. Over by the product's rule:
    two passed passes without cues in a row.

    give_back: what a slip returns: "nothing", "all" the bar's cues, or its last "cue".
    """

    def __init__(self, bars: list[fading.FadeBar], seed: int, share: float = 0.25, give_back: str = "all") -> None:
        self.cues = [5] * len(bars)
        self.chance = random.Random(seed)
        self.share, self.give_back, self.without = share, give_back, 0
        self.bare = [False] * len(bars)

    @property
    def is_over(self) -> bool:
        return self.without >= fading.CUE_FREE_PASSES

    def after(self, slipped: frozenset[int]) -> None:
        count = len(self.cues)
        passed = 1 - len(slipped) / count >= PASS_SHARE
        self.bare = [was or cue == 0 for was, cue in zip(self.bare, self.cues, strict=True)]
        self.without = self.without + 1 if passed and all(self.bare) and max(self.cues) <= 1 else 0
        if self.give_back != "nothing":
            for bar in slipped:
                self.cues[bar] = 5 if self.give_back == "all" else min(5, self.cues[bar] + 1)
        if passed:
            shown = [bar for bar in range(count) if self.cues[bar] and bar not in slipped]
            for bar in self.chance.sample(shown, min(len(shown), round(self.share * count))):
                self.cues[bar] = 0


class AlwaysShown:
    """The whole chart with full cues, again and again."""

    is_over = False

    def __init__(self, bars: list[fading.FadeBar], seed: int) -> None:
        self.cues = [5] * len(bars)

    def after(self, slipped: frozenset[int]) -> None:
        pass


@dataclass(frozen=True, slots=True)
class Learned:
    """known: passes until the expected share right without cues reached KNOWN. over: passes until the way's own end.
    Both MOST_PASSES where never. recall, day, week: that share after `passes` passes, then after a day and after a
    week."""

    known: float
    over: float
    recall: float
    day: float
    week: float


def learn(way, count: int, seed: int, passes: int, recall_slow: float = RECALL_SLOW) -> Learned:
    """One student, one way. passes: when recall is measured, whatever else happens."""
    bars = form(count)
    student = Student([bar.opens_section for bar in bars], seed, recall_slow)
    drill = way(bars, seed)
    known = over = MOST_PASSES
    measured = None
    for number in range(1, MOST_PASSES + 1):
        drill.after(student.play(drill.cues))
        if student.recall() >= KNOWN:
            known = min(known, number)
        if drill.is_over:
            over = min(over, number)
        if number == passes:
            measured = (student.recall(), student.recall_after(DAY_MIN), student.recall_after(WEEK_MIN))
        if measured and known < MOST_PASSES and (drill.is_over or isinstance(drill, AlwaysShown)):
            break
    return Learned(known, over, *measured)


def learn_many(way, count: int, seeds: range, passes: int, recall_slow: float = RECALL_SLOW) -> Learned:
    """The mean over many students."""
    one = [learn(way, count, seed, passes, recall_slow) for seed in seeds]
    return Learned(*(mean(getattr(result, name) for result in one) for name in Learned.__slots__))


FADING_WAYS = {
    "ours, by bars": OurFading,
    "ours, by kind of cue": lambda bars, seed: OurFading(bars, seed, "cues"),
    "ours, by sections": lambda bars, seed: OurFading(bars, seed, "sections"),
    **{
        f"random, {share:.0%} a pass, a slip returns {back}": (
            lambda bars, seed, share=share, back=back: RandomHiding(bars, seed, share, back)
        )
        for back in ("nothing", "all", "cue")
        for share in (0.125, 0.25, 0.5)
    },
    "always the whole chart": AlwaysShown,
}


# --- tempo


@dataclass(frozen=True, slots=True)
class Climbed:
    """Passes until the climb was over, or the target clean so many times in a row, and how many of them were bad. arrived: 1 or 0,
    within MOST_CLIMB. chance: of a clean pass at the target that the student really had in the end."""

    bad: float
    passes: float
    arrived: float
    chance: float


MOST_CLIMB = 600
LOOP_BARS = 16


def our_climb(
    mastered_bpm: float, target_bpm: float, seed: int, rule: str = "gentle", able: float = 1.0, **setting
) -> Climbed:
    """The product's climb, until the target was clean climbing.HOLD_PASSES times in a row, as the plain ways are counted, or the
    student's chance of a clean pass there has become `able`."""
    hands, state = Hands(mastered_bpm, seed), climbing.start(0.7 * mastered_bpm, target_bpm, rule, **setting)
    return climb_with(hands, state, held=climbing.HOLD_PASSES if able == 1.0 else 0, able=able)


def climb_with(
    hands: Hands,
    state: climbing.ClimbState,
    most: int = MOST_CLIMB,
    passes_a_day: int = 0,
    held: int = 0,
    able: float = 1.0,
) -> Climbed:
    """A climb of the product's; its probes count as passes, and as bad ones. passes_a_day: 0 for all in one. held: clean passes in a row
    at the target that end it, 0 for its own end. able: see our_climb."""
    bad = passes = 0

    def is_over() -> bool:
        return state.finished or 0 < held <= state.held or hands.odds(state.target_bpm) >= able

    while not is_over() and passes < most:
        plan = climbing.next_pass(state)
        clean = hands.play(plan.tempo_bpm, plan.bars / LOOP_BARS if plan.bars else 1.0)
        day = f"day {passes // passes_a_day}" if passes_a_day else ""
        bad, passes = bad + (not clean), passes + 1
        state = climbing.after_pass(state, clean, day)
    return Climbed(bad, passes, is_over(), hands.odds(state.target_bpm))


def fixed_steps(
    mastered_bpm: float, target_bpm: float, seed: int, step_bpm: float, goes_down: bool, able: float = 1.0
) -> Climbed:
    """The same number of beats a minute up after a clean pass; after a bad one down again, or the same tempo once
    more. able: see our_climb."""
    hands, tempo_bpm = Hands(mastered_bpm, seed), 0.7 * mastered_bpm
    bad = passes = held = 0
    enough = climbing.HOLD_PASSES if able == 1.0 else MOST_CLIMB
    while held < enough and hands.odds(target_bpm) < able and passes < MOST_CLIMB:
        clean = hands.play(tempo_bpm)
        bad, passes = bad + (not clean), passes + 1
        held = held + 1 if clean and tempo_bpm >= target_bpm else 0
        if clean:
            tempo_bpm = min(target_bpm, tempo_bpm + step_bpm)
        elif goes_down:
            tempo_bpm = max(0.35 * mastered_bpm, tempo_bpm - step_bpm)
    return Climbed(bad, passes, passes < MOST_CLIMB, hands.odds(target_bpm))


def climb_many(way, mastered_bpm: float, target_bpm: float, seeds: range) -> Climbed:
    """The mean over many students."""
    one = [way(mastered_bpm, target_bpm, seed) for seed in seeds]
    return Climbed(*(mean(getattr(result, name) for result in one) for name in Climbed.__slots__))


CLIMBING_WAYS = {
    "ours, gentle": our_climb,
    "ours, gentle, no probes": lambda m, t, seed: our_climb(m, t, seed, probes=False),
    "ours, strict, aim 85 %": lambda m, t, seed: our_climb(m, t, seed, "strict"),
    "ours, runs of 3": lambda m, t, seed: our_climb(m, t, seed, "runs"),
    "ours, gliding": lambda m, t, seed: our_climb(m, t, seed, "gliding"),
    **{
        f"fixed, {step} bpm, {'down' if down else 'same tempo'} after a bad pass": (
            lambda m, t, seed, step=step, down=down: fixed_steps(m, t, seed, step, down)
        )
        for down in (True, False)
        for step in (2, 4, 8)
    },
}


# --- the gentle climb beside the strict one


@dataclass(frozen=True, slots=True)
class HandModel:
    """A student on the climb to TARGET_BPM, from START_SHARE of it. chance: of a clean pass at the target that does not go wrong by
    chance (None: mastered at ABLE_BPM, far above it). For the others see learners.Hands."""

    chance: float | None
    slips: float
    spread: float
    learning: float = 0.0

    def hands(self, seed: int) -> Hands:
        """One such student."""
        above = 0.0 if self.chance is None else self.spread * math.log(self.chance / (1 - self.chance))
        mastered_bpm = ABLE_BPM if self.chance is None else TARGET_BPM * math.exp(above)
        return Hands(mastered_bpm, seed, slips=self.slips, spread=self.spread, learning=self.learning)


TARGET_BPM, START_SHARE, ABLE_BPM = 120.0, 0.6, 200.0
TRIED_SEEDS = range(1500)  # looked at while the rule was chosen
KEPT_SEEDS = range(20_000, 20_400)  # never looked at before the rule stood
ABLE = tuple(HandModel(None, slips, spread) for slips in (0.02, 0.05, 0.1, 0.15) for spread in (0.05, 0.08, 0.15))
WEAK = tuple(
    HandModel(chance, slips, spread)
    for chance in (0.2, 0.35, 0.5)
    for slips in (0.0, 0.02, 0.1)
    for spread in (0.05, 0.08, 0.15)
)
LEARNING = tuple(
    HandModel(chance, slips, spread, learning)
    for chance in (0.05, 0.35)
    for slips in (0.02, 0.1)
    for spread in (0.05, 0.08, 0.15)
    for learning in (0.3, 1.0)
)


def climb_model(
    model: HandModel, rule: str, seeds: range, most: int = MOST_CLIMB, passes_a_day: int = 0
) -> list[Climbed]:
    """A climb of each of many such students."""
    start_bpm = START_SHARE * TARGET_BPM
    return [
        climb_with(model.hands(seed), climbing.start(start_bpm, TARGET_BPM, rule), most, passes_a_day) for seed in seeds
    ]


def passed_within(climbs: Sequence[Climbed], passes: int) -> float:
    """The share of students whose climb was over by then."""
    return mean(each.arrived and each.passes <= passes for each in climbs)


SETTLING_PASSES, SETTLED_PASSES = 100, 500


def settled_share(rule: str, spread: float, slips: float, seeds: range, **setting) -> float:
    """The share of clean passes once a climb towards a target far out of reach has settled, for students who learn nothing."""
    clean = []
    for seed in seeds:
        hands = Hands(TARGET_BPM, seed, slips=slips, spread=spread, learning=0.0)
        state = climbing.start(START_SHARE * TARGET_BPM, 100 * TARGET_BPM, rule, probes=False, **setting)
        for number in range(SETTLING_PASSES + SETTLED_PASSES):
            went = hands.play(climbing.next_pass(state).tempo_bpm)
            state = climbing.after_pass(state, went)
            if number >= SETTLING_PASSES:
                clean.append(went)
    return mean(clean)
