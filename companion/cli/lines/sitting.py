"""Practising without the app: the conductor between what is typed, what the sound process reports and what is told.

It decides nothing musical: what a line asks for is asked of the conductor, as the app does for a key, and what comes of it is told.
"""

from __future__ import annotations

import contextlib
import time
from collections import deque
from collections.abc import Callable
from dataclasses import replace

from companion.chart.model import Song
from companion.cli.lines.events import EndOfInput, Events, Interrupt, LinkEvents, TypedLine
from companion.cli.lines.telling import Teller
from companion.cli.lines.todays import Todays
from companion.errors import CompanionError, ExitCode, SoundError
from companion.groove.calls import MOST_BPM, words_called
from companion.session import led
from companion.session.aloud import Aloud
from companion.session.called import Caller, cannot_speak, too_fast
from companion.session.changes import Change, Ended, PassOver, Sounded
from companion.session.conductor import Conductor
from companion.session.left_song import worked_bpm
from companion.session.own import KeptRoom, keys_learned, own_stand
from companion.session.own_shells import OwnShells
from companion.session.playback import Link, Playback
from companion.session.stand import Stand
from companion.session.stand_changes import keep_playing
from companion.session.student_settings import StudentSettings
from companion.session.tempi import Taps
from companion.sound.link import SoundLink
from companion.sound.messages import BeatReport, Notice, Ready
from companion.store.log.practice_log import PracticeLog
from companion.store.paths import Paths
from companion.store.settings import Settings

READY_WITHIN_S = 15.0
INTERRUPTED = 130  # common practice of shells: 128 and the signal's number
BAD_LINE = "fault"  # what is told of a line that cannot be obeyed


class Sitting:
    """log: where passes are kept. obey: told each line that is typed. wants: makes what the command line asks for of a stand. ended: told
    when nothing sounds any more. remembers: whether how songs are left is kept.

    over: what the command ends with, None while it goes on. output: what sounds, "" before it is known. fault: what went wrong with the sound, "" once it goes on.
    """

    def __init__(
        self,
        paths: Paths,
        settings: Settings,
        link: Link,
        log: PracticeLog,
        teller: Teller,
        *,
        clock: Callable[[], float] = time.perf_counter,
        obey: Callable[[Sitting, str], None] = lambda sitting, line: None,
        wants: Callable[[Stand], Stand] = lambda stand: stand,
        ended: Callable[[Sitting], None] = lambda sitting: None,
        remembers: bool = True,
    ) -> None:
        self.paths, self.log, self.teller, self.clock = paths, log, teller, clock
        self.over: int | None = None
        self.output = self.fault = ""
        self.passes = 0  # that are over
        self._in_pass = False
        self.taps = Taps()
        self.is_set = False  # whether a song is on the stand
        self._until: Callable[[], bool] | None = None
        self._until_s: float | None = None
        self._link, self._obey, self._wants, self._ended, self._remembers = link, obey, wants, ended, remembers
        self._lines: deque[TypedLine | EndOfInput] = deque()
        self._told = 0  # of what the log had to say
        self._unkept: list[str] = []  # said from another thread
        self._faults = 0  # lines that could not be obeyed
        self._waiting: object = None  # what free time waited for when it was told
        self._answer = ""
        self._caller = Caller(paths.speech, link.send, self._unkept.append)
        self.playback = Playback(link, speak=self._caller.want, hush=self._caller.hush)
        self.aloud = Aloud(self._caller, lambda: self.student.now.practice.aloud)
        self.student = StudentSettings(paths, settings, self.playback, self.complain, self._unkept.append)
        self.conductor = Conductor(
            self.playback, lambda: log, lambda: self.student.now, clock=clock, keep=KeptRoom(paths).keep
        )
        self.todays = Todays(paths, log, self.student, self.conductor, teller, self._put_as_written, self.did)
        self.shells = OwnShells(paths, self.conductor, self.change, self.say, self.complain)

    # --- what is told

    def say(self, sentence: str) -> None:
        """Something there is to say."""
        self.teller.tell("said", sentence)

    def complain(self, sentence: str) -> None:
        """Something could not be done."""
        self._faults += 1
        self.teller.tell(BAD_LINE, sentence.splitlines())

    def did(self, changes: list[Change]) -> None:
        """What a call to the conductor came to is told, and how the stand is set is kept."""
        conductor = self.conductor
        state = conductor.state
        self.teller.changes(changes, state, conductor.kind)
        self.aloud.tell(changes, state)
        before = self.passes
        self._count_passes(changes)
        if state.waiting is not None and state.waiting != self._waiting:
            self.teller.waiting(state)
        if state.answer and state.answer != self._answer:
            self.say(state.answer)
        self._waiting, self._answer = state.waiting, state.answer
        if self._remembers and conductor.keys.walk is None:  # on the way through the keys no key is the song's
            self.student.keep_stand(conductor.stand, worked_bpm(conductor.practice, conductor.stand))
        self._tell_news()
        has_ended = any(isinstance(change, Ended) for change in changes)
        if self.passes > before or has_ended:
            self.todays.look()
        if has_ended:
            self._ended(self)

    def _count_passes(self, changes: list[Change]) -> None:
        """A pass is over where the next one begins or nothing sounds any more, told or not; in free time once the last key is found."""
        for change in changes:
            match change:
                case Sounded(BeatReport(turn=turn, position=0, pulse=0)) if turn >= 0:
                    self.passes += self._in_pass
                    self._in_pass = True
                case Ended():
                    self.passes += self._in_pass
                    self._in_pass = False
                case PassOver(drill=None):
                    self.passes += 1

    def _tell_news(self) -> None:
        """What came of the log and of what is kept."""
        before, self._told = self._told, len(self.log.messages)
        for sentence in [*self.log.messages[before:], *self._unkept]:
            self.teller.tell("said", sentence)
        self._unkept.clear()

    def calls_news(self) -> None:
        """Whether the changes are called, and why not where they are not."""
        stand = self.conductor.stand
        words = words_called(stand.arrangement())
        if not words:
            self.say("The changes are not called.")
        elif fault := cannot_speak(self.output):
            self.say(fault)
        elif stand.tempo_bpm > MOST_BPM:
            self.say(too_fast(stand.tempo_bpm))
        else:
            self.say("The changes are called, each a beat ahead.")

    def await_speech(self, seconds: float) -> None:
        """Until the names that will be called are spoken, at most so long."""
        self._caller.wait(seconds)

    # --- the stand

    def put(self, song: Song, *, as_left: bool = True, as_wanted: bool = True) -> None:
        """A song on the stand, as it was left or as it is written, and as the command line wants it. Raises CompanionError."""
        faults: list[str] = []
        if self._remembers:
            stand = own_stand(song, self.student.now, self.paths, keys_learned(self.log, song), faults)
        else:  # a line of chords, of which nothing is kept
            stand = Stand.put(song, self.student.now)
        if self._remembers:
            try:
                left = self.student.take_up(stand)
                stand = left if as_left else stand
            except (CompanionError, OSError) as error:
                faults.append(str(error))
        self.put_stand(self._wants(stand) if as_wanted else stand)
        for fault in faults:
            self.say(f"{fault} It is left out.")

    def _put_as_written(self, song: Song) -> None:
        self.put(song, as_left=False, as_wanted=False)

    def put_stand(self, stand: Stand) -> None:
        """A stand that is set already."""
        now = self.student.now  # what a command line asks for is for this once
        self.student.now = replace(now, playing=keep_playing(stand, now.playing))
        self.conductor.put(stand)
        self.is_set = True
        self.todays.left()
        if self._remembers and self.student.now.last_song != stand.original.id:
            self.student.keep_screen("last_song", stand.original.id)
        self.did([])

    def change(self, make: Callable[[Stand], Stand], *, load: bool = True) -> bool:
        """Put a changed stand in place, as the app does; False where it cannot be, which is said."""
        try:
            changes = self.conductor.change_stand(make, load=load)
        except (CompanionError, ValueError) as error:
            self.complain(str(error))
            return False
        self.did(changes)
        return True

    # --- what comes in

    def wait_ready(self, events: Events) -> None:
        """Until it is known what sounds. Raises SoundError where the sound process does not come up."""
        deadline_s = time.monotonic() + READY_WITHIN_S
        while not self.output and self.over is None and time.monotonic() < deadline_s:
            self._take(events.next(0.1))
        if not self.output and self.over is None:
            raise SoundError(f"The sound process did not answer within {READY_WITHIN_S:g} seconds.")

    def run(self, events: Events) -> int:
        """Go on until the student leaves. Raises SoundError where the sound fails for good."""
        while self.over is None:
            if self._may_obey:
                self._obey_next()
            else:
                wakes = [at_s for at_s in (self.conductor.wake_s, self._until_s) if at_s is not None]
                self._take(events.next(min(wakes) - self.clock() if wakes else None))
            self.did(self.conductor.tick(self.clock()))
        return self.over

    def wait(self, until: Callable[[], bool], until_s: float | None = None) -> None:
        """Take no typed line before that holds. until_s: when it is to be asked at the latest."""
        self._until, self._until_s = until, until_s

    @property
    def faulty(self) -> bool:
        """Whether anything that was asked for could not be done."""
        return self._faults > 0

    @property
    def _may_obey(self) -> bool:
        if self._until is not None and self._until():
            self._until = self._until_s = None
        return self._until is None and bool(self._lines)

    def _obey_next(self) -> None:
        line = self._lines.popleft()
        if isinstance(line, EndOfInput):
            self.over = ExitCode.OK
            return
        if self.is_set:
            self.conductor.attend()
        try:
            self._obey(self, line.text)
        except (CompanionError, ValueError, OSError) as error:
            self.complain(str(error))

    def _take(self, event: object | None) -> None:
        match event:
            case None:
                pass
            case BeatReport():
                self.fault = ""
            case TypedLine() | EndOfInput():
                self._lines.append(event)
            case Interrupt():
                self.over = INTERRUPTED
            case Ready(output, sentence):
                self.output = output
                self.teller.tell("sound", sentence, output=output)
            case Notice(kind, sentence):
                self.teller.tell("said", sentence)
                self.fault = sentence if kind == "error" else self.fault
                if kind == "error" and getattr(self._link, "is_off", False):
                    raise SoundError(sentence)
        if event is not None and not isinstance(event, TypedLine | EndOfInput | Interrupt):
            if self.is_set:
                self.did(led.hear(self.conductor, event, self.student.now))
            else:  # which keyboards there are, while no song is there yet
                self.conductor.hear(event)

    def leave(self) -> None:
        """Break off what plays and have all written that was done, also where nobody reads any more; what could not be is told."""
        try:
            if self.is_set:
                self.did(self.conductor.stop())
        finally:
            self.student.close()
            self.log.close()
        self._tell_news()


def sit(sitting: Sitting, link: SoundLink, check: Callable[[str], None], go: Callable[[LinkEvents], None]) -> None:
    """From the start of the sound process to its end, however that comes. check: told what sounds, before `go`. Raises SoundError."""
    link.start()
    with contextlib.ExitStack() as endings:
        endings.callback(link.close)
        endings.callback(sitting.leave)
        events = LinkEvents(link)
        with events.taking_ctrl_c():
            sitting.wait_ready(events)
            check(sitting.output)
            go(events)
