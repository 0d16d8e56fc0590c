"""One run of the sound process, or of the listening one, as the app sees it: the pipe, and the thread that writes to it."""

from __future__ import annotations

import multiprocessing
import os
import threading
from multiprocessing.connection import Connection
from typing import TYPE_CHECKING

from companion.sound import spawn
from companion.sound.outbox import Outbox

if TYPE_CHECKING:
    from companion.sound.listening.messages import MicrophoneConfig
    from companion.sound.messages import SoundConfig

LEAVE_S = (
    0.6  # how long it may take to end its notes and leave; then it is killed, as one that is stopped hears nothing else
)
_KILL_S = 1.0


def _main(connection: Connection, config: SoundConfig, parent: int, fault_log: str) -> None:
    """In the new process; only there is all that plays imported."""
    from companion.sound.process import main

    main(connection, config, parent, fault_log)


def _main_listening(connection: Connection, config: MicrophoneConfig, parent: int, fault_log: str) -> None:
    from companion.sound.listening.live import main

    main(connection, config, parent, fault_log)


class Child:
    """Made first, so that messages can be sent to it, and started then. Only one thread may `receive` and `end` it. room: "sound" or "listening"."""

    def __init__(self, config: SoundConfig | MicrophoneConfig, fault_log: str = "", room: str = "sound") -> None:
        context = multiprocessing.get_context("spawn")
        ours, self._theirs = context.Pipe()
        self._connection: Connection = ours
        self._process = context.Process(
            target=_main if room == "sound" else _main_listening,
            args=(self._theirs, config, os.getpid(), fault_log),
            name=f"companion {room}",
            daemon=True,
        )
        self._outbox = Outbox()
        self._writer = threading.Thread(target=self._write, daemon=True, name="companion sound writer")

    def start(self) -> None:
        """Returns at once; it reports Ready when it is up."""
        spawn.start(self._process)
        self._theirs.close()
        self._writer.start()

    @property
    def pid(self) -> int:
        """Of the process, 0 before it is started."""
        return self._process.pid or 0

    @property
    def alive(self) -> bool:
        """Whether the process was started and has not ended."""
        return self._process.pid is not None and self._process.is_alive()

    @property
    def exit_code(self) -> int | None:
        """None while it lives; a negative number is that of the signal it died of."""
        return self._process.exitcode

    def send(self, message: object) -> None:
        """Never waits."""
        self._outbox.put(message)

    def flush(self, seconds: float) -> bool:
        """Wait until all that was sent is written, at most so long; whether it is."""
        return self._outbox.flush(seconds)

    def receive(self, seconds: float) -> object | None:
        """The next report, None where none comes within so long. Raises EOFError when the process is gone."""
        try:
            return self._connection.recv() if self._connection.poll(seconds) else None
        except OSError:
            raise EOFError from None

    def leave(self, seconds: float = LEAVE_S) -> None:
        """Wait for the process to leave by itself, and kill it if it does not."""
        if self._process.pid is None:
            return
        self._process.join(seconds)
        if self._process.is_alive():
            self._process.kill()
            self._process.join(_KILL_S)

    def close(self) -> None:
        """Let go of the pipe. The process is gone, so a writer that waited for it is told so."""
        self._outbox.close()
        if self._writer.ident is not None:
            self._writer.join(_KILL_S)
        self._connection.close()

    def _write(self) -> None:
        while (message := self._outbox.take()) is not None:
            try:
                self._connection.send(message)
            except (OSError, ValueError):  # gone: the reader is told too
                self._outbox.close()
