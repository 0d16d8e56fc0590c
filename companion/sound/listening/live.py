"""The listening process: the microphone in, verdicts out. Started only where the student said yes. Sound stays in it, and no longer than some seconds, but for
a performance that the student asked to have recorded (recorder.py).

It begins to listen when it comes up and ends when it is told to, when the app is gone or the microphone is.
"""

from __future__ import annotations

import gc
import signal
import sys
import time
from collections.abc import Iterable
from multiprocessing.connection import Connection
from typing import TYPE_CHECKING

import numpy as np

from companion.errors import CompanionError
from companion.sound import priority
from companion.sound.entering import entering, tell_by
from companion.sound.listening.awaiting import WaitingEar
from companion.sound.listening.capture import Capture, open_capture
from companion.sound.listening.comes_back import ComesBackMeter
from companion.sound.listening.engine import Listener
from companion.sound.listening.free import FreeEar
from companion.sound.listening.lateness import Lateness
from companion.sound.listening.level import LevelMeter
from companion.sound.listening.messages import (
    Await,
    EndRecord,
    Expect,
    LatenessFound,
    Learn,
    MeasureEcho,
    MicrophoneConfig,
    MicrophoneOff,
    MicrophoneReady,
    Record,
    StrikeHeard,
    StrokeHeard,
    TellLevel,
    TellNotes,
    Use,
)
from companion.sound.listening.own_sound import AHEAD_S, EchoMeter, PlayedStream, echo_of
from companion.sound.listening.piano import Piano, from_bytes, general_piano
from companion.sound.listening.recorder import Recorder
from companion.sound.listening.spectra import AFTER_S, RATE, WINDOW_S, Array
from companion.sound.listening.teaching import Teacher
from companion.sound.listening.verdicts import RIGHT, UNLEARNED
from companion.sound.messages import Alive, Ping, Quit
from companion.sound.played import Played
from companion.sound.process import quieten

if TYPE_CHECKING:
    from companion.sound.listening.echo import Echo

BLOCK_S = 0.02  # worked on at once
POLL_S = 0.005
PLAYED_S = 0.06  # so long a block waits for what is played with it
_AT = "listening"  # for the watchdog
NO_MICROPHONE = "No microphone was found: plug one in, or allow it in the system's settings."
GONE = "The microphone went away. Your word counts; F12 switches it on again."


def main(connection: Connection, config: MicrophoneConfig, parent: int, log: str = "") -> None:
    """The entry point of the spawned process. log: as of the sound process."""
    from companion.sound import fault_log

    quieten()
    if log:
        fault_log.watch(log)
    for name in ("SIGINT", "SIGHUP", "SIGBREAK"):  # for the app; if it dies of them, we see it go
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_IGN)
    try:
        ListeningProcess(connection, config).run()
    except Exception as error:
        fault_log.write_error(log, error)
        raise


class ListeningProcess:
    """The loop around the listener. capture: None opens the microphone."""

    def __init__(self, connection: Connection, config: MicrophoneConfig, capture: Capture | None = None) -> None:
        self._connection = connection
        self._capture = capture
        self._running = True
        self._waiting: list[tuple[Array, float]] = []
        self._meter: LevelMeter | None = None
        self._teacher: Teacher | None = None
        self._free: FreeEar | None = None
        self._recorder = Recorder()
        self._waiting_ear: WaitingEar | None = None
        self._echo_meter: EchoMeter | None = None
        self._echo: Echo | None = None
        self._played: Played | None = None
        self._stream: PlayedStream | None = None
        self._comes_back: ComesBackMeter | None = None
        self._config = MicrophoneConfig()
        self._use(config)

    def run(self) -> None:
        """Until told to quit, or app or microphone are gone."""
        tell_by(lambda at: self._report([Alive(at)]), base=_AT)
        if self._capture is None:
            with entering("audio"):
                self._capture = open_capture(self._config.backend)
        if self._capture is None:
            self._report([MicrophoneOff(NO_MICROPHONE)])
            return
        priority.ask(self._config.realtime)
        sys.setswitchinterval(0.0005)  # the device's thread must get in
        gc.freeze()
        self._report([MicrophoneReady(AFTER_S + WINDOW_S + BLOCK_S)])
        try:
            while self._running:
                self.turn(POLL_S)
        finally:
            self._recorder.close(None, keep=False)
            self._capture.close()
            if self._played is not None:
                self._played.close()

    def turn(self, wait_s: float) -> None:
        """Obey what was said, and hear what came."""
        assert self._capture is not None
        try:
            while self._running and self._connection.poll(wait_s):
                self._obey(self._connection.recv())
                wait_s = 0.0
        except (EOFError, OSError):  # the app is gone
            self._running = False
            return
        self._waiting += self._capture.take()
        while block := self._next_block():
            if not self._is_played(*block):
                self._waiting.insert(0, block)
                break
            self._hear(*block)
        self._report(self._recorder.take())
        if self._capture.is_gone:
            self._report([*self._recorder.close(self._lateness.late_s, keep=True), MicrophoneOff(GONE)])
            self._running = False

    def _next_block(self) -> tuple[Array, float] | None:
        """Enough of what waits to be worth the work; blocks that follow on each other go together."""
        count = 0
        for place, (block, start_s) in enumerate(self._waiting):
            first_s = self._waiting[0][1]
            if abs(start_s - first_s - count / RATE) > BLOCK_S:  # something was lost here
                break
            count += len(block)
            if count >= BLOCK_S * RATE:
                place += 1
                break
        else:
            return None
        taken, self._waiting = self._waiting[:place], self._waiting[place:]
        return np.concatenate([block for block, _ in taken]), taken[0][1]

    def _is_played(self, block: Array, start_s: float) -> bool:
        """Whether what is played with a block is known already; that is not waited for long, as nothing may be played at all."""
        if self._stream is None or (self._echo is None and self._echo_meter is None):
            return True
        is_late = time.perf_counter() - start_s - len(block) / RATE > PLAYED_S
        return is_late or self._stream.is_there(len(block), start_s)

    def _obey(self, message: object) -> None:
        match message:
            case Quit():
                self._recorder.close(self._lateness.late_s, keep=True)
                self._running = False
            case Ping():
                self._report([Alive(_AT)])
            case Expect(dues, afresh):
                if afresh:
                    self._listener.forget()
                self._listener.expect(self._lateness.ask(dues, afresh=afresh))
                self._teacher = None  # it is played already: no time to check
            case Await(awaited):
                self._waiting_ear = (self._waiting_ear or WaitingEar(self._piano)) if awaited is not None else None
                if self._waiting_ear is not None:
                    self._waiting_ear.wait_for(awaited)
                    self._teacher = None
            case TellLevel(tell):
                self._meter = LevelMeter() if tell else None
            case TellNotes(tell):
                self._free = FreeEar(self._piano) if tell else None
            case Learn(notes, name):
                piano = None if name else self._piano
                self._teacher = Teacher(notes, name, piano) if notes else None
            case MeasureEcho():
                self._echo_meter = EchoMeter()
            case Record() | EndRecord():
                self._teacher = None
                self._recorder.obey(message, self._lateness.late_s)
            case Use(config):
                self._use(config)

    def _use(self, config: MicrophoneConfig) -> None:
        before, self._config = self._config, config
        self._piano = self._piano_of(config)
        self._listener = Listener(self._piano, None if self._piano.learned else UNLEARNED)
        if self._waiting_ear is not None:
            awaited, self._waiting_ear = self._waiting_ear.awaited, WaitingEar(self._piano)
            self._waiting_ear.wait_for(awaited)
        self._echo = None if config.headphones else echo_of(config.response)
        self._lateness = Lateness(self._echo.late_s - AHEAD_S if self._echo is not None else config.late_s)
        if config.played != before.played or (config.played and self._played is None):
            if self._played is not None:
                self._played.close()
            self._played = self._stream = None
            if config.played:
                try:
                    self._played = Played(config.played)
                    self._stream = PlayedStream(self._played)
                except OSError:  # the app let go of it
                    pass
        # Of a piano never learned nobody knows how loud it is; little is held against the player there.
        self._comes_back = None
        if self._played is not None and self._piano.learned:
            self._comes_back = ComesBackMeter(self._played, self._piano, follows=self._echo is not None)

    @staticmethod
    def _piano_of(config: MicrophoneConfig) -> Piano:
        try:
            return from_bytes(config.piano, "the piano") if config.piano else general_piano()
        except CompanionError:  # said where it was read
            return general_piano()

    def _hear(self, block: Array, start_s: float) -> None:
        played = self._stream.take(len(block), start_s) if self._stream is not None else None
        if self._meter is not None and (level := self._meter.hear(block)):
            self._report([level])
        if self._echo_meter is not None and played is not None:
            if result := self._echo_meter.hear(block, played):
                self._echo_meter = None
                self._report([result])
            return
        if self._echo is not None and played is not None:
            block = self._echo.clean(block, played)
            self._lateness.late_s = self._echo.late_s - AHEAD_S  # its delay is followed
        if self._comes_back is not None:
            self._report(self._comes_back.hear(block, start_s))
        self._recorder.hear(block, start_s, self._lateness.late_s)
        if self._teacher is not None:
            self._report(self._teacher.hear(block, start_s))
            if self._teacher.is_done:
                self._teacher = None
        if self._free is not None:
            self._report(self._free.hear(block, start_s))
        if self._waiting_ear is not None:
            strokes = self._waiting_ear.hear(block, start_s)
            self._report([StrokeHeard(stroke, time.perf_counter()) for stroke in strokes])
        verdicts = self._listener.hear(block, start_s)
        if verdicts:
            if self._comes_back is not None and self._comes_back.comes_back:
                verdicts = [verdict if verdict.kind == RIGHT else verdict.unsure() for verdict in verdicts]
            now_s, was_settled = time.perf_counter(), self._lateness.is_settled
            self._report([StrikeHeard(self._lateness.free(verdict), now_s) for verdict in verdicts])
            if self._lateness.is_settled and not was_settled and self._lateness.late_s is not None:
                self._report([LatenessFound(self._lateness.late_s)])

    def _report(self, reports: Iterable[object]) -> None:
        for report in reports:
            try:
                self._connection.send(report)
            except (OSError, ValueError):  # gone; the next read says so
                self._running = False
                return
