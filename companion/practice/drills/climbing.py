"""The climb: the tempo climbs to the target as fast as the hand earns it.

Every step is a ratio of the tempo, so it is counted in log tempo. Four ways:

    gentle   each clean pass one step up, each bad pass down by FALL (5 %), and the step halves; after every GENTLE_RUN clean
             passes in a row it doubles, and on a new day it is NEW_DAY_STEP again if it had become smaller. Settles where 80 %
             of the passes are clean (see settling.py). The default; a rule of our own out of the two that follow.
    strict   each clean pass one step up, each bad pass down by p/(1-p) steps; settles where the share p of the passes is clean:
             the weighted up-down method (Kaernbach 1991, Perception & Psychophysics 49:227-229)
    runs     n clean passes in a row one step up, one bad pass one step down; settles where p^n = 1/2: 50 %, 70.7 %, 79.4 %,
             84.1 % for n = 1 to 4: the transformed up-down method (Levitt 1971, Journal of the Acoustical Society of America
             49:467-477)
    gliding  a small step up every chorus; a bad pass keeps the tempo once, and from the second in a row goes back a step

Why gentle: at 85 % the strict rule takes back after one slip what nearly six clean passes earned, and its steps never grow again, so
a student who could play the target long since and slips by chance in one pass of ten needs some hundred passes.
Steps that halve on the way back and double in a run are those of PEST (Taylor and Creelman 1967, Journal of the Acoustical
Society of America 41:782-787). As such steps arrive by luck more often, the target is to be clean GENTLE_HOLD times in a row there,
so that a student who cannot play it yet is not let through earlier; and the count alone begins again, at the same tempo, where one
pass slips after GENTLE_SURE clean ones in a row there, for that is what an able student does by chance and a weak one seldom comes to:
to fall would only cost the way back. The figures were chosen on simulated students (tests/bench/learners.py).

Why a high share: in Duke, Simmons and Cash 2009 (n = 17) the rank of the playing on the next day went with the share
of correct trials and against the count of incorrect ones, not with time or number of trials.

A turn from up to down or from down to up is a reversal, and so is a bad pass at the very start. By the published rules the step
halves at each, down to a floor, before it is taken, and never grows again, since that shifts the place where they settle.
Up-steps go from 6 to 1 % and less: a listener notices a change of tempo of some 3 % in four intervals (Drake and Botte 1993),
so the small ones pass unnoticed and the large ones are heard. The mean of log tempo over the last reversals is the
student's working tempo for the loop.

Now and then two bars are tried at the target, since slow movement may differ from fast (Allingham and Wollner 2022);
a probe moves nothing. At the target the tempo holds until `hold_passes` passes in a row were clean, with a stretch
above it in between where that is wanted; then the climb is over.

Tempo in pulses a minute. Pure: the same start, passes and days give the same tempos.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from companion.chart.lesson import CLIMB_RULES, FORMER_RULES
from companion.practice.drills.saved import from_text, to_text

PHASES = ("climb", "probe", "hold", "stretch", "done")
DEFAULT_AIM = 0.85  # share of clean passes
FIRST_STEP, SMALLEST_STEP = math.log(1.06), math.log(1.01)
GLIDE_STEP = math.log(1.01)
GENTLE_RUN, GENTLE_SURE, GENTLE_HOLD = (
    4,
    2,
    7,
)  # clean passes in a row: a longer step; a slip keeps the target; it holds
GENTLE_SHARE = 0.8  # of clean passes where it settles: exact to two places, which a test works out
FALL, GENTLE_SMALLEST, NEW_DAY_STEP = math.log(1.05), math.log(1.0025), math.log(1.01)
STRETCH_RATIO, STRETCH_PASSES = 1.06, 2
HOLD_PASSES = 3  # clean in a row at the target, and a climb by the other rules is over
PROBE_EVERY, PROBE_BARS = 12, 2
PROBE_NEAR = math.log(1.05)  # closer to the target than this a probe tells nothing new
LATEST_REVERSALS, FEWEST_REVERSALS = 6, 4  # for the settled tempo; even, so that peaks and troughs weigh the same
KEPT_PASSES = 200  # of the history, for the picture
SLOWEST_SHARE = 0.25  # of the start tempo; no climb falls below it


@dataclass(frozen=True, slots=True)
class ClimbResult:
    """A finished pass of the climb. phase: one of PHASES."""

    tempo_bpm: float
    clean: bool
    phase: str = "climb"


@dataclass(frozen=True, slots=True)
class ClimbPass:
    """What to play next. bars: None for the whole loop; for a probe how many, of the caller's choice."""

    tempo_bpm: float
    phase: str
    bars: int | None = None

    @property
    def probe(self) -> bool:
        """Whether it is a try at the target that moves nothing."""
        return self.phase == "probe"


@dataclass(frozen=True, slots=True)
class ClimbState:
    """A climb between two passes.

    aim: share of clean passes that the strict rule settles at. run: clean passes that the rule of runs wants
    before a step up. step: the present step up, in log tempo. clean_run: clean passes in a row that count towards it.
    heading: 1 up, -1 down. reversals: the latest log tempos where the heading turned. since_probe:
    passes since the last one. stretches: clean passes above the target, None where no stretch is wanted. held: clean
    passes in a row at the target. history: the latest passes. day: of the latest pass, such as "2026-11-25", "" where that is not known.
    """

    start_bpm: float
    target_bpm: float
    rule: str
    aim: float
    run: int
    probes: bool
    log_tempo: float
    step: float
    clean_run: int = 0
    heading: int = 1
    reversals: tuple[float, ...] = ()
    since_probe: int = 0
    stretches: int | None = None
    held: int = 0
    finished: bool = False
    history: tuple[ClimbResult, ...] = ()
    day: str = ""

    @property
    def tempo_bpm(self) -> float:
        """Where the climb stands, whatever the next pass is."""
        return round(math.exp(self.log_tempo), 9)  # so that 60 comes back as 60

    @property
    def step_down(self) -> float:
        """In log tempo: always the same, or Kaernbach's p/(1-p) steps up, or Levitt's equal step."""
        if self.rule == "gentle":
            return FALL
        return self.step * self.aim / (1 - self.aim) if self.rule == "strict" else self.step

    @property
    def hold_passes(self) -> int:
        """Clean passes in a row at the target that end the climb."""
        return GENTLE_HOLD if self.rule == "gentle" else HOLD_PASSES

    @property
    def settles_at(self) -> float | None:
        """The share of clean passes that the rule keeps the student at, for steps that are small beside how slowly the student's chance
        falls with the tempo; None for gliding, which has none."""
        return {"gentle": GENTLE_SHARE, "strict": self.aim, "runs": 0.5 ** (1 / self.run)}.get(self.rule)

    @property
    def at_target(self) -> bool:
        """Whether the tempo has arrived."""
        return self.log_tempo >= math.log(self.target_bpm)

    @property
    def settled_bpm(self) -> float | None:
        """Geometric mean of the tempo over the latest reversals; None before there are enough of them."""
        if self.rule == "gliding" or len(self.reversals) < FEWEST_REVERSALS:
            return None
        latest = self.reversals[len(self.reversals) % 2 :]
        return min(self.target_bpm, math.exp(sum(latest) / len(latest)))

    @property
    def working_bpm(self) -> float:
        """The tempo to begin with next time: the target once it is held, else where the climb settled, else where it
        stands."""
        if self.finished:
            return self.target_bpm
        return self.settled_bpm or min(self.tempo_bpm, self.target_bpm)


def start(
    start_bpm: float,
    target_bpm: float,
    rule: str = "gentle",
    *,
    aim: float = DEFAULT_AIM,
    run: int = 3,
    probes: bool = True,
    stretch: bool = False,
) -> ClimbState:
    """A new climb. A start above the target begins at the target.

    Raises ValueError for an unknown rule or a value out of range.
    """
    if rule not in CLIMB_RULES:
        raise ValueError(f"{rule!r} is not a way to climb: expected one of {', '.join(CLIMB_RULES)}.")
    if not (0 < start_bpm < math.inf and 0 < target_bpm < math.inf):
        raise ValueError("Start and target tempo must be above 0.")
    if not 0.5 <= aim < 1:
        raise ValueError(f"The share of clean passes to aim at goes from 0.5 to below 1, not {aim}.")
    if run < 1:
        raise ValueError(f"At least 1 clean pass is needed for a step up, not {run}.")
    start_bpm = min(start_bpm, target_bpm)
    return ClimbState(
        start_bpm=start_bpm,
        target_bpm=target_bpm,
        rule=rule,
        aim=aim,
        run=run,
        probes=probes and rule != "gliding",
        log_tempo=math.log(start_bpm),
        step=GLIDE_STEP if rule == "gliding" else FIRST_STEP,
        stretches=0 if stretch else None,
    )


def by_rule(state: ClimbState, rule: str) -> ClimbState:
    """The climb going on by another rule from where it stands."""
    if state.rule == rule:
        return state
    step = GLIDE_STEP if rule == "gliding" else max(SMALLEST_STEP, state.step)
    return replace(state, rule=rule, probes=rule != "gliding", step=step, clean_run=0, held=0)


def next_pass(state: ClimbState) -> ClimbPass:
    """What the next pass is: whole at a tempo, or a probe."""
    if state.finished:
        return ClimbPass(state.target_bpm, "done")
    if state.at_target:
        # Above the target once it has been clean, then back to it for the rest of the hold.
        if state.held >= 1 and state.stretches is not None and state.stretches < STRETCH_PASSES:
            return ClimbPass(state.target_bpm * STRETCH_RATIO, "stretch")
        return ClimbPass(state.target_bpm, "hold")
    far = math.log(state.target_bpm) - state.log_tempo > PROBE_NEAR
    if state.probes and far and state.since_probe >= PROBE_EVERY:
        return ClimbPass(state.target_bpm, "probe", PROBE_BARS)
    return ClimbPass(state.tempo_bpm, "climb")


def after_pass(state: ClimbState, clean: bool, day: str = "") -> ClimbState:
    """The climb after the pass that `next_pass` planned. day: on which it was played, such as "2026-11-25"; "" where no matter."""
    if state.finished:
        return state
    if day not in ("", state.day):
        grown = max(NEW_DAY_STEP, state.step) if state.rule == "gentle" else state.step
        state = replace(state, day=day, step=grown)
    plan = next_pass(state)
    history = (*state.history, ClimbResult(plan.tempo_bpm, clean, plan.phase))[-KEPT_PASSES:]
    state = replace(state, history=history, since_probe=0 if plan.probe else state.since_probe + 1)
    if plan.phase == "probe":
        return state
    if plan.phase == "stretch":
        # One try that fails is enough: the stretch is there to make the target feel slow, not to be mastered.
        return replace(state, stretches=(state.stretches or 0) + 1 if clean else STRETCH_PASSES)
    if plan.phase == "hold" and clean:
        return _held(state)
    if plan.phase == "hold" and state.rule == "gentle" and state.held >= GENTLE_SURE:
        return replace(state, held=0, clean_run=0)
    moves = {"gentle": _climb_gently, "gliding": _glide}
    return moves.get(state.rule, _climb)(state, clean)


def _held(state: ClimbState) -> ClimbState:
    held = state.held + 1
    return replace(state, held=held, finished=held >= state.hold_passes)


def _climb_gently(state: ClimbState, clean: bool) -> ClimbState:
    """The step halves with every bad pass and doubles with every GENTLE_RUN clean ones in a row."""
    if not clean:
        return _move(replace(state, clean_run=0, held=0, step=max(GENTLE_SMALLEST, state.step / 2)), -1)
    clean_run = state.clean_run + 1
    step = state.step if clean_run % GENTLE_RUN else min(FIRST_STEP, 2 * state.step)
    return _move(replace(state, clean_run=clean_run, step=step), 1)


def _climb(state: ClimbState, clean: bool) -> ClimbState:
    """The published staircases. The ratio of the steps is exact; only the target above and a floor below cut one short."""
    if not clean:
        return _move(replace(state, clean_run=0, held=0), -1)
    if state.rule == "runs" and state.clean_run + 1 < state.run:
        return replace(state, clean_run=state.clean_run + 1)
    return _move(replace(state, clean_run=0), 1)


def _move(state: ClimbState, heading: int) -> ClimbState:
    if state.heading == -heading:
        reversals = (*state.reversals, state.log_tempo)[-LATEST_REVERSALS:]
        step = state.step if state.rule == "gentle" else max(SMALLEST_STEP, state.step / 2)
        state = replace(state, step=step, reversals=reversals)
    by = state.step if heading > 0 else -state.step_down
    lowest = math.log(state.start_bpm * SLOWEST_SHARE)
    log_tempo = max(lowest, min(math.log(state.target_bpm), state.log_tempo + by))
    return replace(state, heading=heading, log_tempo=log_tempo)


def _glide(state: ClimbState, clean: bool) -> ClimbState:
    bad_before = state.heading < 0
    by = state.step if clean else -state.step if bad_before else 0.0
    log_tempo = max(math.log(state.start_bpm), min(math.log(state.target_bpm), state.log_tempo + by))
    return replace(state, log_tempo=log_tempo, heading=1 if clean else -1, held=0)


@dataclass(frozen=True, slots=True)
class ClimbPicture:
    """The climb as a picture needs it. here: 0 at the start tempo, 1 at the target, in log tempo (below 0 where it
    fell beneath the start)."""

    played: tuple[ClimbResult, ...]
    start_bpm: float
    target_bpm: float
    next_bpm: float
    working_bpm: float
    here: float
    words: str


def picture(state: ClimbState) -> ClimbPicture:
    """Where the student is on the climb, with words for the screen."""
    plan = next_pass(state)
    way = math.log(state.target_bpm) - math.log(state.start_bpm)
    here = 1.0 if way <= 0 and state.at_target else (state.log_tempo - math.log(state.start_bpm)) / (way or 1.0)
    words = {
        "climb": f"{plan.tempo_bpm:.0f} on the way to {state.target_bpm:.0f}",
        "probe": f"{PROBE_BARS} bars at the target, {state.target_bpm:.0f}",
        "hold": f"at the target, {state.target_bpm:.0f}: clean {state.held} of {state.hold_passes} times",
        "stretch": f"a stretch above the target, {plan.tempo_bpm:.0f}",
        "done": f"the target holds: {state.target_bpm:.0f}",
    }[plan.phase]
    return ClimbPicture(
        state.history, state.start_bpm, state.target_bpm, plan.tempo_bpm, state.working_bpm, here, words
    )


def to_json(state: ClimbState) -> str:
    """The climb as text."""
    return to_text(state, *_ROWS)


def from_json(text: str) -> ClimbState:
    """The climb as it was saved. Raises LogError where the text is damaged."""
    state = from_text(text, ClimbState, "climb", _fits, _ROWS)
    return replace(state, rule=FORMER_RULES.get(state.rule, state.rule))


_ROWS = {"history": ("tempo_bpm", "clean", "phase")}


def _fits(state: ClimbState) -> bool:
    """Whether a climb can stand there."""
    return (
        0 < state.start_bpm <= state.target_bpm < math.inf
        and state.rule in (*CLIMB_RULES, *FORMER_RULES)
        and 0.5 <= state.aim < 1
        and state.run >= 1
        and abs(state.log_tempo) <= math.log(1e6)
        and GENTLE_SMALLEST <= state.step <= math.log(2)
        and state.heading in (-1, 1)
        and len(state.reversals) <= LATEST_REVERSALS
        and all(map(math.isfinite, state.reversals))
        and min(state.clean_run, state.since_probe) >= 0
        and (state.stretches is None or 0 <= state.stretches <= STRETCH_PASSES)
        and 0 <= state.held <= state.hold_passes
        and all(0 < played.tempo_bpm < math.inf and played.phase in PHASES for played in state.history)
    )
