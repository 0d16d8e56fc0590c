"""The app's end of the sound process."""

from __future__ import annotations

import multiprocessing
import os
import threading
import time
from collections import deque
from collections.abc import Callable
from multiprocessing.connection import Connection
from typing import Self

from companion.sound import spawn
from companion.sound.messages import Configure, Finished, Load, Notice, Quit, SoundConfig

CLOSE_S = 1.5  # how long the process may take to end its notes and leave
RESTARTS = 3  # deaths within RESTART_WINDOW_S after which it is left alone
RESTART_WINDOW_S = 60.0


def _main(connection: Connection, config: SoundConfig, parent: int) -> None:
    """In the new process; only there is all that plays imported."""
    from companion.sound.process import main

    main(connection, config, parent)


class SoundLink:
    """Starts the sound process, sends it messages and hands its reports on.

    Start it before the app takes the terminal. A process that dies is said (Notice "error", then Finished) and started again with what
    was loaded last; its new Ready follows.
    is_off: it died too often and is left alone. Where to read: either `poll`, or `listen` with a callback that runs in a thread of its own.
    """

    def __init__(self, config: SoundConfig) -> None:
        self.config = config
        self._process: multiprocessing.process.BaseProcess | None = None
        self._connection: Connection | None = None
        self._lock = threading.RLock()
        self._loaded: Load | None = None
        self._deaths: deque[float] = deque(maxlen=RESTARTS)
        self._closed = False
        self.is_off = False
        self._thread: threading.Thread | None = None
        self._pending: list[object] = []

    @property
    def alive(self) -> bool:
        process = self._process
        return process is not None and process.is_alive()

    def start(self) -> None:
        """Start the process and return at once; Ready is reported when it is up."""
        with self._lock:
            context = multiprocessing.get_context("spawn")
            self._connection, theirs = context.Pipe()
            self._process = context.Process(
                target=_main, args=(theirs, self.config, os.getpid()), name="companion sound", daemon=True
            )
            spawn.start(self._process)
            theirs.close()

    def send(self, message: object) -> None:
        """Tell the process; a message to a dead one is dropped (its death is reported where reports are read)."""
        with self._lock:
            if isinstance(message, Load):
                self._loaded = message
            elif isinstance(message, Configure):
                self.config = message.config
            if self._connection is not None:
                try:
                    self._connection.send(message)
                except (OSError, ValueError):
                    pass

    def poll(self) -> list[object]:
        """All reports that have arrived, oldest first. Does not wait."""
        reports, self._pending = self._pending, []
        while (connection := self._connection) is not None:
            try:
                if not connection.poll(0):
                    break
                reports.append(connection.recv())
            except (EOFError, OSError):
                reports += self._died()
        return reports

    def listen(self, callback: Callable[[object], None]) -> None:
        """Call `callback(report)` for each report, from a thread that ends with `close`."""
        self._thread = threading.Thread(
            target=self._read, args=(callback,), name="companion sound reports", daemon=True
        )
        self._thread.start()

    def restart(self) -> None:
        """Start the process again and load what was loaded."""
        with self._lock:
            self._end_process()
            self.start()
            if self._loaded is not None:
                self.send(self._loaded)

    def close(self) -> None:
        """End the process with every note off. Safe to call twice."""
        with self._lock:
            self._closed = True
            self.send(Quit())
            self._end_process()
        if self._thread is not None and self._thread is not threading.current_thread():
            self._thread.join(CLOSE_S)

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _read(self, callback: Callable[[object], None]) -> None:
        while (connection := self._connection) is not None:
            try:
                reports = [connection.recv()]
            except (EOFError, OSError, TypeError):  # TypeError: closed by another thread while waiting
                reports = self._died()
            for report in reports:
                callback(report)

    def _died(self) -> list[object]:
        """The process is gone: start it again unless that was wanted or it keeps dying. What to report about it."""
        with self._lock:
            if self._closed:
                self._connection = None
                return []
            now_s = time.perf_counter()
            if len(self._deaths) == RESTARTS and now_s - self._deaths[0] < RESTART_WINDOW_S:
                self._give_up()
                return [
                    Notice("error", "The sound keeps stopping and stays off now. Please start again."),
                    Finished(now_s),
                ]
            self._deaths.append(now_s)
            self.restart()
            return [Notice("error", "The sound stopped unexpectedly and was started again."), Finished(now_s)]

    def _give_up(self) -> None:
        """One process more, for nothing but to end what the dead one left sounding: a MIDI port that is opened is silenced first."""
        self._end_process()
        self.is_off = True
        self.start()
        self.send(Quit())
        self._process.join(CLOSE_S)
        self._end_process()

    def _end_process(self) -> None:
        process, connection = self._process, self._connection
        self._process = self._connection = None
        if process is not None:
            process.join(CLOSE_S if self._closed else 0.0)
            if process.is_alive():
                process.terminate()
                process.join(CLOSE_S)
            if process.is_alive():
                process.kill()
                process.join()
        if connection is not None:
            connection.close()
