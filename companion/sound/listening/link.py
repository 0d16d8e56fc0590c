"""The app's end of the listening process: started after a yes, ended with the app. Its death is said in a sentence; nothing here makes the caller wait."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable

from companion.sound.child import Child
from companion.sound.listening.messages import MicrophoneConfig, MicrophoneOff, Use
from companion.sound.messages import Quit

DIED = "Listening stopped by a fault. Your word counts; F12 switches it on again."


class MicrophoneLink:
    """tell: called with each report, from a thread of its own; the last is MicrophoneOff. log: the file that keeps why the process failed."""

    def __init__(self, config: MicrophoneConfig, tell: Callable[[object], None] | None = None, log: str = "") -> None:
        self.config = config
        self._reports: deque[object] = deque()
        self._tell = tell or self._reports.append
        self._child = Child(config, log, room="listening")
        self._closed = False
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._follow, daemon=True, name="companion microphone")

    @property
    def pid(self) -> int:
        """Of the process."""
        return self._child.pid

    def start(self) -> None:
        """Returns at once; MicrophoneReady is reported when it listens."""
        self._thread.start()

    def send(self, message: object) -> None:
        """Never waits."""
        if isinstance(message, Use):
            self.config = message.config
        self._child.send(message)

    def poll(self) -> list[object]:
        """What was reported since, where nobody is told."""
        return [self._reports.popleft() for _ in range(len(self._reports))]

    def stop(self) -> None:
        """End it, without waiting. Safe to call twice."""
        self._closed = True
        self._child.send(Quit())

    def close(self, seconds: float = 3.0) -> None:
        """End it, and wait until it is gone."""
        self.stop()
        self._ended.wait(seconds)

    def _follow(self) -> None:
        said = False
        self._child.start()
        try:
            while not said:
                report = self._child.receive(1.0)
                if report is not None:
                    said = isinstance(report, MicrophoneOff)
                    self._tell(report)
                elif self._closed:  # told to end, and silent for so long: it is ended
                    break
        except EOFError:
            pass
        self._child.leave()
        self._child.close()
        if not said:
            self._tell(MicrophoneOff("" if self._closed else DIED))
        self._ended.set()
