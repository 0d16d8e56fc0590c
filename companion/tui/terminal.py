"""The terminal as the app holds it on Linux and macOS: given back whatever ends the app, and taken again after a sleep.

Signals are answered in the event loop. A handler that Python runs between any two instructions could come while the queue of
what is to be drawn is locked, and would then wait for ever.
"""

from __future__ import annotations

import contextlib
import os
import selectors
import signal
import termios
import time
from collections.abc import Callable
from typing import IO, Any, Protocol, cast

from textual.drivers.linux_driver import LinuxDriver
from textual.message import Message

from companion.tui.terminal_input import MOST_COLUMNS, MOST_ROWS, TerminalInput

_LEAVE = (signal.SIGTERM, signal.SIGHUP, signal.SIGINT)
_AWAKE_S = 0.05  # a terminal that closes wakes the app too (POSIX: SIGHUP, then SIGCONT); the end is to come first
_TICK_S = 0.05  # how soon a lone escape is known for one
_READ_AT_ONCE = 1 << 14


class Silenced(Protocol):
    """The app, which must not play on while it sleeps."""

    def fall_silent(self) -> None:
        """End what sounds, before the app is put to sleep."""


class _Screen:
    """The file that is drawn on. A terminal that is gone takes nothing any more: that is told once and stops nobody."""

    def __init__(self, file: IO[str], gone: Callable[[], None]) -> None:
        self._file = file
        self._gone = gone

    def write(self, text: str) -> None:
        self._try(lambda: self._file.write(text))

    def flush(self) -> None:
        self._try(self._file.flush)

    def fileno(self) -> int:
        return self._file.fileno()

    def _try(self, work: Callable[[], object]) -> None:
        try:
            work()
        except (OSError, ValueError):
            gone, self._gone = self._gone, lambda: None
            gone()


class TerminalDriver(LinuxDriver):
    """Leaves in order at SIGTERM, SIGHUP, SIGINT and where the terminal is gone, with 128 and the signal's number as exit code
    (common practice of shells). Gives the terminal back before a SIGTSTP sleeps and takes it anew at every SIGCONT, as a shell
    may have set it differently meanwhile."""

    def __init__(self, *arguments: Any, **options: Any) -> None:
        super().__init__(*arguments, **options)
        self._file = _Screen(self._file, self._gone)  # type: ignore[assignment, arg-type]  # only written to
        self._asleep = self._leaving = False
        for number in _LEAVE:
            self._loop.add_signal_handler(number, self._leave, number)
        self._loop.add_signal_handler(signal.SIGCONT, self._loop.call_later, _AWAKE_S, self._wake)

    def _sigtstp_application(self, *_: object) -> None:
        """Ctrl+Z typed before the terminal is the app's: there is nothing yet that could be given back."""

    def _sigcont_application(self, *_: object) -> None:
        """The like; once the loop answers signals it goes to _wake."""

    def start_application_mode(self) -> None:
        """As Textual, and Ctrl+Z puts the app to sleep in good order."""
        super().start_application_mode()  # type: ignore[no-untyped-call]
        self._loop.add_signal_handler(signal.SIGTSTP, self._sleep)

    def stop_application_mode(self) -> None:
        """As Textual, and the signals of the keyboard no longer reach what is ending."""
        if (
            not self._asleep
        ):  # for good: Ctrl+Z and Ctrl+C are signals again from here on, and must not strike an app half closed
            self._leaving = True
            for number in (signal.SIGTSTP, signal.SIGINT):
                self._loop.remove_signal_handler(number)
                signal.signal(number, signal.SIG_IGN)
        super().stop_application_mode()

    def _leave(self, number: int) -> None:
        if number != signal.SIGHUP:  # of a closing terminal several come; asked twice otherwise, the app ends at once
            self._loop.remove_signal_handler(number)
        if not self._leaving:
            self._leaving = True
            self._app.exit(return_code=128 + number)

    def _gone(self) -> None:
        """From any thread."""
        with contextlib.suppress(RuntimeError):  # the loop is over
            self._loop.call_soon_threadsafe(self._leave, signal.SIGHUP)

    def _sleep(self) -> None:
        if self._leaving or self._asleep:
            return
        cast("Silenced", self._app).fall_silent()
        self._give_back()
        cast("Any", self._app).link.flush()  # else the sound process would hear of it when we wake
        os.kill(os.getpid(), signal.SIGSTOP)

    def _wake(self) -> None:
        if self._leaving:
            return
        try:
            termios.tcgetattr(self.fileno)
        except termios.error:
            self._leave(signal.SIGHUP)
            return
        if not self._asleep:  # stopped by SIGSTOP, which nobody is told of beforehand
            self._give_back()
        self._asleep = False
        self._must_signal_resume = True
        self.resume_application_mode()

    def _give_back(self) -> None:
        self._asleep = True
        self.suspend_application_mode()

    # --- what comes in

    def _get_terminal_size(self) -> tuple[int, int]:
        width, height = super()._get_terminal_size()
        return min(width, MOST_COLUMNS), min(height, MOST_ROWS)

    def _run_input_thread(self) -> None:
        try:
            self.run_input_thread()
        except OSError:
            self._gone()

    def run_input_thread(self) -> None:
        """Textual's own reads strictly, and ends for good at the first byte that is no UTF-8."""
        terminal = TerminalInput()
        with selectors.DefaultSelector() as selector:
            selector.register(self.fileno, selectors.EVENT_READ)
            while not self.exit_event.is_set():
                messages: list[Message] = []
                if selector.select(_TICK_S):
                    data = os.read(self.fileno, _READ_AT_ONCE)
                    if not data:  # no terminal, and at its end: nothing will come any more
                        self.exit_event.wait()
                        return
                    messages += terminal.feed(data, time.perf_counter())
                messages += terminal.tick(time.perf_counter())
                for message in messages:
                    self.process_message(message)
