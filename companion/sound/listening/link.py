"""The app's end of the listening process: started after a yes, watched, ended with the app. Its death is said in a sentence, and so is that it hangs; nothing here
makes the caller wait."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable

from companion.sound import fault_log
from companion.sound.child import LEAVE_S, Child
from companion.sound.listening.messages import MicrophoneConfig, MicrophoneOff, Use
from companion.sound.messages import Alive, Ping, Quit
from companion.sound.watchdog import TURN_S, Watchdog

DIED = "Listening stopped; see sound-faults.txt. F12 switches it on again."
HUNG = "Listening did not answer; see sound-faults.txt. F12 switches it on again."


class MicrophoneLink:
    """tell: called with each report, from a thread of its own; the last is MicrophoneOff. log: the file that keeps why the process failed."""

    def __init__(self, config: MicrophoneConfig, tell: Callable[[object], None] | None = None, log: str = "") -> None:
        self.config = config
        self._reports: deque[object] = deque()
        self._tell = tell or self._reports.append
        self._log = log
        self._child = Child(config, log, room="listening")
        self._told_to_end_s: float | None = None
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
        if self._told_to_end_s is None:
            self._told_to_end_s = time.perf_counter()
            self._child.send(Quit())

    def close(self, seconds: float = 3.0) -> None:
        """End it, and wait until it is gone: some moments more than LEAVE_S after it was told to, at most so long."""
        self.stop()
        self._ended.wait(seconds)

    def _follow(self) -> None:
        self._child.start()
        fault, said = self._hand_on()
        if fault == HUNG:
            fault_log.ask(self._child.pid)
        since_s = time.perf_counter() - (self._told_to_end_s or time.perf_counter())
        self._child.leave(0.0 if fault == HUNG else max(0.0, LEAVE_S - since_s))
        if fault:
            what = "did not answer" if fault == HUNG else f"ended with {self._child.exit_code}"
            fault_log.write(self._log, f"The listening process {what}.")
        self._child.close()
        if not said:
            self._tell(MicrophoneOff(fault))
        self._ended.set()

    def _hand_on(self) -> tuple[str, bool]:
        """Hand on what it reports until it is over. What went wrong ("" for nothing), and whether it said itself that it is off."""
        dog = Watchdog()
        next_turn_s = time.perf_counter() + TURN_S
        while self._told_to_end_s is None:
            try:
                report = self._child.receive(max(0.0, next_turn_s - time.perf_counter()))
            except EOFError:
                return ("" if self._told_to_end_s is not None else DIED), False
            if report is not None:
                dog.heard(report)
                if not isinstance(report, Alive):
                    self._tell(report)
                if isinstance(report, MicrophoneOff):
                    return "", True
            if (now_s := time.perf_counter()) >= next_turn_s:
                next_turn_s = now_s + TURN_S
                self._child.send(Ping())
                if dog.turn():
                    return HUNG, False
        return "", False
