"""Passes that no keyboard was heard in and that wait for the student's word, while the music goes on.

The bars that slipped are told while they sound. A pass that nobody has told of moves nothing. A round is once through the loop, or as often as
ROUND_BARS take, through all keys where it goes through them; after three of them without any key (settings) somebody has left the piano. Both
numbers are our own choice: a chorus of 32 bars is a round by itself, and a loop of four bars is played four times before the screen reminds of it.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace
from uuid import uuid4

from companion.base.text import plural
from companion.practice.facts import Facts, facts_of
from companion.session.drill import Drill
from companion.session.outcome import UNHEARD, Outcome, told
from companion.session.passes import SAME_S, PassEar
from companion.session.stand import Stand
from companion.sound.messages import BeatReport

ROUND_BARS, ROUNDS = 16, 3  # ROUNDS: where the settings say nothing
# A key told so soon after a bar line is for the bar before: to see one's slip and press takes about as long (Hyman 1953, Journal of
# Experimental Psychology 45:188-196: 0.2 to 0.7 s; cited from memory).
REACTION_S = 0.4
NOBODY_THERE = "Nobody said how it went, so the music stopped. What was played waits for your word."
NOBODY_PLAYS = "No key was pressed for a long time, so the music stopped."
LAST_ROUND = "Without any key the music stops after one more round."


def waiting_words(count: int, *, is_last: bool = False) -> str:
    """At the end of a round: how many passes wait. is_last: whether the music stops after the one to come."""
    waits = plural(count, "pass waits", "passes wait")
    if is_last:
        return f"{waits} for your word; without any key it stops after one more round."
    return f"{waits} for your word; until then nothing moves."


@dataclass(frozen=True, slots=True)
class WaitingPass:
    """drill, stand: as they were while it was played. facts: None until it is told. id: that it has in the log."""

    ear: PassEar
    drill: Drill
    stand: Stand
    slipped: frozenset[int]
    facts: Facts | None = None
    id: str = field(default_factory=lambda: uuid4().hex)

    def told(self, slipped: Collection[int] | None = None, *, broke_off: bool = False) -> WaitingPass:
        """It ran, but for the bars that slipped, or it broke off. slipped: None for those told while it was played."""
        bars = self.slipped if slipped is None else frozenset(slipped)
        return replace(self, facts=facts_of(bars & set(self.drill.next_pass.loop), broke_off=broke_off))


def told_of(each: WaitingPass) -> Outcome:
    """What a pass came to by the student's word; where nobody told of it nothing but the bars that were told of while it sounded."""
    if each.facts is None:
        return replace(UNHEARD, slipped=each.slipped)
    return told(each.facts, each.drill.next_pass.loop)


def moved(drill: Drill, played: Drill, outcome: Outcome, day: str = "") -> Drill:
    """The drill after a pass; as it is where that asks for another pass by now. played: as it was while the pass was."""
    if not outcome.tells or not drill.asks_as(played):
        return drill
    hands = outcome.slipped_hands(drill.pass_share)
    return drill.after(outcome.slipped, outcome.drill_share, day, hands)


def foreseen(drill: Drill, passes: Iterable[WaitingPass]) -> Drill:
    """The drill once all of these have moved it."""
    for each in passes:
        drill = moved(drill, each.drill, told_of(each))
    return drill


class WaitingPasses:
    """passes: those that nobody has told of, the oldest first. slips: bars told of the pass that is played, and broke_off, ran: what was told
    of it as a whole. rounds: after how many without any key somebody has left, 0 for never."""

    def __init__(self, rounds: int = ROUNDS) -> None:
        self.passes: tuple[WaitingPass, ...] = ()
        self.rounds = rounds
        self.begin()
        self._unattended = 0  # passes since a key was pressed

    def begin(self) -> None:
        """A pass begins, or was spoilt: nothing was told of it."""
        self.slips: frozenset[int] = frozenset()
        self.broke_off = self.ran = False

    def attend(self) -> None:
        """A key was pressed: somebody is there."""
        self._unattended = 0

    def slip(self, beat: BeatReport, loop: Sequence[int], now_s: float) -> int:
        """The bar that sounds slipped; where it began only just now the one before it, perhaps of the pass before. beat: the last that was
        heard. Gives the bar's index in the chorus."""
        at = beat.position
        if beat.pulse == 0 and now_s - beat.due_s < REACTION_S and (at or self.passes):
            at -= 1
        index = loop[at]
        if at >= 0:
            self.slips |= {index}
        else:
            self.mark(index)
        return index

    def mark(self, index: int) -> None:
        """The bar of the chorus slipped in the last pass that waits, where none does in the one that is played."""
        if not self.passes:
            self.slips |= {index}
            return
        last = self.passes[-1]
        self.passes = (*self.passes[:-1], replace(last, slipped=last.slipped | {index}))

    def told_meanwhile(self) -> Facts | None:
        """What was told of the pass that was played, None for nothing; from now on nothing is told of the next."""
        tells = self.slips or self.ran or self.broke_off
        facts = facts_of(self.slips, broke_off=self.broke_off) if tells else None
        self.begin()
        return facts

    def over(self, ear: PassEar, drill: Drill, stand: Stand) -> WaitingPass:
        """The pass that was played is over: it waits, unless it was told of already; then it has its facts."""
        slipped = self.slips | (drill.fade.peeked if drill.fade is not None else frozenset())
        each = WaitingPass(ear, drill, stand, slipped)
        if self.broke_off or self.ran:
            each = each.told(broke_off=self.broke_off)
        else:
            self.passes += (each,)
        self.begin()
        self.passed()
        return each

    def passed(self) -> None:
        """A pass is over in which nothing was heard."""
        self._unattended += 1

    def cut_off(self, at_s: float) -> None:
        """The sound broke off there: a pass whose end was not heard is none."""
        self.passes = tuple(each for each in self.passes if each.ear.end_s <= at_s + SAME_S)

    def answered(self, slipped: Collection[int] | None = None, *, broke_off: bool = False) -> tuple[WaitingPass, ...]:
        """One word for all that wait: they ran, but for the bars told of each; slipped and broke_off are the last one's."""
        passes, self.passes = self.passes, ()
        if not passes:
            return ()
        return (*(each.told() for each in passes[:-1]), passes[-1].told(slipped, broke_off=broke_off))

    def let_go(self) -> tuple[WaitingPass, ...]:
        """They are not waited for any longer."""
        passes, self.passes = self.passes, ()
        return passes

    def ends_round(self, bars: int, turns: int = 1) -> bool:
        """Whether a round has just ended. bars: of the loop. turns: how often it is played at least in a round."""
        return self._unattended % _in_round(bars, turns) == 0

    def is_alone(self, bars: int, turns: int = 1) -> bool:
        """Whether so many rounds went by that nobody seems to be there."""
        return bool(self.rounds) and self._unattended >= self.rounds * _in_round(bars, turns)

    def nears_end(self, bars: int, turns: int = 1) -> bool:
        """Whether the last round begins after which that is so."""
        return bool(self.rounds) and self._unattended == (self.rounds - 1) * _in_round(bars, turns)


def _in_round(bars: int, turns: int) -> int:
    """Passes in a round."""
    return max(turns, math.ceil(ROUND_BARS / bars))
