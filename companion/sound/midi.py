"""The one thin seam over MIDI ports: python-rtmidi where it is installed, else rtmidi2, else none.

Both bind the same library; python-rtmidi's wheels end at Python 3.12, rtmidi2's go on. Only this module knows them.
The process that opens ports points its own descriptor 2 elsewhere first (see process.py): ALSA and JACK write there from C.
"""

from __future__ import annotations

import contextlib
import importlib
import math
import re
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from companion.sound.entering import entering
from companion.sound.jack import jack_pulse

CLIENT_NAME = "companion"
RETRY_S = 1.0  # how often an API that is missing is tried again, which costs a few ms
EMPTY_RETRY_S = 30.0  # and one that lists nothing: each new client makes JACK rearrange everything
# Names of ports that only carry back what is sent to them: nothing sounds there (ALSA's own name for them).
_LOOP_THROUGH = ("midi through",)
_BINDINGS = ("rtmidi", "rtmidi2")
# API -> what stands behind a port's name and changes each time it comes back: ALSA's client and port, RtMidi's count of
# Windows' ports. Core MIDI and JACK have nothing of the kind: a number there is the port's own.
_CHANGING = {"alsa": re.compile(r"\s+\d+:\d+$"), "windows": re.compile(r"\s+\d+$")}


@dataclass(frozen=True, slots=True)
class Port:
    """api: "alsa", "jack", "core" or "windows". name: as the system lists it now."""

    api: str
    name: str

    @property
    def plain_name(self) -> str:
        """Without the numbers that change each time a port comes back: ALSA's "Piano:Piano MIDI 1 20:0", Windows' "Piano 1"."""
        changing = _CHANGING.get(self.api)
        return changing.sub("", self.name) if changing else self.name

    @property
    def is_loop_through(self) -> bool:
        """Whether nothing sounds there, as it only carries back what is sent."""
        return any(name in self.name.lower() for name in _LOOP_THROUGH)

    @property
    def is_own(self) -> bool:
        """Whether it is one of ours."""
        return self.name.lower().startswith(CLIENT_NAME)

    def matches(self, part: str) -> bool:
        """Whether `part` is part of its name, in whatever letters."""
        return part.lower() in self.name.lower()


class Rtmidi:
    """A binding of RtMidi, both kinds behind one face. module: `rtmidi` or `rtmidi2`. avoid: APIs to leave alone."""

    def __init__(self, module: Any, avoid: Sequence[str] = ()) -> None:
        self._module = module
        # What a binding raises for a system or port that is not there: its own error, or a C++ one as RuntimeError.
        self._errors = (getattr(module, "RtMidiError", RuntimeError), RuntimeError, OSError, ValueError)
        self.name = "python-rtmidi" if hasattr(module, "get_compiled_api") else "rtmidi2"
        known = {
            "alsa": "API_LINUX_ALSA",
            "jack": "API_UNIX_JACK",
            "core": "API_MACOSX_CORE",
            "windows": "API_WINDOWS_MM",
        }
        self._apis = {api: getattr(module, constant) for api, constant in known.items() if hasattr(module, constant)}
        if self.name == "python-rtmidi":
            compiled = module.get_compiled_api()
            self._apis = {api: number for api, number in self._apis.items() if number in compiled}
        self._apis = {api: number for api, number in self._apis.items() if api not in avoid}

    def apis(self) -> tuple[str, ...]:
        """Those in the binding; whether the system has one shows only when a client is made."""
        return tuple(self._apis)

    def client(self, api: str, incoming: bool) -> Client | None:
        """A client of that API, not yet connected. None where the system does not have the API."""
        if api == "jack" and not incoming and not self._jack_is_up():
            return None
        kind = self._module.MidiIn if incoming else self._module.MidiOut
        try:
            with entering(api):
                if self.name == "python-rtmidi":
                    raw = kind(self._apis[api], name=CLIENT_NAME)
                else:
                    raw = kind(clientname=CLIENT_NAME, api=self._apis[api])
                # Where the API asked for is missing, RtMidi may quietly take another.
                return Client(raw, api, self._errors) if raw.get_current_api() == self._apis[api] else None
        except self._errors:
            return None

    def _jack_is_up(self) -> bool:
        """Asked before an output: each one that finds no server leaves 16 kB behind (RtMidi 6 lays its buffers out before it connects), 20 MB
        an hour as it is tried every few seconds. An input leaves next to nothing, so one is tried where JACK's own library is not there."""
        if (pulse := jack_pulse()).can_ask:
            return pulse.is_up()
        probe = self.client("jack", incoming=True)
        if probe is not None:
            probe.close()
        return probe is not None


class Client:
    """One RtMidi object: lists ports and opens at most one. A port that went is told by return values, never raised.

    Where its port goes, `leave` it and keep the client for the next: jackd2's library may wait for ever in jack_client_close while other
    clients come or go. `close` is for the end, and for a client that is dead."""

    def __init__(self, raw: Any, api: str, errors: tuple[type[Exception], ...]) -> None:
        self._raw = raw
        self._errors = errors
        self.api = api
        self._server = jack_pulse().server() if api == "jack" else 0
        self._send: Any = raw.send_message if hasattr(raw, "send_message") else None

    @property
    def is_dead(self) -> bool:
        """Whether the JACK server behind it ended; it still lists that one's ports then."""
        return self.api == "jack" and jack_pulse().server() != self._server

    def ports(self) -> tuple[Port, ...]:
        """Those that the system lists now; none where it went away."""
        try:
            with entering(self.api):
                names = self._raw.get_ports() if hasattr(self._raw, "get_ports") else list(self._raw.ports)
        except self._errors:  # the system behind the API went away
            return ()
        return tuple(Port(self.api, name) for name in names)

    def open(self, port: Port) -> bool:
        """Connect to `port`; False if it is no longer there."""
        try:
            number = [other.name for other in self.ports()].index(port.name)
            with entering(self.api):
                if hasattr(self._raw, "get_ports"):
                    self._raw.open_port(number, "out" if self._send else "in")
                else:
                    self._raw.open_port(number)
        except self._errors:  # gone between listing and opening, or in use by another program
            return False
        return True

    def send(self, data: Sequence[int]) -> None:
        """Send one message. A port that has gone swallows it; who needs to know looks at `ports`."""
        with contextlib.suppress(*self._errors):
            self._send(data)

    def receive(self) -> Sequence[int] | None:
        """The bytes of the oldest message waiting, None if there is none."""
        message = self._raw.get_message()
        if not message:
            return None
        return message[0] if isinstance(message[0], (list, tuple)) else message

    def leave(self) -> None:
        """Let go of the port; another can be opened."""
        with contextlib.suppress(*self._errors), entering(self.api):  # closing what is gone already is no fault
            self._raw.close_port()

    def close(self) -> None:
        """Let go of the port and of the system."""
        self.leave()
        with contextlib.suppress(*self._errors), entering(self.api):
            if hasattr(self._raw, "delete"):
                self._raw.delete()


def load_binding(avoid: Sequence[str] = ()) -> Rtmidi | None:
    """The binding of this Python, None where none can be loaded: then MIDI is off. avoid: APIs to leave alone."""
    for name in _BINDINGS:
        try:
            module = importlib.import_module(name)  # 2 ms
        except ImportError:
            continue
        if name != "rtmidi" or hasattr(module, "get_compiled_api"):
            return Rtmidi(module, avoid)
    return None


def binding_fault() -> str:
    """Why there is no binding, for the middle of a sentence: none is installed, or what it needs of the system is not there."""
    for name in _BINDINGS:
        try:
            importlib.import_module(name)
        except ModuleNotFoundError:
            continue
        except ImportError as error:  # installed, but the loader did not find a library, which it names first
            missing = str(error).partition(":")[0]
            what = f"the system's {missing} is missing" if ".so" in missing else str(error)
            return f"the MIDI library {name} cannot be loaded, as {what}"
    return "no MIDI library for this Python is installed"


class PortWatch:
    """Sees the ports of every API the system has come and go, ours left out.

    One client an API is kept to look through. Where an API is missing, or shows nothing (a client does not outlive its
    JACK server), a new client is tried now and then only: each try costs some ms.
    """

    def __init__(
        self, binding: Rtmidi | None, incoming: bool, api: str = "", clock: Callable[[], float] = time.perf_counter
    ) -> None:
        """api: "" for all."""
        self._binding = binding
        self._incoming = incoming
        self._clock = clock
        self._apis = [name for name in (binding.apis() if binding else ()) if api in ("", name)]
        self._clients: dict[str, Client] = {}
        self._tried_s: dict[str, float] = {}

    def ports(self) -> dict[str, tuple[Port, ...]]:
        """What each API present lists now."""
        for api in [api for api, client in self._clients.items() if client.is_dead]:
            self._clients.pop(api).close()
            self._tried_s[api] = self._clock()
        found = {}
        for api in self._apis:
            ports = self._clients[api].ports() if api in self._clients else ()
            wait_s = EMPTY_RETRY_S if api in self._clients else RETRY_S
            if (
                not ports
                and (api not in self._clients or may_outlive_server(api))
                and self._clock() - self._tried_s.get(api, -math.inf) > wait_s
            ):
                self._renew(api)
                ports = self._clients[api].ports() if api in self._clients else ()
            if api in self._clients:
                found[api] = tuple(port for port in ports if not port.is_own)
        return found

    def all_ports(self) -> tuple[Port, ...]:
        """The ports of all APIs, one after the other."""
        return tuple(port for ports in self.ports().values() for port in ports)

    def close(self) -> None:
        """Let go of the port and of the system."""
        for client in self._clients.values():
            client.close()
        self._clients.clear()

    def _renew(self, api: str) -> None:
        self._tried_s[api] = self._clock()
        if api in self._clients:
            self._clients.pop(api).close()
        client = self._binding.client(api, self._incoming) if self._binding else None
        if client is not None:
            self._clients[api] = client


def may_outlive_server(api: str) -> bool:
    """Whether a client that sees nothing may be that of a JACK server that ended, as nobody can be asked."""
    return api == "jack" and not jack_pulse().knows


def list_ports(binding: Rtmidi | None, incoming: bool, api: str = "") -> dict[str, tuple[Port, ...]]:
    """The ports of every API the system has, ours left out. api: "" for all."""
    watch = PortWatch(binding, incoming, api)
    found = watch.ports()
    watch.close()
    return found


def labels(ports: Sequence[Port]) -> dict[Port, str]:
    """What to call each port so that it is known again: without the numbers that change, where no two would be alike then."""
    plain = [port.plain_name for port in ports]
    return {port: port.plain_name if plain.count(port.plain_name) == 1 else port.name for port in ports}


def pick_output(ports: Sequence[Port], part: str) -> Port | None:
    """The first port with `part` in its name; without a part the first that is not a loop-through."""
    for port in ports:
        if port.matches(part) if part else not port.is_loop_through:
            return port
    return None


def pick_inputs(ports: Sequence[Port], parts: Sequence[str]) -> tuple[Port, ...]:
    """Every port whose name has one of `parts` in it; without parts every one that is not a loop-through, of the first API
    that has any (a keyboard can show in two)."""
    if parts:
        return tuple(port for port in ports if any(port.matches(part) for part in parts))
    real = [port for port in ports if not port.is_loop_through]
    return tuple(port for port in real if port.api == real[0].api)
