"""The sound process: the child that plays. Nothing here may import the screen; MIDI and audio libraries load on use.

It sleeps to absolute deadlines, with the garbage collector off and, where the system grants it, real-time priority. Commands
are read and ports looked after only while nothing is due soon.
"""

from __future__ import annotations

import gc
import os
import signal
import sys
import time
from collections.abc import Callable, Iterable
from multiprocessing.connection import Connection

from companion.errors import CompanionError
from companion.sound import fault_log, priority, spoken
from companion.sound.entering import tell_by
from companion.sound.messages import (
    Alive,
    Configure,
    Keyboards,
    Notice,
    Ping,
    Quit,
    Say,
    SharePlayed,
    SoundConfig,
    Spoken,
    Stop,
)
from companion.sound.midi import load_binding
from companion.sound.midi_in import Inputs
from companion.sound.output_choice import has_library
from companion.sound.output_keeper import OutputKeeper
from companion.sound.outputs import SilentOutput
from companion.sound.player import Player
from companion.sound.trace import Trace

COMMAND_S = 0.003  # commands are read while nothing is due sooner than this
WORK_S = 0.008  # bars are worked out while nothing is due sooner than this
CHORES_S = 0.03  # ports and files are looked after while nothing is due sooner than this
CHECK_S = 0.7  # how often ports and the parent are looked after
APP_CHECKS = (
    7  # after so many without a word from the app (5 s) it is taken for stopped, and nothing plays on without it
)
IDLE_S = 0.1  # the longest sleep
LISTEN_S, LISTEN_IDLE_S = 0.001, 0.004  # how often keyboards are read: while playing, while stopped
SPIN_S = 0.00015  # sleep ends this much early; the rest is waited for awake, as waking takes a tenth of a ms
TRACE_ROWS = 500


def main(connection: Connection, config: SoundConfig, parent: int, log: str = "") -> None:
    """Run until told to quit or the parent (a process id) is gone. The entry point of the spawned process. log: the file that keeps why
    it failed, "" for none."""
    quieten()
    if log:
        fault_log.watch(log)
    # The terminal's signals are for the app; if it dies of them, we see it go.
    for name in ("SIGINT", "SIGHUP", "SIGBREAK"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_IGN)
    signal.signal(signal.SIGTERM, _leave)
    try:
        SoundProcess(connection, config, parent).run()
    except Exception as error:
        fault_log.write_error(log, error)
        raise


def _leave(*_: object) -> None:
    raise SystemExit(0)


def quieten() -> None:
    """Point descriptors 0, 1 and 2 away from the terminal, where C libraries would write over the screen."""
    nowhere = os.open(os.devnull, os.O_RDWR)
    for descriptor in (0, 1, 2):
        os.dup2(nowhere, descriptor)
    if nowhere > 2:
        os.close(nowhere)
    sys.stdout = open(1, "w", closefd=False, encoding="utf-8", errors="replace")
    sys.stderr = open(2, "w", closefd=False, encoding="utf-8", errors="replace", buffering=1)


class SoundProcess:
    """The loop around the player."""

    def __init__(self, connection: Connection, config: SoundConfig, parent: int) -> None:
        self._connection = connection
        self._config = config
        self._parent = parent
        self._poller = _poller(connection)
        self._running = True
        self._stop_asked = False
        self._tidied = True
        self._next_check_s = 0.0
        self._unheard_checks = 0  # how often ports were looked after since the app said something
        tell_by(lambda at: self._report([Alive(at)]), base="start")
        _load_libraries(config)
        self._trace: Trace | None = None
        self._inputs = Inputs(None)
        self._keyboards: Keyboards | None = None
        self._player = Player(SilentOutput(), config.voices)
        self._outputs = OutputKeeper(self._player, priority.ask(config.realtime))

    def run(self) -> None:
        """Until told to quit, or the app is gone."""
        # The audio device's thread may have to wait this long, each time, for one that works out a bar.
        sys.setswitchinterval(0.0001)
        gc.collect()
        gc.disable()
        if hasattr(signal, "SIGTSTP"):
            # Ctrl+Z stops the whole group. Staying awake to end the notes is worth more than sleeping with one down.
            signal.signal(signal.SIGTSTP, self._ask_stop)
        try:
            self._configure(self._config)
            tell_by(lambda at: self._report([Alive(at)]))
            self._report([Alive()])
            while self._running:
                self._turn()
        finally:
            self._end()

    def _ask_stop(self, *_: object) -> None:
        self._stop_asked = True

    # --- the loop

    def _turn(self) -> None:
        player = self._player
        gap_s = player.gap_s()
        if gap_s <= 0:
            self._play_on(player.advance)
        elif gap_s <= COMMAND_S:
            self._wait_closely(gap_s)
        else:
            self._spare_time(gap_s)
            return
        self._report(player.take_reports())

    def _wait_closely(self, gap_s: float) -> None:
        """Sleep until the next event is due, hearing keyboards meanwhile, and send it."""
        player = self._player
        while self._inputs and gap_s > 2 * LISTEN_S:
            time.sleep(LISTEN_S)
            self._report(self._inputs.poll())
            gap_s = player.gap_s()
        self._play_on(lambda: player.make_ready(COMMAND_S))
        gap_s = player.gap_s()
        if gap_s > COMMAND_S:  # there was nothing to send: a beat to report, the end of the last bar
            return
        if gap_s > SPIN_S:
            time.sleep(gap_s - SPIN_S)
        next_s, now = player.next_s(), player.output.now
        while now() < next_s:
            pass
        self._play_on(player.advance)

    def _spare_time(self, gap_s: float) -> None:
        player = self._player
        if self._stop_asked:
            self._stop_asked = False
            player.handle(Stop())
        if gap_s > WORK_S:
            self._play_on(player.prepare)
        self._collect_garbage()
        self._report(player.take_reports())
        self._report(self._inputs.poll())
        if gap_s > CHORES_S and time.perf_counter() >= self._next_check_s:
            self._chores()
        listen_s = (LISTEN_S if player.playing else LISTEN_IDLE_S) if self._inputs else IDLE_S
        wait_s = min(player.gap_s() - COMMAND_S / 2, player.report_gap_s(), listen_s)
        if self._poller(max(0.0, wait_s)):
            self._receive()

    def _receive(self) -> None:
        try:
            message = self._connection.recv()
        except (EOFError, OSError):  # the app is gone
            self._running = False
            return
        self._unheard_checks = 0
        if isinstance(message, Quit):
            self._running = False
        elif isinstance(message, Ping):
            self._report([Alive()])
        elif isinstance(message, Spoken):
            spoken.keep(message)
        elif isinstance(message, Say):
            spoken.say(message, self._player.output)
        elif isinstance(message, SharePlayed):
            from companion.sound.played import share  # numpy, which a silent process has not loaded

            share(message.name)
        elif isinstance(message, Configure):
            self._configure(message.config)
        else:
            self._obey(message)
        self._report(self._player.take_reports())

    def _obey(self, message: object) -> None:
        try:
            self._player.handle(message)
        except CompanionError as error:  # said; what plays goes on
            self._report([Notice("error", str(error))])

    def _play_on(self, step: Callable[[], None]) -> None:
        """Advance or prepare. A bar that cannot be worked out ends the music with a sentence, not the process."""
        try:
            step()
        except CompanionError as error:
            self._player.stop()
            self._report([Notice("error", str(error))])

    # --- what is looked after now and then

    def _chores(self) -> None:
        self._next_check_s = time.perf_counter() + CHECK_S
        # On Windows a dead parent keeps its number: the pipe alone tells.
        if sys.platform != "win32" and os.getppid() != self._parent:
            self._running = False
        self._unheard_checks += 1
        if self._unheard_checks > APP_CHECKS and self._player.playing:
            self._player.handle(Stop())
        self._check_inputs()
        self._report(self._outputs.check())
        if self._trace is not None and (len(self._trace) > TRACE_ROWS or not self._player.playing):
            self._trace.flush()

    def _check_inputs(self) -> None:
        self._report(self._inputs.check())
        keyboards = self._inputs.keyboards
        if keyboards != self._keyboards:
            self._keyboards = keyboards
            self._report([keyboards])

    def _collect_garbage(self) -> None:
        """Only when the music has stopped: a collection costs ms, even the audio device's thread waits for it. What was there
        when the process came up is frozen and never looked at, which leaves little."""
        if self._player.playing:
            self._tidied = False
        elif not self._tidied:
            self._tidied = True
            gc.collect()

    def _configure(self, config: SoundConfig) -> None:
        before, self._config = self._config, config
        notices = self._open_trace(before, config)
        self._player.trace = self._trace
        binding = load_binding(config.avoid)
        ready = self._outputs.configure(config, binding)
        gc.freeze()
        self._report([ready, *notices])
        self._inputs.close()
        self._inputs = Inputs(binding, config.midi_in, config.api)
        self._check_inputs()
        self._report(self._outputs.check())
        self._next_check_s = time.perf_counter() + CHECK_S

    def _open_trace(self, before: SoundConfig, config: SoundConfig) -> list[Notice]:
        if self._trace is not None and config.trace == before.trace:
            return []
        if self._trace is not None:
            self._trace.close()
            self._trace = None
        if config.trace:
            try:
                self._trace = Trace(config.trace)
            except OSError as error:
                return [Notice("error", f"The trace cannot be written to {config.trace}: {error.strerror or error}.")]
        return []

    def _report(self, reports: Iterable[object]) -> None:
        """Send to the app. One that does not read (it may be stopped) is not waited for."""
        for report in reports:
            try:
                if _writable(self._connection):
                    self._connection.send(report)
            except (OSError, ValueError):  # gone; the next read says so
                return

    def _end(self) -> None:
        """What sounds first: the app does not wait long for the rest."""
        signal.signal(signal.SIGTERM, signal.SIG_IGN)  # leaving already
        self._player.silence()
        if self._trace is not None:
            self._trace.close()
        self._outputs.close()
        self._inputs.close()


def _load_libraries(config: SoundConfig) -> None:
    """What will be used, before real-time priority is asked for: the app starts at the same time and needs a processor too."""
    if config.mode in ("auto", "builtin") and has_library():
        import miniaudio  # noqa: F401

        import companion.sound.builtin  # noqa: F401
    load_binding()


def _poller(connection: Connection) -> Callable[[float], object]:
    """A function of seconds that waits for something to read; select.poll itself, as Connection.poll costs ten times more.

    Whole milliseconds, rounded down: to wake too late is worse than to wake twice."""
    import select

    if not hasattr(select, "poll"):  # Windows
        return lambda seconds: _poll_pipe(connection, int(seconds * 1000) / 1000)
    poll = select.poll()
    poll.register(connection.fileno(), select.POLLIN)
    return lambda seconds: poll.poll(int(seconds * 1000))


def _poll_pipe(connection: Connection, seconds: float) -> bool:
    try:
        return connection.poll(seconds)
    except OSError:  # Windows raises where others say that there is something to read: the end, which recv tells
        return True


def _writable(connection: Connection) -> bool:
    try:
        import select

        return bool(select.select([], [connection.fileno()], [], 0)[1])
    except (OSError, ValueError):  # Windows' pipes cannot be asked
        return sys.platform == "win32"
