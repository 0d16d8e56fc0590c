"""What the passes of a practice came to: the drill they moved, what they leave in the log, and those that wait for the student's word."""

from __future__ import annotations

from collections.abc import Collection

from companion.practice.model import PassRecord
from companion.session.drill import Drill
from companion.session.outcome import UNHEARD, Outcome, PassResult, result_of
from companion.session.outcome import told as told_outcome
from companion.session.pass_log import PassLog
from companion.session.passes import PassEar
from companion.session.stand import Stand
from companion.session.waiting import (
    LAST_ROUND,
    NOBODY_PLAYS,
    NOBODY_THERE,
    ROUNDS,
    WaitingPass,
    WaitingPasses,
    foreseen,
    moved,
    told_of,
    waiting_words,
)
from companion.sound.messages import BeatReport

NOTHING_HEARD = "Nothing was heard in that pass: it does not count."
# What comes of a pass that was not heard: it was taken, or others that were told of; the music goes on; it waits by itself; it is the last one.
TAKEN, GOES_ON, WAITS, ENDS = "taken", "goes on", "waits", "ends"


class Ledger:
    """drill: where it stands now. result: the last pass that was taken, None before the first. waiting: passes that nobody has told of. say: a
    sentence for the screen. kept: what is written later."""

    def __init__(self, drill: Drill, kept: PassLog, rounds: int = ROUNDS) -> None:
        self.drill, self.kept = drill, kept
        self.result: PassResult | None = None
        self.waiting = WaitingPasses(rounds)
        self.say = ""
        self._aside: tuple[WaitingPass, ...] = ()  # those that wait, as they are in the log
        self._told: tuple[WaitingPass, ...] = ()  # told while the next pass was on its way, and not taken yet

    def take(self, ear: PassEar, outcome: Outcome, stand: Stand, played: Drill | None = None, id: str = "") -> None:
        """Move the drill on; what the pass leaves in the log is written later. played: the drill as it was while the pass was, None for the
        present one. id: that it waited under, "" where it did not."""
        self.say, played = "", played or self.drill
        self.drill = moved(self.drill, played, outcome, ear.day)
        record = self.kept.keep(ear, outcome, ear.end_s - ear.start_s, stand, (played, self.drill), id=id)
        self.result = result_of(ear, record, outcome.marks, self.drill.reason)

    def take_told(self, *more: WaitingPass) -> bool:
        """Take all that was told of; whether there was any. more: of passes that did not wait."""
        told, self._told = (*self._told, *more), ()
        for each in told:
            self.take(each.ear, told_of(each), each.stand, each.drill, each.id)
        if told:
            self._set_aside(told[-1].stand)
        return bool(told)

    def over(self, ear: PassEar, stand: Stand) -> bool:
        """A pass is over that no keyboard was heard in: with those told of meanwhile it is taken, or it waits. Whether any was taken."""
        each = self.waiting.over(ear, self.drill, stand)
        self.drill = self.drill.unpeeked()
        taken = self.take_told(*((each,) if each.facts is not None else ()))
        if not taken:
            self._set_aside(stand)
        return taken

    def _set_aside(self, stand: Stand) -> None:
        """What waits is kept so that nothing can lose it."""
        self._aside = self.waiting.passes
        waits = [(each.id, each.ear, each.drill, told_of(each)) for each in (*self._told, *self.waiting.passes)]
        self.kept.set_aside(stand.original.id, waits)

    def keep_waiting(self) -> None:
        """A slip was told of a pass that waits already: kept at once."""
        if self.waiting.passes and self.waiting.passes != self._aside:
            self._set_aside(self.waiting.passes[-1].stand)
            self.write()

    def unheard(self, ear: PassEar, stand: Stand, *, asks_at_once: bool) -> str:
        """A pass is over that is told of, not heard; gives what comes of it. asks_at_once: each by itself, while nothing sounds."""
        if self.over(ear, stand) or self.drill.finished:
            return TAKEN
        bars = len(ear.arrangement.bars)
        if asks_at_once:
            return WAITS
        if self.waiting.is_alone(bars):
            self.say = NOBODY_THERE
            return ENDS
        if self.waiting.ends_round(bars):
            self.say = waiting_words(len(self.waiting.passes), is_last=self.waiting.nears_end(bars))
        return GOES_ON

    def silent(self, ear: PassEar, stand: Stand, *, keyboard: bool, turns: int) -> str:
        """A pass is over that is not asked about, and in which nothing was heard. keyboard: though one is there. turns: how often the loop is
        played in a round, 0 where it ends by itself."""
        if keyboard:
            self.say = NOTHING_HEARD
            return WAITS
        told, loop = self.waiting.told_meanwhile(), [bar.index for bar in ear.arrangement.bars]
        self.take(ear, told_outcome(told, loop) if told else UNHEARD, stand)
        self.waiting.passed()
        if turns and self.waiting.is_alone(len(loop), turns):
            self.say = NOBODY_PLAYS
            return ENDS
        if turns and self.waiting.nears_end(len(loop), turns):
            self.say = LAST_ROUND
        return TAKEN

    def stopped(self, ear: PassEar | None, stand: Stand) -> None:
        """The music was stopped: a pass that was told to have broken off counts, another one that was on its way does not."""
        self.take_told(*((self.waiting.over(ear, self.drill, stand),) if ear and self.waiting.broke_off else ()))

    def tell(self, slipped: Collection[int] | None, *, broke_off: bool, ear: PassEar | None) -> bool:
        """The student's word for all that wait, to be taken; whether any did. ear: of the pass that sounds, which a word in its last bar is
        for too, and which is the one that broke off."""
        if ear is not None:
            self.waiting.broke_off |= broke_off
            self.waiting.ran |= not broke_off and ear.is_whole
        self._told += self.waiting.answered(slipped, broke_off=broke_off and ear is None)
        return bool(self._told)

    def counts_at_once(self, ear: PassEar | None, beat: BeatReport | None, loop: tuple[int, ...]) -> bool:
        """Whether what was told may be taken while it sounds: before the next pass began, and in its first bar too, where it does not lead
        elsewhere; where all is done at any time, but in a last bar, whose pass is told of as well. ear: of the pass that sounds, None between
        two. beat: the last. loop: that is played."""
        drill = foreseen(self.drill, self._told)
        if drill.finished:
            return ear is None or not ear.is_whole
        if ear is None:
            return beat is not None and beat.due_s <= self._told[-1].ear.end_s
        if ear.bars_begun > 1 or self.drill.two_ways or self.drill.lining_up:
            return False
        return drill.next_pass.loop == loop

    def take_at_once(self, ear: PassEar | None, stand: Stand) -> PassEar | None:
        """Take what was told while it sounds; gives the pass that goes on: none where all is done, as it is needed no more and ends with its bar."""
        if not foreseen(self.drill, self._told).finished:
            self.take_told()
            return ear
        self.stopped(ear, stand)
        return None

    @property
    def last_told(self) -> PassEar:
        """Of the pass that was told of last."""
        return self._told[-1].ear

    def let_go(self) -> None:
        """What waits is not waited for any longer: it is kept for its minutes."""
        self.take_told(*self.waiting.let_go())

    def broken(self, ear: PassEar, duration_s: float, stand: Stand) -> PassRecord:
        """A fault cut the pass off: it is kept with that mark, and neither counts nor moves the drill."""
        self.waiting.begin()
        outcome = Outcome("heard") if ear.presses else UNHEARD
        return self.kept.keep(ear, outcome, duration_s, stand, (self.drill, self.drill), broken=True)

    def write(self) -> None:
        """Write what the passes since the last call leave in the log, and look back on the last; for after their messages were sent. A log
        that cannot be written is said and stops nothing."""
        self.result = self.kept.look_back(self.result)
        self.say = self.kept.write() or self.say
