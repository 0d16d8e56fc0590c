"""Practising a loop: pass after pass, marked, logged, and each deciding what the next one is.

Fed with what the sound process reports and with the student's word; every call gives the messages to send to the sound process. What a pass leaves in the log is written
by `write`, after those were sent, so that the next tempo waits for no disk. It holds no clock and no port. A heard pass is closed as soon as its last strike can no
longer come, before the next bar line, so a new tempo still begins at that line. Where none is heard the music goes on, and passes wait for the student's word (`waiting.py`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import UTC, datetime

from companion.groove.click import rests_while_marked, while_marked
from companion.practice.model import PassMarks, PassRecord
from companion.practice.planning.by_itself import DEFAULT_MOST_LOSS
from companion.session.beats import end_of, ends_loop
from companion.session.current_pass import CurrentPass
from companion.session.drill import ONE_PASS, Drill
from companion.session.ledger import ENDS, GOES_ON, TAKEN, Ledger
from companion.session.memory import Log
from companion.session.minutes import Minutes
from companion.session.outcome import PassResult, heard
from companion.session.pass_log import PassLog
from companion.session.passes import PassEar
from companion.session.performance import asked_of, performance
from companion.session.run import Run
from companion.session.stand import Stand
from companion.session.waiting import ROUNDS
from companion.session.wall_clock import within_calendar
from companion.sound.listening.messages import StrikeHeard
from companion.sound.messages import BeatReport, Finished, KeyboardGone, Load, NoteIn, PedalIn, Play, SetTempo, Stop

STOOD_STILL = "The sound stood still in the middle of this pass: it does not count."
KEYBOARD_GONE = "The keyboard went away in the middle of this pass: it does not count."
HEARD_THROUGH = "Heard to the end."
NOW_YOU = f"{HEARD_THROUGH} Now you play: space starts."


class Practice:
    """One stretch of practising a loop in one way.

    live: the marks of the pass being played, as far as it is. broken: the pass that a fault cut off since `begin`, None without one; it is in the log, marked so, and moved nothing.
    keyboard: whether a keyboard was ever heard. microphone: whether one listens, where no keyboard does. let_go, write, waiting (passes that nobody has told of yet): see Ledger.
    asks: whether a pass that was not heard is asked about though one plays along. stops: whether the music stops for that. rounds: after how many without any key it stops, 0 for never.
    most_loss: see planning/by_itself.py. minutes: counted on from one stretch to the next where it is handed in. next_stand: asked at the end of each pass while one plays along; the stand
    it gives, in another key say, is played from the next bar line on. turns_in_round: how often the loop is played in a round.
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
        stops: bool = False,
        rounds: int = ROUNDS,
        most_loss: float = DEFAULT_MOST_LOSS,
    ) -> None:
        self.stand = stand
        self.keyboard = keyboard
        self.microphone: Callable[[], bool] = lambda: False
        self.broken: PassRecord | None = None
        self.next_stand: Callable[[], Stand | None] = lambda: None
        self.turns_in_round: Callable[[], int] = lambda: 1

        def in_calendar() -> datetime:
            return within_calendar(now())

        self._ledger = Ledger(drill, PassLog(log, minutes or Minutes(), in_calendar, most_loss), rounds)
        self.waiting = self._ledger.waiting
        self.keep_waiting = self._ledger.keep_waiting
        self.let_go = self._ledger.let_go
        self.write = self._ledger.write
        self._played = CurrentPass(latency_ms, in_calendar)
        self._run = Run()
        self.heard_out = False  # whether it was to be listened to once, and was
        self._asks = asks
        self._stops = stops
        self._plan_next()

    @property
    def live(self) -> PassMarks | None:
        """The marks of the pass being played up to its latest beat, of the whole pass once it is over."""
        return self._played.marks

    @property
    def drill(self) -> Drill:
        """Where it stands now."""
        return self._ledger.drill

    @drill.setter
    def drill(self, drill: Drill) -> None:
        self._ledger.drill = drill

    @property
    def result(self) -> PassResult | None:
        """The last pass, None before the first."""
        return self._ledger.result

    @property
    def say(self) -> str:
        """A sentence for the screen, "" for none."""
        return self._ledger.say

    @say.setter
    def say(self, words: str) -> None:
        self._ledger.say = words

    # --- what the app asks

    def begin(self, first_bar: int = 0, passes: int = 0) -> list[object]:
        """Count in and play what is planned. first_bar: position in the loop; a pass counts from the loop's first bar. passes: how many, 0 for ever."""
        self._played.count_in()
        self.broken = None
        self._run = self._asked_for(passes)
        self.waiting.begin()
        self.waiting.attend()
        self.say = ""
        messages = self._load_next()
        return [*messages, Play(self._next.tempo_bpm, turns=self._run.turns(first_bar), first_bar=first_bar)]

    def _asked_for(self, passes: int) -> Run:
        played = passes if self.turns_in_round() == 1 else 0  # through the keys it is the form alone
        by_word = self.asks and not self.keyboard
        asks_at_once = by_word and not self.listens and (self._stops or self.drill.kind in ONE_PASS)
        return Run(
            passes,
            choruses={"listen": 1, "play": played}.get(self.drill.kind, 0),
            one_pass=self.drill.listens or self.drill.two_ways is not None or asks_at_once,
            by_word=by_word,
            asks_at_once=asks_at_once,
            sounds=True,
        )

    def stop(self) -> list[object]:
        """Break off; the pass being played does not count, unless it was told that it broke off. What waits goes on waiting."""
        self._ledger.stopped(self._played.ear, self.stand)
        self._played.forget()
        self._run.end()
        return [Stop()]

    def change_stand(self, stand: Stand) -> list[object]:
        """Another pattern, key, click or bass, from the next bar on; the pass being played does not count. Playing along takes
        another loop too."""
        self.stand = stand
        self._played.forget()
        self.waiting.begin()
        self._run.goes_on = self._run.one_pass and self._run.sounds  # it is spoilt
        if self.drill.kind == "play":
            self.drill = replace(self.drill, loop=stand.loop, tempo_bpm=stand.tempo_bpm)
        return self._load_next()

    def change_tempo(self, tempo_bpm: float) -> list[object]:
        """Another tempo, from the next beat on, or where a keyboard is heard from the next bar line on: no bar has two tempi to be marked
        by. A climb sets its own and takes none."""
        if self.drill.climb is not None:
            return []
        self.stand = self.stand.with_tempo(tempo_bpm)
        self.drill = replace(self.drill, tempo_bpm=self.stand.tempo_bpm)
        self._plan_next()
        return [SetTempo(self.stand.tempo_bpm, at="bar" if self.keyboard or self.listens else "beat")]

    def peek(self, index: int) -> None:
        """The student looks at a bar, which is a slip of it."""
        self.drill = self.drill.peek(index)

    @property
    def planned(self) -> Stand:
        """The stand as it is set for the pass being planned or played."""
        return self._next_stand

    @property
    def asking(self) -> bool:
        """Whether nothing sounds, and the student may say how what was played went."""
        return bool(self.waiting.passes) and not self._run.sounds

    @property
    def listens(self) -> bool:
        """Whether a microphone hears what is played: no keyboard does, and the left hand plays."""
        return self.microphone() and not self.keyboard and not self.drill.listens and self._next_stand.hands != "right"

    @property
    def asks(self) -> bool:
        """Whether a pass that was not heard is asked about. Playing along goes on and asks nothing, unless that is wanted."""
        return not self.drill.listens and (self._asks or self.drill.kind != "play")

    @property
    def closes_s(self) -> float | None:
        """When `tick` is next needed; None while no pass is near its end."""
        return self._played.closes_s if self._run.stop_s is None else self._run.stop_s

    # --- what the sound process reports

    def hear(self, report: object) -> list[object]:
        """Take a report; give what to send."""
        if isinstance(report, BeatReport) and report.turn >= 0:
            return self._beat(report)
        if isinstance(report, NoteIn):
            is_first = report.velocity > 0 and not self.keyboard
            self.keyboard |= is_first
            self._played.key(report, counts=not self.drill.listens)
            if is_first and self._run.sounds and self.drill.kind == "play" and rests_while_marked(self.stand.click):
                return self._load_next()  # from now on it is marked
        elif isinstance(report, StrikeHeard) and not self.keyboard:
            self._played.strike(report)
        elif isinstance(report, PedalIn):
            self._played.pedal(report)
        elif isinstance(report, KeyboardGone) and report.port == self._played.port:
            self._break_off(KEYBOARD_GONE)
        elif isinstance(report, Finished):
            return self._finished()
        return []

    def tick(self, now_s: float) -> list[object]:
        """Close the pass if its last strike can no longer come."""
        closes_s = self._played.closes_s
        messages: list[object] = []
        if closes_s is not None and now_s >= closes_s:
            messages = [*self._close(), *self._turn_the_page()]
        return [*messages, *self._end_of_run()] if self._run.is_played_out(now_s) else messages

    def _end_of_run(self) -> list[object]:
        """The last bar was played out: all is done, or something else is counted in."""
        return self.begin() if self._run.end() else [Stop()]

    def _beat(self, beat: BeatReport) -> list[object]:
        if not self._run.sounds:
            return []
        if self._played.stood_still(beat):
            self._break_off(STOOD_STILL)
        messages = self.tick(beat.due_s)
        if beat.pulse == 0 and self._played.is_whole:
            messages = [*self._close(), *self._turn_the_page()]  # the tempo was raised in its last bar
        if not self._run.sounds:
            return messages
        if beat.pulse == 0 and beat.position == 0:
            self._pass_begins(beat)
        return [*messages, *self._played.goes_on(beat)]

    def _pass_begins(self, beat: BeatReport) -> None:
        self._played.forget()
        stand = self._next_stand
        arrangement = asked_of(stand, self._run.choruses, beat.turn)
        if arrangement.bars[0].index == beat.index:  # else what was planned came too late for this bar line
            self._played.begin(stand, arrangement, beat, keys=not self.drill.listens, microphone=self.listens)

    def _finished(self) -> list[object]:
        """The sound stopped: go on with what is to be counted in, or ask."""
        at_end = ends_loop(self._played.beat, self._next_stand.loop)  # else the sound broke off
        sounded = self._run.sounds
        if self._played.is_whole and at_end:
            self._close()
        elif sounded:
            self._break_off("")  # the sound process itself says why it stopped
        self._played.forget()
        goes_on = self._run.end()
        if self.heard_out:
            self.say = NOW_YOU  # not before the last bar was played out, where a key would still stop it
        if not sounded:
            return []
        if not at_end:
            self.waiting.cut_off(end_of(self._played.beat) if self._played.beat else -math.inf)
            return []
        if goes_on:
            return self.begin()
        self._run.asked = self.asking
        return []

    def _break_off(self, words: str) -> None:
        """A fault cut the pass off: it is kept with that mark, and neither counts nor moves the drill."""
        ear, beat = self._played.ear, self._played.beat
        self._played.forget()
        if ear is None or beat is None:
            return
        self._run.goes_on = self._run.one_pass
        self.broken = self._ledger.broken(ear, max(0.0, beat.due_s - ear.start_s), self.stand)
        self.say = words

    # --- the end of a pass

    def _close(self) -> list[object]:
        ear = self._played.close()
        if ear is None:
            return []
        if self.drill.listens:
            self._ledger.kept.heard(self.stand, self._next.loop)
            self.heard_out = self.drill.kind == "listen"
            self.say = "" if self.heard_out else HEARD_THROUGH
            self._run.goes_on = not self.heard_out  # what was heard is played next
            self.drill = self.drill.after_hearing()
            return []
        if ear.heard_by:
            self._run.by_word = self.asks
        if ear.unsure_words() or not ear.is_heard:
            return self._close_unheard(ear)
        self.waiting.attend()
        self._run.goes_on = self._run.one_pass
        self._run.by_word = False
        marks = ear.marks()
        self._played.mark(marks)
        self._ledger.take(ear, heard(marks, ear.heard_by), self.stand)
        return self._next_messages(ear)

    def _turn_the_page(self) -> list[object]:
        """Another stand for the next pass, where one is wanted."""
        goes_on = self.drill.kind == "play" and not self._run.one_pass and self._run.stop_s is None
        stand = self.next_stand() if goes_on else None
        if stand is None:
            return []
        self.stand = stand
        return self._load_next()

    def _close_unheard(self, ear: PassEar) -> list[object]:
        """A pass in which no key was pressed: told ones wait for the student's word; playing along is logged for its minutes."""
        if asked := self._run.by_word and self.asks and not (self.keyboard and self.drill.two_ways):
            after = self._ledger.unheard(ear, self.stand, asks_at_once=self._run.asks_at_once)
        else:
            turns = 0 if self._run.passes else self.turns_in_round()
            after = self._ledger.silent(ear, self.stand, keyboard=self.keyboard, turns=turns)
        self.say = ear.unsure_words(asked=asked) or self.say
        self._run.goes_on = self._run.one_pass and after == GOES_ON
        if after == ENDS:
            self._run.play_out(ear.end_s)
        return self._next_messages(ear) if after == TAKEN else []

    # --- the student's word

    def answer(self, slipped: Iterable[int] | None = None, *, broke_off: bool = False) -> list[object]:
        """How the passes that wait went: they ran, but for the bars that slipped; slipped: of the last one, None for those told while it was
        played. broke_off: that one did. While it sounds a pass in its last bar is told of too, and one that breaks off is the one that
        sounds."""
        slips = None if slipped is None else frozenset(slipped)
        sounding = self._played.ear if self._run.sounds else None
        if not self._ledger.tell(slips, broke_off=broke_off, ear=sounding):
            return []
        if self._run.sounds:
            if not self._ledger.counts_at_once(sounding, self._played.beat, self._next.loop):
                return []
            ear = sounding or self._ledger.last_told
            self._played.ear = self._ledger.take_at_once(sounding, self.stand)
            return self._next_messages(ear)
        self._ledger.take_told()
        was_asked = self._run.asked
        self._run.asked = False
        return self.begin() if was_asked and not self.drill.finished else []

    # --- what comes next

    def _next_messages(self, ear: PassEar) -> list[object]:
        """What leads into the next pass without a gap. Where all is done the last bar is still played out."""
        if self.drill.finished:
            self._run.goes_on = False
            self._run.play_out(ear.end_s)
            return []
        before = self._next
        self._plan_next()
        if self.drill.lining_up is not None and self._next != before:
            self._run.goes_on = True  # other bars, another hand or rhythm: counted in anew
            self._run.play_out(ear.end_s)
            return []
        messages = self._load_next() if self._next.loop != before.loop else []
        if self._next.tempo_bpm != ear.tempo_bpm:
            messages.append(SetTempo(self._next.tempo_bpm, at="bar"))
        return messages

    def _load_next(self) -> list[object]:
        self._plan_next()
        stand, choruses = self._next_stand, self._run.choruses
        arrangement = performance(stand, choruses) if choruses else stand.arrangement()
        marked = not self.drill.listens and (self.keyboard or self.asks)
        return [Load(while_marked(arrangement) if marked else arrangement)]

    def _plan_next(self) -> None:
        """The next pass, and the stand set for it."""
        self._next = self.drill.next_pass
        self._next_stand = self.drill.put_on(self.stand)
