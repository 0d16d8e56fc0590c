"""Practising a loop: pass after pass, marked, logged, and each deciding what the next one is.

Fed with what the sound process reports and with the student's word; every call gives the messages to send to the sound process. It holds no
clock and no port. A heard pass is closed as soon as its last strike can no longer come, which is before the next bar line, so a new
tempo still begins at that line. A told pass is played once, then the student is asked.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from companion.chart.loops import loop_name
from companion.errors import LogError
from companion.practice.marking.summary import ChangeCost, heard_chords, pass_lines, weakest_changes
from companion.practice.model import ChordMark, PassMarks, PassRecord
from companion.session.drill import Drill
from companion.session.memory import Log, keep_pass
from companion.session.minutes import Minutes
from companion.session.passes import ANSWERS, CUT_S, PassEar, make_record, symbol_at
from companion.session.stand import Stand
from companion.session.wall_clock import within_calendar
from companion.sound.messages import BeatReport, Finished, Load, NoteIn, Play, SetTempo, Stop

MOST_CHANGES = 3  # in the summary of a pass
EARLY_S = 1.0  # how long a press is remembered that may be meant for the next pass: the widest window and the latency, and more
STILL_S = (
    0.5  # a beat that comes so much too late: time stood still, in a computer that slept or a program that was stopped
)
STOOD_STILL = "The sound stood still in the middle of this pass: it does not count."
NOTHING_HEARD = "Nothing was heard in that pass: it does not count."


@dataclass(frozen=True, slots=True)
class PassResult:
    """A pass that is over. lines: the summary for the screen. changes: the chord changes that cost most. marks: None where it was told."""

    record: PassRecord
    lines: tuple[str, ...]
    changes: tuple[ChangeCost, ...] = ()
    marks: PassMarks | None = None


class Practice:
    """One stretch of practising a loop in one way.

    drill: where it stands now. live: the marks of the pass being played, as far as it is. result: the last pass, None before the first.
    broken: the pass that a fault cut off since `begin`, None without one; it is in the log, marked so, and moved nothing.
    asking: the student is to say how it went. keyboard: whether a keyboard was ever heard. say: a sentence for the screen.
    asks: whether a pass that was not heard is asked about though one plays along. hands: see chart.lesson.HANDS.
    minutes: counted on from one stretch to the next where it is handed in. next_stand: asked at the end of each pass while one plays
    along; the stand it gives, in another key say, is played from the next bar line on.
    """

    def __init__(
        self,
        stand: Stand,
        drill: Drill,
        log: Log,
        *,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
        latency_ms: float = 0.0,
        keyboard: bool = False,
        minutes: Minutes | None = None,
        asks: bool = False,
        hands: str = "left",
    ) -> None:
        self.stand = stand
        self.drill = drill
        self.keyboard = keyboard
        self.live: PassMarks | None = None
        self.result: PassResult | None = None
        self.broken: PassRecord | None = None
        self.asking = False
        self.say = ""
        self.next_stand: Callable[[], Stand | None] = lambda: None
        self._log = log
        self._now = lambda: within_calendar(now())
        self._latency_s = latency_ms / 1000.0
        self._ear: PassEar | None = None
        self._told_ear: PassEar | None = None
        self._early: list[NoteIn] = []
        self._heard_until_s = -math.inf  # presses up to then, freed of latency, belong to passes that are closed
        self._last_beat: BeatReport | None = None
        self._turns = 0
        self._stopped = False
        self._stop_s: float | None = None  # when to stop, once all is done
        self._minutes = minutes or Minutes()
        self._asks = asks
        self._hands = hands
        self._plan = drill.plan
        self._planned_stand = self._stand_of(drill)

    # --- what the app asks

    def begin(self, first_bar: int = 0) -> list[object]:
        """Count in and play what is planned; without a keyboard one pass, then the question. first_bar: position in the loop; a pass
        counts from the loop's first bar."""
        self._ear = self._told_ear = self.live = self._stop_s = self._last_beat = self.broken = None
        self._early.clear()
        self._heard_until_s = -math.inf
        self.asking = self._goes_on = self._stopped = False
        self.say = ""
        self._plan, self._planned_stand = self.drill.plan, self._stand_of(self.drill)
        # What is left of the loop from first_bar on is no pass, so it takes one turn more.
        turns = self._turns = 0 if self.keyboard or not self.asks else 2 if first_bar else 1
        return [Load(self._planned_stand.arrangement()), Play(self._plan.tempo_bpm, turns=turns, first_bar=first_bar)]

    def stop(self) -> list[object]:
        """Break off; the pass being played does not count."""
        self._ear = self._told_ear = self.live = self._stop_s = None
        self.asking = False
        self._stopped = True
        return [Stop()]

    def change_stand(self, stand: Stand) -> list[object]:
        """Another pattern, key, click or bass, from the next bar on; the pass being played does not count. Playing along takes
        another loop too."""
        self.stand = stand
        self._ear = self.live = None
        if not self.asking:
            self._told_ear = None
            self._goes_on = bool(self._turns)  # the one pass that was asked for is spoilt
        if self.drill.kind == "play":
            self.drill = replace(self.drill, loop=stand.loop, tempo_bpm=stand.tempo_bpm)
        self._plan, self._planned_stand = self.drill.plan, self._stand_of(self.drill)
        return [Load(self._planned_stand.arrangement())]

    def change_tempo(self, tempo_bpm: float) -> list[object]:
        """Another tempo, from the next beat on, or where a keyboard is heard from the next bar line on: no bar has two tempi to be marked
        by. A climb sets its own and takes none."""
        if self.drill.climb is not None:
            return []
        self.stand = self.stand.with_tempo(tempo_bpm)
        self.drill = replace(self.drill, tempo_bpm=self.stand.tempo_bpm)
        self._plan, self._planned_stand = self.drill.plan, self._stand_of(self.drill)
        return [SetTempo(self.stand.tempo_bpm, at="bar" if self.keyboard else "beat")]

    def peek(self, index: int) -> None:
        """The student looks at a bar, which is a slip of it."""
        self.drill = self.drill.peek(index)

    def rested(self) -> None:
        self._minutes.rested()

    @property
    def asks(self) -> bool:
        """Whether a pass that was not heard is asked about. Playing along goes on and asks nothing, unless that is wanted."""
        return self._asks or self.drill.kind != "play"

    @property
    def rest_is_due(self) -> bool:
        return self._minutes.rest_is_due

    @property
    def closes_s(self) -> float | None:
        """When `tick` is next needed; None while no pass is near its end."""
        if self._stop_s is not None:
            return self._stop_s
        return self._ear.closes_s if self._ear else None

    @property
    def is_probe(self) -> bool:
        return self._plan.probe

    # --- what the sound process reports

    def hear(self, report: object) -> list[object]:
        """Take a report; give what to send."""
        if isinstance(report, BeatReport) and report.turn >= 0:
            return self._beat(report)
        if isinstance(report, NoteIn) and report.velocity > 0:
            self.keyboard = True
            self._early = [note for note in self._early if report.time_s - note.time_s < EARLY_S] + [report]
            if self._ear is not None:
                self._ear.press(report.time_s, report.note, report.velocity)
        elif isinstance(report, Finished):
            return self._finished()
        return []

    def tick(self, now_s: float) -> list[object]:
        """Close the pass if its last strike can no longer come."""
        messages: list[object] = []
        if self._ear is not None and (closes_s := self._ear.closes_s) is not None and now_s >= closes_s:
            messages = [*self._close(), *self._turn_the_page()]
        if self._stop_s is not None and now_s >= self._stop_s:
            self._stop_s, self._stopped = None, True
            messages = [*messages, Stop()]
        return messages

    def _beat(self, beat: BeatReport) -> list[object]:
        if self._stopped:
            return []
        if self._ear is not None and self._stood_still(beat):
            self._break_off(STOOD_STILL)
        messages = self.tick(beat.due_s)
        if beat.pulse == 0 and self._ear is not None and self._ear.is_whole:
            messages = [*self._close(), *self._turn_the_page()]  # the tempo was raised in its last bar
        if self._stopped:
            return messages
        self._last_beat = beat
        if beat.pulse == 0 and beat.position == 0:
            self._pass_begins(beat)
        elif beat.pulse == 0 and self._ear is not None:
            if beat.position == self._ear.bars_begun:
                self._ear.bar_began(beat.due_s, beat.tempo_bpm)
            else:  # a change led elsewhere
                self._ear = self.live = None
        if self._ear is not None and self._ear.presses:
            self.live = self._ear.marks(beat.due_s)
        return messages

    def _pass_begins(self, beat: BeatReport) -> None:
        self._ear = self.live = None
        arrangement = self._planned_stand.arrangement()
        if arrangement.bars[0].index != beat.index:
            return  # what was planned came too late for this bar line and begins at another
        ear = PassEar(
            self._planned_stand, arrangement, self._latency_s, after_s=self._heard_until_s, began_at=self._now()
        )
        ear.bar_began(beat.due_s, beat.tempo_bpm)
        for note in self._early:  # played a little before the bar line, meant for it
            ear.press(note.time_s, note.note, note.velocity)
        self._ear = ear

    def _finished(self) -> list[object]:
        """The sound stopped: after a told pass ask, after a first heard one go on."""
        if self._ear is not None and self._ear.is_whole and self._at_end:
            self._close()
        elif not self._stopped:
            self._break_off("")  # the sound process itself says why it stopped
        told, self._told_ear = self._told_ear, None
        self._ear = self.live = self._stop_s = None
        goes_on, self._goes_on = self._goes_on, False
        if self._stopped or not self._at_end:
            return []
        if told is not None:
            self._told_ear, self.asking = told, True
        elif goes_on:
            return self.begin()
        return []

    @property
    def _at_end(self) -> bool:
        """Whether the last beat of a turn sounded, so that the sound did not break off."""
        beat = self._last_beat
        return beat is not None and beat.pulse == beat.pulses - 1 and beat.index == self._planned_stand.loop[-1]

    def _stood_still(self, beat: BeatReport) -> bool:
        """Whether a beat of the bar that sounds, or the next bar line, came much later than the tempo said."""
        last = self._last_beat
        if last is None or last.turn < 0:
            return False
        beats = (
            beat.pulse - last.pulse
            if beat.position == last.position and beat.pulse
            else last.pulses - last.pulse + beat.pulse
        )
        return beat.due_s - last.due_s > beats * 60.0 / min(last.tempo_bpm, beat.tempo_bpm) + STILL_S

    def _break_off(self, words: str) -> None:
        """A fault cut the pass off: it is kept with that mark, and neither counts nor moves the drill."""
        ear, self._ear = self._ear, None
        self.live = None
        if ear is None or self._last_beat is None:
            return
        self._goes_on = bool(self._turns)
        duration_s = max(0.0, self._last_beat.due_s - ear.start_s)
        source = "heard" if ear.presses else "told"
        self.broken = self._record(ear, duration_s, source, "", 0.0, frozenset(), None, clean=False, broken=True)
        self._minutes.count(duration_s, ear.began_at + timedelta(seconds=duration_s))
        self.say = words
        try:
            self._log.add_pass(self.broken)
        except LogError as error:
            self.say = str(error)

    # --- the end of a pass

    _goes_on = False  # a single pass was asked for and is not what is wanted any more

    def _close(self) -> list[object]:
        ear, self._ear = self._ear, None
        self._heard_until_s = ear.takes_until_s
        if not ear.presses:
            return self._close_unheard(ear)
        self._goes_on = bool(self._turns)
        marks = ear.marks()
        self.live = marks
        return self._settle(ear, "heard", "", marks.figures.share_right, marks.slipped_bars(), marks)

    def _turn_the_page(self) -> list[object]:
        """Another stand for the next pass, where one is wanted."""
        stand = self.next_stand() if self.drill.kind == "play" and not self._turns else None
        if stand is None:
            return []
        self.stand = stand
        self._planned_stand = self._stand_of(self.drill)
        return [Load(self._planned_stand.arrangement())]

    def _close_unheard(self, ear: PassEar) -> list[object]:
        """A pass in which no key was pressed: told ones wait for the sound's end; playing along is logged for its minutes."""
        if self._turns and self.asks:
            self._told_ear = ear
        elif self.keyboard:
            self.say = NOTHING_HEARD
        else:
            return self._settle(ear, "told", "", 0.0, frozenset(), None)
        return []

    def answer(self, key: str, slipped: Iterable[int] = ()) -> list[object]:
        """The student's word on the pass that was played. key: of one of ANSWERS. slipped: indices of the bars that slipped."""
        told = {each.key: each for each in ANSWERS}[key]
        ear, self._told_ear = self._told_ear, None
        if ear is None:
            return []
        self.asking = False
        slipped = frozenset(slipped) & frozenset(self._plan.loop)
        share = 1.0 - len(slipped) / len(self._plan.loop) if slipped else told.share
        self._settle(ear, "told", told.words, share, slipped, None)
        self._stop_s = None  # nothing sounds
        return [] if self.drill.finished else self.begin()

    def _settle(
        self, ear: PassEar, source: str, answer: str, share: float, slipped: frozenset[int], marks: PassMarks | None
    ) -> list[object]:
        """Log a pass, move the drill on and plan the next pass."""
        duration_s = ear.end_s - ear.start_s
        self.say = ""
        clean = bool(marks or answer) and self.drill.is_clean(slipped, share)
        record = self._record(ear, duration_s, source, answer, share, slipped, marks, clean=clean)
        if marks is not None or answer:
            self.drill = self.drill.after(slipped, share)
        self.result = self._result(ear, record, marks)
        self._minutes.count(duration_s, ear.began_at + timedelta(seconds=duration_s))
        self._keep(record)
        return self._next_messages(ear)

    def _record(
        self,
        ear: PassEar,
        duration_s: float,
        source: str,
        answer: str,
        share: float,
        slipped: frozenset[int],
        marks: PassMarks | None,
        *,
        clean: bool,
        broken: bool = False,
    ) -> PassRecord:
        """A pass of the present plan for the log, with the drill where it was while it was played."""
        plan, drill = self._plan, self.drill
        peeked = drill.fade.peeked if drill.fade else frozenset()
        return make_record(
            ear.stand,
            plan.loop,
            started_at=ear.began_at,
            duration_s=duration_s,
            tempo_bpm=ear.tempo_bpm,
            kind=f"{drill.kind}+probe" if plan.probe else drill.kind,
            round_=drill.round,
            cues=drill.cues(plan.loop),
            source=source,
            answer=answer,
            share_right=share,
            clean=clean,
            slipped=(slipped | peeked) & frozenset(plan.loop),
            marks=marks,
            hands=self._hands,
            broken=broken,
        )

    def _next_messages(self, ear: PassEar) -> list[object]:
        """What leads into the next pass without a gap. Where all is done the last bar is still played out."""
        if self.drill.finished:
            self._goes_on = False
            self._stop_s = ear.end_s - CUT_S
            return []
        loop_before = self._plan.loop
        self._plan, self._planned_stand = self.drill.plan, self._stand_of(self.drill)
        messages: list[object] = []
        if self._plan.loop != loop_before:
            messages.append(Load(self._planned_stand.arrangement()))
        if self._plan.tempo_bpm != ear.tempo_bpm:
            messages.append(SetTempo(self._plan.tempo_bpm, at="bar"))
        return messages

    def _result(self, ear: PassEar, record: PassRecord, marks: PassMarks | None) -> PassResult:
        if marks is None:
            words = f"{record.answer}." if record.answer else ""
            return PassResult(record, tuple(filter(None, (words, self.drill.reason))))
        changes = tuple(
            weakest_changes([heard_chords(marks.chords, self._symbols(ear.stand, marks.chords))], MOST_CHANGES)
        )
        lines = pass_lines(marks, ear.beat_s, changes)
        return PassResult(record, (*lines, self.drill.reason) if self.drill.reason else lines, changes, marks)

    @staticmethod
    def _symbols(stand: Stand, marks: Iterable[ChordMark]) -> dict[tuple[int, int], str]:
        return {(mark.index, mark.chord): symbol_at(stand, mark.index, mark.chord) for mark in marks}

    # --- what is kept

    def _keep(self, record: PassRecord) -> None:
        """Into the log at once. A log that cannot be written is said and stops nothing."""
        try:
            keep_pass(self._log, record, self.drill, self.stand, self._now())
        except LogError as error:
            self.say = str(error)

    def _stand_of(self, drill: Drill) -> Stand:
        """The stand set for the next pass: the probe plays only its own bars."""
        plan = drill.plan
        stand = self.stand if plan.loop == self.stand.loop else self.stand.with_loop(plan.loop, loop_name(plan.loop))
        return replace(stand, tempo_bpm=plan.tempo_bpm)
