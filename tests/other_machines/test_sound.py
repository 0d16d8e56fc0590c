"""The sound process on macOS and Windows, with what Python lacks or does otherwise there faked.

This proves our own branches only. What Windows really does stands beside each fake, from Python's and Microsoft's
documentation.
"""

from __future__ import annotations

import ctypes
import multiprocessing
import os
import select
import signal
import subprocess
import sys
import time
from types import SimpleNamespace

import pytest

from companion.errors import SoundError
from companion.sound import devices, priority, process, spawn
from companion.sound.link import SoundLink
from companion.sound.messages import Notice, Ready, SoundConfig, default_voices
from companion.sound.midi import Client, Port, Rtmidi
from companion.sound.midi_in import Inputs
from companion.sound.midi_out import MidiOutput

SILENT = SoundConfig(mode="silent", realtime=False)  # what is asked for here is asked for the process of the tests
_MISSING_ON_WINDOWS = ("SIGHUP", "SIGTSTP", "SIGCONT", "SIGKILL", "SIGSTOP")  # Python's library reference, "signal"


class WindowsPipe:
    """As multiprocessing's PipeConnection on Windows once the other end is gone: PeekNamedPipe raises in `poll`, and
    a handle is nothing that select takes (Python's library reference: "on Windows, only sockets")."""

    def __init__(self, waits_s: list[float] | None = None) -> None:
        self.waits_s = waits_s if waits_s is not None else []
        self.sent: list[object] = []

    def poll(self, seconds: float) -> bool:
        self.waits_s.append(seconds)
        raise BrokenPipeError(109, "The pipe has been ended")

    def recv(self) -> object:
        raise EOFError

    def fileno(self) -> int:
        return -1

    def send(self, report: object) -> None:
        self.sent.append(report)


@pytest.fixture
def windows(monkeypatch):
    """What the sound process asks for is as on Windows."""
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.delattr(select, "poll")
    for name in _MISSING_ON_WINDOWS:
        monkeypatch.delattr(signal, name)
    for name in ("sched_setscheduler", "nice", "getpriority"):
        monkeypatch.delattr(os, name)
    calls: list[tuple] = []
    kernel = SimpleNamespace(GetCurrentProcess=_call(calls, "process", 7), SetPriorityClass=_call(calls, "class", 1))
    monkeypatch.setattr(
        ctypes,
        "windll",
        SimpleNamespace(winmm=SimpleNamespace(timeBeginPeriod=_call(calls, "timer", 0)), kernel32=kernel),
        raising=False,
    )
    return calls


def _call(calls: list[tuple], name: str, answer: int):
    def call(*arguments: object) -> int:
        calls.append((name, *(getattr(one, "value", one) for one in arguments)))
        return answer

    return call


def test_windows_is_asked_for_fine_ticks_by_every_program_and_for_its_high_class_with_realtime(windows):
    """Microsoft: a wait ends on a tick, 15.6 ms apart unless timeBeginPeriod asks for less; HIGH_PRIORITY_CLASS is
    0x80."""
    assert priority.ask(False) is False
    assert windows == [("timer", 1)]
    assert priority.ask(True) is False
    assert windows[1:] == [("timer", 1), ("process",), ("class", 7, 0x80)]


def test_windows_without_those_libraries_is_no_fault(windows, monkeypatch):
    monkeypatch.setattr(ctypes, "windll", SimpleNamespace())
    assert priority.ask(True) is False


def test_macos_has_no_scheduler_to_ask(monkeypatch):
    """Python's library reference: os.sched_setscheduler is for "some Unix", macOS not among them; nice -10 is refused
    there."""
    monkeypatch.setattr(sys, "platform", "darwin")
    monkeypatch.delattr(os, "sched_setscheduler")

    def refused(step: int) -> int:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "nice", refused)
    assert priority.ask(True) is False


def test_pipes_are_asked_in_whole_milliseconds_rounded_down_and_an_ended_one_is_read(windows):
    """multiprocessing.connection.wait rounds to the nearest millisecond on Windows, which may be too late."""
    pipe = WindowsPipe()
    wait = process._poller(pipe)
    assert wait(0.0098) is True  # read, and the end is found there
    assert pipe.waits_s == [0.009]


def test_reports_go_out_though_a_pipe_of_windows_cannot_be_asked(windows):
    assert process._writable(WindowsPipe())


def test_reports_do_not_go_where_asking_fails_elsewhere():
    assert not process._writable(WindowsPipe())


def test_the_loop_runs_and_leaves_at_the_end_of_the_pipe_on_windows(windows, monkeypatch):
    """No signal of Unix, no select.poll, and a parent's number that says nothing: os.getppid gives that of a dead one
    too."""
    monkeypatch.setattr(process, "CHECK_S", 0.0)
    handlers: dict = {}
    monkeypatch.setattr(signal, "signal", lambda number, handler: handlers.setdefault(number, handler))
    monkeypatch.setattr(signal, "SIGBREAK", 21, raising=False)
    monkeypatch.setattr(process, "quieten", lambda: None)
    monkeypatch.setattr(process.gc, "disable", lambda: None)  # this is the tests' own process
    monkeypatch.setattr(process.gc, "freeze", lambda: None)
    interval_s = sys.getswitchinterval()
    pipe = WindowsPipe()
    turns = iter([False, False])
    pipe.poll = lambda seconds: next(turns) if turns.__length_hint__() else WindowsPipe().poll(seconds)
    try:
        process.main(pipe, SILENT, parent=-1)
    finally:
        sys.setswitchinterval(interval_s)
    ready = next(report for report in pipe.sent if isinstance(report, Ready))
    assert ready.output == "silent"
    assert not turns.__length_hint__(), "it looked for its parent's number, and left before the pipe ended"
    assert (
        handlers[signal.SIGINT] == handlers[21] == signal.SIG_IGN
    )  # 21: Ctrl+Break, which goes to every process of a console


def test_elsewhere_a_parent_that_is_gone_ends_the_loop(monkeypatch):
    ours, theirs = multiprocessing.Pipe()
    child = process.SoundProcess(theirs, SILENT, parent=-1)
    child._configure(SILENT)
    child._chores()
    assert child._running is False
    child._outputs.close()
    ours.close()
    theirs.close()


def test_devices_say_so_when_the_process_that_looks_dies_on_windows(monkeypatch):
    """Its pipe then raises BrokenPipeError in `poll` there, where Linux says that there is something to read."""
    child = SimpleNamespace(start=lambda: None, kill=lambda: None, join=lambda: None)
    ours = SimpleNamespace(poll=WindowsPipe().poll, recv=None, close=lambda: None)
    context = SimpleNamespace(
        Pipe=lambda duplex: (ours, SimpleNamespace(close=lambda: None)), Process=lambda **_: child
    )
    monkeypatch.setattr(devices.multiprocessing, "get_context", lambda kind: context)
    with pytest.raises(SoundError, match="could not be listed"):
        devices.describe_devices(SILENT)


# --- starting by spawn, the only way on Windows and the usual one on macOS


def test_both_processes_are_started_by_spawn():
    with SoundLink(SILENT) as link:
        assert type(link._child._process).__name__ == "SpawnProcess"


def test_a_file_in_the_folder_one_stands_in_is_not_run(tmp_path):
    """A spawned Python begins with `-c`, which would find these before its own library's."""
    for name in ("pickle", "socket", "struct", "tempfile"):
        (tmp_path / f"{name}.py").write_text("import os; os.mkdir('was-run')", encoding="utf-8")
    elsewhere = tmp_path / "bin"
    elsewhere.mkdir()
    (elsewhere / "start.py").write_text(
        "import time\n"
        "from companion.sound.link import SoundLink\n"
        "from companion.sound.messages import Ready, SoundConfig\n"
        "if __name__ == '__main__':\n"
        "    with SoundLink(SoundConfig(mode='silent')) as link:\n"
        "        end_s = time.monotonic() + 60\n"
        "        while not any(isinstance(report, Ready) for report in link.poll()):\n"
        "            assert time.monotonic() < end_s\n"
        "            time.sleep(0.01)\n"
        "    print('ready')\n",
        encoding="utf-8",
    )
    package = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(process.__file__))))
    environ = {name: value for name, value in os.environ.items() if name != "PYTHONSAFEPATH"} | {"PYTHONPATH": package}
    done = subprocess.run(
        [sys.executable, str(elsewhere / "start.py")],
        cwd=tmp_path,
        env=environ,
        check=False,
        capture_output=True,
        encoding="utf-8",
        timeout=300,
    )
    assert (done.stdout.strip(), (tmp_path / "was-run").exists()) == ("ready", False), done.stderr


@pytest.mark.parametrize("before", [None, "", "1"])
def test_starting_leaves_the_environment_as_it_was(monkeypatch, before):
    if before is None:
        monkeypatch.delenv("PYTHONSAFEPATH", raising=False)
    else:
        monkeypatch.setenv("PYTHONSAFEPATH", before)
    seen = []
    spawn.start(SimpleNamespace(start=lambda: seen.append(os.environ["PYTHONSAFEPATH"])))
    assert seen == ["1"] and os.environ.get("PYTHONSAFEPATH") == before


# --- MIDI: Core MIDI and Windows through both bindings


class FakeOut:
    """RtMidi's own order: where the API asked for is not compiled in, another is taken without a word (RtMidi.cpp)."""

    system, names = 0, ()

    def __init__(self, api: int = 0, name: str = "", clientname: str = "") -> None:
        self.opened = None

    def get_current_api(self) -> int:
        return self.system

    def get_ports(self) -> list[str]:
        return list(self.names)

    def open_port(self, number: int, name: str) -> None:
        self.opened = number

    def send_message(self, data) -> None: ...

    def close_port(self) -> None: ...


class FakeIn(FakeOut):
    send_message = None

    def get_message(self) -> None: ...


# The numbers are those of RtMidi.h, RtMidi::Api, which both bindings hand on.
_NUMBERS = {"API_MACOSX_CORE": 1, "API_LINUX_ALSA": 2, "API_UNIX_JACK": 3, "API_WINDOWS_MM": 4}


def _binding(binding: str, number: int, names: tuple[str, ...] = ()) -> Rtmidi:
    """A binding on a system whose only API has that number. python-rtmidi says which are compiled in, rtmidi2 does
    not."""
    kinds = {
        kind.__name__: type(kind.__name__, (kind,), {"system": number, "names": names}) for kind in (FakeOut, FakeIn)
    }
    module = SimpleNamespace(MidiOut=kinds["FakeOut"], MidiIn=kinds["FakeIn"], **_NUMBERS)
    if binding == "python-rtmidi":
        module.get_compiled_api = lambda: [number]
    return Rtmidi(module)


@pytest.mark.parametrize("binding", ["python-rtmidi", "rtmidi2"])
@pytest.mark.parametrize(("api", "number"), [("core", 1), ("windows", 4)])
def test_only_the_systems_own_midi_is_used(binding, api, number):
    rtmidi = _binding(binding, number, ("Piano 1",))
    assert rtmidi.name == binding
    found = {name: client for name in rtmidi.apis() if (client := rtmidi.client(name, incoming=False)) is not None}
    assert list(found) == [api]
    assert found[api].ports() == (Port(api, "Piano 1"),)


def test_the_numbers_of_rtmidi_are_those_the_installed_binding_hands_on():
    module = pytest.importorskip("rtmidi" if sys.version_info < (3, 13) else "rtmidi2")
    assert {name: getattr(module, name) for name in _NUMBERS} == _NUMBERS


@pytest.mark.parametrize(
    ("api", "name", "plain"),
    [
        ("windows", "Digital Piano 1", "Digital Piano"),  # RtMidi numbers the ports of Windows in their order
        ("windows", "Model 88 0", "Model 88"),
        ("core", "IAC Driver Bus 1", "IAC Driver Bus 1"),  # the name of the port itself
        ("core", "Model 88", "Model 88"),
        ("jack", "a2j:Model 88", "a2j:Model 88"),
        ("alsa", "Model 88:Model 88 MIDI 1 20:0", "Model 88:Model 88 MIDI 1"),
        ("alsa", "Model 88", "Model 88"),
    ],
)
def test_only_numbers_that_change_are_taken_off_a_ports_name(api, name, plain):
    assert Port(api, name).plain_name == plain


class Ports:
    """A binding of one API whose ports a test moves about."""

    name = "fake"

    def __init__(self, api: str, *names: str) -> None:
        self.api, self.names = api, names

    def apis(self) -> tuple[str, ...]:
        return (self.api,)

    def client(self, api: str, incoming: bool) -> Client:
        kind = type("Raw", (FakeIn if incoming else FakeOut,), {"get_ports": lambda raw: list(self.names)})
        return Client(kind(), api, (RuntimeError, ValueError))


def test_a_second_port_of_windows_that_renumbers_ours_costs_a_moment_and_is_mended():
    ports = Ports("windows", "Digital Piano 0")
    output = MidiOutput(ports, Port("windows", "Digital Piano 0"), default_voices())
    ports.names = ("Other 0", "Digital Piano 1")
    assert output.check().kind == "lost" and output.kind == "silent"
    assert output.check().kind == "back" and output.port == Port("windows", "Digital Piano 1")
    inputs = Inputs(ports, ("Digital",), clock=lambda: time.perf_counter())
    assert [notice.kind for notice in inputs.check()] == ["info"]
    ports.names = ("Digital Piano 0",)
    assert [notice.kind for notice in inputs.check() if isinstance(notice, Notice)] == ["lost", "back"]
    assert inputs.names == ("Digital Piano 0",)


def test_a_bus_of_core_midi_is_not_taken_for_its_neighbour():
    ports = Ports("core", "IAC Driver Bus 1", "IAC Driver Bus 2")
    output = MidiOutput(ports, Port("core", "IAC Driver Bus 2"), default_voices())
    ports.names = ("IAC Driver Bus 1",)
    assert output.check().kind == "lost"
    assert output.check() is None and output.kind == "silent"  # Bus 1 is another's
    ports.names = ("IAC Driver Bus 1", "IAC Driver Bus 2")
    assert output.check().kind == "back" and output.port.name == "IAC Driver Bus 2"


def test_of_two_like_ports_the_very_one_is_taken_again():
    ports = Ports("windows", "Digital Piano 0", "Digital Piano 1")
    output = MidiOutput(ports, Port("windows", "Digital Piano 1"), default_voices())
    ports.names = ()
    assert output.check().kind == "lost"
    ports.names = ("Digital Piano 0", "Digital Piano 1")
    assert output.check().kind == "back" and output.port.name == "Digital Piano 1"
