"""The app's end of the sound process: started, watched, replaced where it dies or hangs. Nothing here makes the caller wait."""

from __future__ import annotations

import os
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import replace
from typing import Self

from companion.sound import fault_log
from companion.sound.child import LEAVE_S, Child
from companion.sound.jack_again import JackQuestion
from companion.sound.messages import (
    Alive,
    Configure,
    Finished,
    Load,
    Notice,
    Ping,
    Quit,
    SetVolume,
    SharePlayed,
    SoundConfig,
    Spoken,
)
from companion.sound.watchdog import TURN_S, Watchdog, system_name

RESTARTS = 3  # faults within RESTART_WINDOW_S after which it is left alone
RESTART_WINDOW_S = 60.0
SILENCE_S = 8.0  # how long the last process has to come up and end what still sounds


class SoundLink:
    """Starts the sound process, sends it messages and hands its reports on.

    Start it before the app takes the terminal. A process that dies or hangs is said (Notice "error", then Finished) and another one started
    with what was loaded last; its Ready follows. A system whose library it hung in (JACK with a stopped server) is left alone from then on,
    until the next Configure, JACK until it answers again, which is said (Notice "back"). is_off: it failed too often and is left alone. Where to read: either `poll`, or `listen` with a callback
    that runs in a thread of its own. log: the file that keeps why a process failed, "" for none.
    """

    def __init__(self, config: SoundConfig, log: str = "") -> None:
        self.config = config
        self.is_off = False
        self._log = log
        self._child = Child(config, log)
        self._loaded: Load | None = None
        self._spoken: dict[str, Spoken] = {}
        self._shared: SharePlayed | None = None
        self._avoid: tuple[str, ...] = ()
        self._jack = JackQuestion()
        self._faults: deque[float] = deque(maxlen=RESTARTS)
        self._closed = False
        self._dismissed_s = 0.0
        self._swap = threading.Lock()  # held for moments: which child is sent to, and what it begins with
        self._life = threading.Lock()  # held while processes are started and ended
        self._handing = threading.Lock()
        self._reports: deque[object] = deque()
        self._callback: Callable[[object], None] | None = None
        self._thread = threading.Thread(target=self._watch, daemon=True, name="companion sound reports")

    @property
    def alive(self) -> bool:
        """Whether the process was started and has not ended."""
        return not self.is_off and self._child.alive

    @property
    def pid(self) -> int:
        """Of the process there is now."""
        return self._child.pid

    def start(self) -> None:
        """Start the process and return at once; Ready is reported when it is up."""
        fault_log.trim(self._log)
        self._child.start()
        self._thread.start()

    def send(self, message: object) -> None:
        """Tell the process, without waiting for it. A message to a dead one is dropped (its death is reported)."""
        with self._swap:
            if isinstance(message, Load):
                self._loaded = message
            elif isinstance(message, Spoken):
                self._spoken[message.words] = message
            elif isinstance(message, SharePlayed):
                self._shared = message
            elif isinstance(message, Configure):
                self.config, self._avoid = message.config, ()
            elif isinstance(message, SetVolume):  # as it is heard now, so the next process or output sounds too
                self.config = self.config.with_volume(message.voice, message.volume)
            self._child.send(message)

    def flush(self, seconds: float = 0.3) -> bool:
        """Before the app itself is put to sleep: wait until all is told, at most so long; whether it is."""
        return self._child.flush(seconds)

    def poll(self) -> list[object]:
        """All reports that have arrived, oldest first. Does not wait."""
        with self._handing:
            reports = list(self._reports)
            self._reports.clear()
        return reports

    def listen(self, callback: Callable[[object], None]) -> None:
        """Call `callback(report)` for each report, from a thread that ends with `close`."""
        with self._handing:
            self._callback = callback
            while self._reports:
                callback(self._reports.popleft())

    def dismiss(self) -> None:
        """Tell the process to end every note and leave, without waiting for it, so that it does so while the app is taken down. Safe to call
        twice."""
        if not self._closed:
            self._dismissed_s = time.perf_counter()
            self._closed = True
            self._child.send(Quit())

    def close(self) -> None:
        """End the process with every note off, at most LEAVE_S after it was told to leave. Safe to call twice."""
        self.dismiss()
        with self._life:
            self._child.send(Quit())  # another one may have taken its place
            self._child.leave(max(0.0, LEAVE_S - (time.perf_counter() - self._dismissed_s)))
        if self._thread.is_alive() and self._thread is not threading.current_thread():
            self._thread.join(LEAVE_S)

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # --- in the thread that reads and watches

    def _watch(self) -> None:
        while not self._closed and not self.is_off:
            hung_at = self._follow(self._child)
            if not self._closed:
                self._replace(self._child, hung_at)
        self._jack.close()
        self._child.close()

    def _follow(self, child: Child) -> str | None:
        """Hand on what it reports until it is gone (None) or hangs (in the library of which system, "" for none)."""
        dog = Watchdog()
        next_turn_s = time.perf_counter() + TURN_S
        while True:
            try:
                report = child.receive(max(0.0, next_turn_s - time.perf_counter()))
            except EOFError:
                return None
            if report is not None:
                dog.heard(report)
                if not isinstance(report, Alive):
                    self._hand_on(report)
            if (now_s := time.perf_counter()) >= next_turn_s:
                next_turn_s = now_s + TURN_S
                child.send(Ping())
                if dog.turn():
                    return dog.at
                if "jack" not in self._avoid:
                    self._jack.close()
                elif self._jack.answered():
                    self._take_up_jack()

    def _take_up_jack(self) -> None:
        with self._swap:
            self._avoid = tuple(system for system in self._avoid if system != "jack")
            self._child.send(Configure(replace(self.config, avoid=self._avoid)))
        self._hand_on(Notice("back", f"{system_name('jack')} answers again."))

    def _hand_on(self, report: object) -> None:
        with self._handing:
            if self._callback is None:
                self._reports.append(report)
            else:
                self._callback(report)

    def _replace(self, old: Child, hung_at: str | None) -> None:
        """Say what happened and start another process, unless the last ones failed one after the other."""
        now_s = time.perf_counter()
        keeps_failing = len(self._faults) == RESTARTS and now_s - self._faults[0] < RESTART_WINDOW_S
        self._faults.append(now_s)
        self.is_off = keeps_failing
        if hung_at is not None and system_name(hung_at):
            self._avoid = (*self._avoid, hung_at)
        with self._swap:  # what was sent before is lost with the old one, what is sent from now on is for the new one
            new = self._child = Child(replace(self.config, avoid=self._avoid), self._log)
            for message in (*self._spoken.values(), *filter(None, [self._loaded, self._shared])):
                new.send(message)
        self._hand_on(Notice("error", self._sentence(hung_at, keeps_failing)))
        self._hand_on(Finished(now_s))
        with self._life:
            self._end(old, hung_at)
            if self._closed:
                return
            new.start()
        if keeps_failing:
            # One process more, for nothing but to end what the last one left sounding: a MIDI port that is opened is silenced first.
            new.send(Quit())
            new.leave(SILENCE_S)

    def _end(self, old: Child, hung_at: str | None) -> None:
        if hung_at is not None and old.alive:
            fault_log.ask(old.pid)
        old.leave(0.0 if hung_at is not None else LEAVE_S)
        what = f"did not answer ({hung_at or 'playing'})" if hung_at is not None else f"ended with {old.exit_code}"
        fault_log.write(self._log, f"The sound process {what}.")
        old.close()
        fault_log.trim(self._log)

    def _sentence(self, hung_at: str | None, keeps_failing: bool) -> str:
        """Short enough for the one line there is in 80 columns."""
        file = f"; see {os.path.basename(self._log)}" if self._log else ""
        if keeps_failing:
            return f"The sound keeps stopping and stays off now{file}."
        if hung_at is None:
            return f"The sound stopped and was started again{file}."
        if name := system_name(hung_at):
            return f"{name} hangs: going on without it{file}."
        return f"The sound did not answer and was started again{file}."
