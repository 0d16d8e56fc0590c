"""Practising without the app: the conductor between what is typed, what the sound process reports and what is told.

It decides nothing musical: what a line asks for is asked of the conductor, as the app does for a key, and what comes of it is told.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable

from companion.chart.model import Song
from companion.cli.lines.events import EndOfInput, Events, Interrupt, Line
from companion.cli.lines.telling import Teller
from companion.cli.lines.todays import Todays
from companion.errors import CompanionError, ExitCode, SoundError
from companion.session import led
from companion.session.called import Caller
from companion.session.changes import Change, Ended, PassOver
from companion.session.conductor import Conductor
from companion.session.left_song import worked_bpm
from companion.session.own import KeptRoom, keys_learned, own_stand
from companion.session.own_shells import OwnShells
from companion.session.playback import Link, Playback
from companion.session.stand import Stand
from companion.session.student_settings import StudentSettings
from companion.sound.messages import Notice, Ready
from companion.store.log.practice_log import PracticeLog
from companion.store.paths import Paths
from companion.store.settings import Settings

READY_WITHIN_S = 15.0
INTERRUPTED = 130  # common practice of shells: 128 and the signal's number
BAD_LINE = "fault"  # what is told of a line that cannot be obeyed


class Sitting:
    """log: where passes are kept. obey: told each line that is typed. wants: a stand from which what the command line asked for is made.

    over: what the command ends with, None while it goes on. output: what sounds, "" before it is known.
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
    ) -> None:
        self.paths, self.log, self.teller, self.clock = paths, log, teller, clock
        self.over: int | None = None
        self.output = ""
        self.passes = 0  # that are over
        self.is_set = False  # whether a song is on the stand
        self._until: Callable[[], bool] | None = None
        self._until_s: float | None = None
        self._link, self._obey, self._wants = link, obey, wants
        self._lines: deque[Line | EndOfInput] = deque()
        self._told = 0  # of what the log had to say
        self._unkept: list[str] = []  # said from another thread
        self._faults = 0  # lines that could not be obeyed
        self._waiting: object = None  # what free time waited for when it was told
        self._answer = ""
        caller = Caller(paths.speech, link.send, self._unkept.append)
        self.playback = Playback(link, speak=caller.want)
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
        passes = sum(isinstance(change, PassOver) for change in changes)
        self.passes += passes
        if state.waiting is not None and state.waiting != self._waiting:
            self.teller.waiting(state)
        if state.answer and state.answer != self._answer:
            self.say(state.answer)
        self._waiting, self._answer = state.waiting, state.answer
        if conductor.stand.original.id:
            self.student.keep_stand(conductor.stand, worked_bpm(conductor.practice, conductor.stand))
        self._tell_news()
        if passes or any(isinstance(change, Ended) for change in changes):
            self.todays.look()

    def _tell_news(self) -> None:
        """What came of the log and of what is kept."""
        before, self._told = self._told, len(self.log.messages)
        for sentence in [*self.log.messages[before:], *self._unkept]:
            self.teller.tell("said", sentence)
        self._unkept.clear()

    # --- the stand

    def put(self, song: Song, *, as_left: bool = True, as_wanted: bool = True) -> None:
        """A song on the stand, as it was left or as it is written, and as the command line wants it. Raises CompanionError."""
        faults: list[str] = []
        stand = own_stand(song, self.student.now, self.paths, keys_learned(self.log, song), faults)
        if as_left and song.id:
            try:
                stand = self.student.take_up(stand)
            except (CompanionError, OSError) as error:
                faults.append(str(error))
        self.put_stand(self._wants(stand) if as_wanted else stand)
        for fault in faults:
            self.say(f"{fault} It is left out.")

    def _put_as_written(self, song: Song) -> None:
        self.put(song, as_left=False, as_wanted=False)

    def put_stand(self, stand: Stand) -> None:
        """A stand that is set already."""
        self.conductor.put(stand)
        self.is_set = True
        self.todays.left()
        if stand.original.id and self.student.now.last_song != stand.original.id:
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
        try:
            self._obey(self, line.text)
        except (CompanionError, ValueError, OSError) as error:
            self.complain(str(error))

    def _take(self, event: object | None) -> None:
        match event:
            case None:
                pass
            case Line() | EndOfInput():
                self._lines.append(event)
            case Interrupt():
                self.over = INTERRUPTED
            case Ready(output, sentence):
                self.output = output
                self.teller.tell("sound", sentence, output=output)
            case Notice(kind, sentence):
                self.teller.tell("said", sentence)
                if kind == "error" and getattr(self._link, "is_off", False):
                    raise SoundError(sentence)
        if event is not None and not isinstance(event, Line | EndOfInput | Interrupt):
            if self.is_set:
                self.did(led.hear(self.conductor, event, self.student.now))
            else:  # which keyboards there are, while no song is there yet
                self.conductor.hear(event)

    def leave(self) -> None:
        """Break off what plays and have all written that was done; what could not be is told."""
        if self.is_set:
            self.did(self.conductor.stop())
        self.student.close()
        self.log.close()
        self._tell_news()
