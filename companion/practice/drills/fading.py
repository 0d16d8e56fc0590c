"""Fading: a drill in which the chart is taken away cue by cue, and exactly what was lost is given back.

Each bar stands on a ladder of cues, strongest first:

    5  keyboard with the notes marked        2  root letter
    4  note names and shell                  1  empty bar
    3  chord symbol                          0  section and bar number, nothing else

A pass is passed when its share of right chords reaches `pass_share`. After a passed pass the next round begins and
every bar that is on its way down and did not slip loses its next cue, while further bars set out; how many depends on
the way:

    bars      the best known bars set out first, a share of the loop each round; the share doubles after a pass
              without a slip and halves after a failed one, so that the drill is as fast as the student
    cues      all bars set out together: one kind of cue goes after the other
    sections  one section after the other, the best known first; the next sets out when this one is down to root letters
    silent    no ladder: one pass with a dark screen, and what was played is shown at its end

A drill may rest at the chord symbols (`goal`): what a player with a lead sheet needs. Then no bar goes below level 3, a
silent pass shows the symbols and nothing else, and "without cues" reads "with the symbols alone" all through this page.

A slip gives that bar back its last cue for the next pass, and only that bar; a failed pass repeats the round. A look
at a bar (peek) is a slip of that bar. The drill ends when the loop was played twice in a row without cues, both times
passed and without a look: every bar at level 0, or back at its empty frame after a slip, which says nothing of the
music. (Were one slip in 32 bars enough to begin the two again, the simulated students of tests/bench would need a
third more passes, and hiding bars by lot would end sooner.) What comes back above a symbol are the notes themselves, so
from symbols the two last passes show no bar more than that.

Sources. Taking cues away one by one and restoring them where recall fails: method of vanishing cues, Glisky, Schacter
and Tulving 1986 (Neuropsychologia 24:313-328), with amnesic learners; a later meta-analysis (Kessels and de Haan
2003) found its effect in patients small and not significant, so nothing is claimed of it beyond the rule. That
retrieving keeps better over days than reading again: Roediger and Karpicke 2006 (Psychological Science 17:249-255).
That musical memory hangs on the beginnings of sections: Chaffin and Imreh 1997; so a section's first bar loses no
word of the music that another bar of the section still has.

Pure: the same start, seed and passes give the same rounds.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from itertools import pairwise

from companion.practice.drills.saved import from_text, to_text

WAYS = ("bars", "cues", "sections", "silent")
DEFAULT_PASS_SHARE = 0.85  # the same share as the climb aims at
CUE_FREE_PASSES = 2  # in a row, and the drill ends
FIRST_PACE, SLOWEST_PACE = 0.25, 0.125  # share of the loop's bars that set out in a round


class Cue(IntEnum):
    """What the screen gives away about a bar, from nothing to all."""

    PLACE = 0
    BAR = 1
    ROOT = 2
    SYMBOL = 3
    NAMES = 4
    KEYS = 5

    @property
    def words(self) -> str:
        """What is shown, for the screen."""
        return _WORDS[self]


_WORDS = {
    Cue.PLACE: "section and bar number",
    Cue.BAR: "empty bar",
    Cue.ROOT: "root letter",
    Cue.SYMBOL: "chord symbol",
    Cue.NAMES: "note names and shell",
    Cue.KEYS: "keyboard with the notes marked",
}
FULL = Cue.KEYS
# The last cue a drill leaves standing -> in words.
GOALS = {Cue.PLACE: "from memory", Cue.SYMBOL: "from symbols"}


def cue_text(cue: Cue, *, symbol: str, root: str, notes: str, shell: str) -> tuple[str, ...]:
    """The texts about one chord that a cue lets the screen write; the keyboard itself is drawn where `cue` is KEYS.

    Everything the screen writes about a chord during a drill comes from here, so that a hidden chord cannot leak.
    """
    if cue >= Cue.NAMES:
        return (symbol, notes, shell)
    return {Cue.SYMBOL: (symbol,), Cue.ROOT: (root,)}.get(cue, ())


@dataclass(frozen=True, slots=True)
class FadeBar:
    """A bar of the loop. index: in the chorus. bar_in_section: from 1. strength: by the log, 0 (new) to 1 (known)."""

    index: int
    section: str
    bar_in_section: int
    strength: float = 0.0

    @property
    def opens_section(self) -> bool:
        """Whether it is the first bar of its section."""
        return self.bar_in_section == 1


@dataclass(frozen=True, slots=True)
class FadeState:
    """A drill between two passes. Tuples run along the loop.

    levels: the cue of each bar. slips: how often each slipped. hidden: bars that lost a cue before this pass. bare:
    bars that were played at the goal. peeked: bars looked at during this pass. pace: share of the loop that sets out
    in a round. round: from 1. passes: finished ones. cue_free: passed ones in a row without cues. finished: the drill
    is over. goal: where it rests, one of GOALS.
    """

    bars: tuple[FadeBar, ...]
    way: str
    seed: int
    pass_share: float
    levels: tuple[int, ...]
    slips: tuple[int, ...]
    hidden: tuple[bool, ...]
    bare: tuple[bool, ...]
    peeked: frozenset[int] = frozenset()
    pace: float = FIRST_PACE
    round: int = 1
    passes: int = 0
    cue_free: int = 0
    finished: bool = False
    goal: int = Cue.PLACE

    @property
    def is_silent(self) -> bool:
        """One pass with nothing shown above the goal until it is over."""
        return self.way == "silent" and not self.finished

    @property
    def is_dark(self) -> bool:
        """Silent recall: the screen shows nothing at all until the pass is over."""
        return self.is_silent and self.goal == Cue.PLACE

    @property
    def cue_strength(self) -> float:
        """Mean strength of the cues shown, 0 (none) to 1 (all)."""
        return sum(self.levels) / (FULL * len(self.levels))

    @property
    def at_goal(self) -> int:
        """How many bars show no more than they will at the end."""
        return self.levels.count(self.goal)

    @property
    def goal_words(self) -> str:
        """ "from memory"."""
        return GOALS[Cue(self.goal)]

    @property
    def words(self) -> str:
        """Where the drill stands, for the screen."""
        bars = f"{self.at_goal} of {len(self.bars)} bars {self.goal_words}"
        return bars if self.way == "silent" else f"round {self.round}: {bars}"


def start(
    bars: Sequence[FadeBar],
    way: str = "bars",
    seed: int = 0,
    pass_share: float = DEFAULT_PASS_SHARE,
    goal: Cue = Cue.PLACE,
) -> FadeState:
    """A new drill on a loop, everything shown (no more than the goal, for silent recall).

    bars: in the order they are played, none twice. Raises ValueError where there are none or a value is out of range.
    """
    bars = tuple(bars)
    if not bars or len({bar.index for bar in bars}) < len(bars):
        raise ValueError("A drill needs at least one bar, and each bar once.")
    if any(not 0 <= bar.strength <= 1 or bar.bar_in_section < 1 for bar in bars):
        raise ValueError("A bar's strength goes from 0 to 1, and bars of a section count from 1.")
    if way not in WAYS:
        raise ValueError(f"{way!r} is not a way of fading: expected one of {', '.join(WAYS)}.")
    if not 0 < pass_share <= 1:
        raise ValueError(f"A round is passed at a share above 0 and up to 1, not {pass_share}.")
    if goal not in GOALS:
        raise ValueError(f"A drill ends {' or '.join(GOALS.values())}, not at level {goal!r}.")
    levels = (int(goal if way == "silent" else FULL),) * len(bars)
    none, no = (0,) * len(bars), (False,) * len(bars)
    return FadeState(bars, way, seed, pass_share, levels, none, no, no, goal=int(goal))


def level(state: FadeState, index: int) -> Cue:
    """What may be shown of a bar, by its index in the chorus. Raises ValueError for a bar outside the loop."""
    return Cue(state.levels[_position(state, index)])


def peek(state: FadeState, index: int) -> FadeState:
    """The student looked at a bar: it counts as slipped in this pass."""
    _position(state, index)
    return state if state.finished else replace(state, peeked=state.peeked | {index})


def after_pass(state: FadeState, slipped: frozenset[int], share_right: float, *, may_hide: bool = True) -> FadeState:
    """The drill after a pass.

    slipped: indices in the chorus; peeked bars are added. share_right: of the chords, 0 to 1. may_hide: False where
    the pass moves the tempo instead: only named slips are given a cue back, and no bar loses one. Otherwise a pass
    that failed without a bar being named gives the bars that lost a cue last that cue back. Raises ValueError for
    bars outside the loop or an impossible share.
    """
    if not 0 <= share_right <= 1:
        raise ValueError(f"The share of right chords goes from 0 to 1, not {share_right}.")
    for index in slipped:
        _position(state, index)
    if state.finished:
        return state
    missed = [bar.index in slipped | state.peeked for bar in state.bars]
    passed = is_passed(state, slipped, share_right)
    if may_hide and state.way != "silent" and not passed and not any(missed):
        missed = _suspects(state)
    ended = _count(state, missed, passed)
    if ended.finished or state.way == "silent":
        return ended
    levels = [min(FULL, level + 1) if miss else level for level, miss in zip(state.levels, missed, strict=True)]
    # The new pace is that of the round after this one.
    given_back = replace(ended, levels=tuple(levels), pace=state.pace)
    going = _losing(given_back, missed) if passed and may_hide else [False] * len(levels)
    levels = [level - go for level, go in zip(levels, going, strict=True)]
    return replace(ended, levels=tuple(levels), hidden=tuple(going), round=state.round + (passed and may_hide))


def is_passed(state: FadeState, slipped: frozenset[int], share_right: float) -> bool:
    """Whether the share of right chords is enough. A bar that was looked at is not right; each bar stands for an
    equal share of the chords."""
    share_right -= len(state.peeked - slipped) / len(state.bars)
    return share_right >= state.pass_share - 1e-9  # 6 of 10 right is 0.6, however it was divided


def _position(state: FadeState, index: int) -> int:
    for position, bar in enumerate(state.bars):
        if bar.index == index:
            return position
    raise ValueError(f"Bar {index + 1} of the chorus is not in this loop.")


def _suspects(state: FadeState) -> list[bool]:
    """Where a pass failed and no bar was named: those that lost a cue before it, or else all that lost any."""
    return list(state.hidden) if any(state.hidden) else [level < FULL for level in state.levels]


def _count(state: FadeState, missed: Sequence[bool], passed: bool) -> FadeState:
    """What a pass leaves behind besides the cues."""
    bare = tuple(was or level == state.goal for was, level in zip(state.bare, state.levels, strict=True))
    unaided = passed and not state.peeked and all(bare) and max(state.levels) <= max(state.goal, Cue.BAR)
    cue_free = state.cue_free + 1 if unaided else 0
    pace = state.pace / 2 if not passed else state.pace if any(missed) else state.pace * 2
    return replace(
        state,
        bare=bare,
        slips=tuple(slips + miss for slips, miss in zip(state.slips, missed, strict=True)),
        peeked=frozenset(),
        pace=min(1.0, max(SLOWEST_PACE, pace)),
        passes=state.passes + 1,
        cue_free=cue_free,
        finished=state.way == "silent" or cue_free >= CUE_FREE_PASSES,
    )


def _losing(state: FadeState, missed: Sequence[bool]) -> list[bool]:
    """Which bars lose a cue after a passed pass."""
    way_down = [state.goal < level < FULL for level in state.levels]
    setting_out = _setting_out(state)
    return [
        not missed[position] and (way_down[position] or position in setting_out) and not _is_held(state, position)
        for position in range(len(state.bars))
    ]


def _setting_out(state: FadeState) -> set[int]:
    """Positions of the bars whose first cue goes."""
    waiting = [position for position, level in enumerate(state.levels) if level == FULL]
    if state.way == "cues":
        return set(waiting)
    if state.way == "sections":
        return _next_section(state)
    best_first = sorted(waiting, key=_order(state))
    return set(best_first[: math.ceil(state.pace * len(state.bars))])


def _next_section(state: FadeState) -> set[int]:
    """The bars still waiting in a section that is not down to root letters (or the goal) yet, or else those of the best
    known section that waits."""
    runs = section_runs(state.bars)
    lowest = max(Cue.ROOT, state.goal)
    under_way = [
        run for run in runs if any(state.levels[p] < FULL for p in run) and any(state.levels[p] > lowest for p in run)
    ]
    if not under_way:
        fresh = [run for run in runs if all(state.levels[p] == FULL for p in run)]
        # max() keeps the earlier of equals: sections go in the order of the form where nothing is known of them.
        under_way = [max(fresh, key=lambda run: sum(_known(state, p) for p in run) / len(run))] if fresh else []
    return {p for run in under_way for p in run if state.levels[p] == FULL}


def section_runs(bars: Sequence[FadeBar]) -> list[range]:
    """Positions of the loop's bars, grouped by the section they belong to; each time a section comes round is a group
    of its own."""
    breaks = [
        position + 1
        for position, (bar, after) in enumerate(pairwise(bars))
        if after.section != bar.section or after.bar_in_section <= bar.bar_in_section
    ]
    return [range(first, end) for first, end in pairwise([0, *breaks, len(bars)])]


def _known(state: FadeState, position: int) -> float:
    """How well a bar is known: what the log says, less for each slip in this drill, which is news."""
    return state.bars[position].strength / (1 + state.slips[position])


def _order(state: FadeState) -> Callable[[int], tuple[bool, float, int, int]]:
    """Sorting key of positions, first to lose cues first: section starts last, then the best known, fewest slips, by
    lot."""
    lots = list(range(len(state.bars)))
    random.Random(state.seed).shuffle(lots)
    return lambda p: (state.bars[p].opens_section, -_known(state, p), state.slips[p], lots[p])


def _is_held(state: FadeState, position: int) -> bool:
    """A section's first bar keeps each cue until no other bar of that section has it; the empty frame, which says
    nothing of the music, may go."""
    if not state.bars[position].opens_section or state.levels[position] == Cue.BAR:
        return False
    run = next(run for run in section_runs(state.bars) if position in run)
    return any(state.levels[p] >= state.levels[position] for p in run if p != position)


def to_json(state: FadeState) -> str:
    """The drill as text."""
    return to_text(state, *_ROWS)


def from_json(text: str) -> FadeState:
    """The drill as it was saved. Raises LogError where the text is damaged."""
    return from_text(text, FadeState, "fading drill", _fits, _ROWS)


_ROWS = {"bars": ("index", "section", "bar_in_section", "strength")}


def _fits(state: FadeState) -> bool:
    """Whether a drill can stand there."""
    indices = {bar.index for bar in state.bars}
    along = (state.levels, state.slips, state.hidden, state.bare)
    return (
        0 < len(indices) == len(state.bars)
        and all(len(values) == len(indices) for values in along)
        and all(bar.index >= 0 and bar.bar_in_section >= 1 and 0 <= bar.strength <= 1 for bar in state.bars)
        and state.goal in GOALS
        and all(state.goal <= level <= FULL for level in state.levels)
        and min(*state.slips, state.passes) >= 0
        and state.peeked <= indices
        and state.way in WAYS
        and 0 < state.pass_share <= 1
        and SLOWEST_PACE <= state.pace <= 1
        and state.round >= 1
        and 0 <= state.cue_free <= CUE_FREE_PASSES
    )
