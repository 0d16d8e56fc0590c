"""Sound through a MIDI port, also when the port goes away and comes back."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable

from companion.sound.messages import Notice, Voice
from companion.sound.midi import Client, Port, Rtmidi, may_outlive_server, pick_output
from companion.sound.outputs import Sound, channels, panic, programs


class MidiOutput:
    """Sends to one port at the moment asked for. While the port is away it stays silent and keeps time."""

    lead_s = 0.0
    mixes = False

    def __init__(
        self,
        binding: Rtmidi,
        port: Port,
        voices: dict[str, Voice],
        part: str = "",
        clock: Callable[[], float] = time.perf_counter,
    ) -> None:
        """part: the part of a name the student asked for; a port that has it in its name may take the lost one's place."""
        self.now = clock
        self.port = port
        self._binding = binding
        self._voices = voices
        self._part = part
        self._client: Client | None = None
        self._connected = False
        self._connect()

    @property
    def kind(self) -> str:
        """See `Output`."""
        return "midi" if self._connected else "silent"

    def heard_s(self, at_s: float) -> float:
        """See `Output.heard_s`."""
        return at_s

    def clock_s(self, heard_s: float) -> float:
        """See `Output.clock_s`."""
        return heard_s

    def send(self, sound: Sound, at_s: float) -> float:
        """See `Output.send`."""
        if self._connected and self._client is not None:
            self._client.send(sound.wire())
        return self.now()

    def prepare(self, sounds: Iterable[Sound]) -> None:
        """See `Output.prepare`."""

    def volume(self, voice: str, volume: float) -> None:
        """See `Output.volume`."""

    def silence(self, voices: dict[str, Voice], sounding: Iterable[tuple[int, int]]) -> None:
        """See `Output.silence`."""
        for sound in panic(sounding, channels(voices)):
            self.send(sound, self.now())

    def check(self) -> Notice | None:
        """RtMidi raises nothing when a port is unplugged, so its name is looked for."""
        client = self._client
        if client is not None and client.is_dead:
            self._give_up_client()
        elif client is not None and self._connected:
            if any(port.name == self.port.name for port in client.ports()):
                return None
            client.leave()
        if self._connected:
            self._connected = False
            return Notice("lost", f"The MIDI port “{self.port.name}” went away. It will sound again when it is back.")
        return Notice("back", f"The MIDI port “{self.port.name}” is back.") if self._connect() else None

    def close(self) -> None:
        """See `Output.close`."""
        self._give_up_client()
        self._connected = False

    def _give_up_client(self) -> None:
        if self._client is not None:
            self._client.close()
            self._client = None

    def _connect(self) -> bool:
        """Look for the port, or for one that may take its place."""
        self._client = self._client or self._binding.client(self.port.api, incoming=False)
        if self._client is None:
            return False
        ports = [port for port in self._client.ports() if not port.is_own]
        port = self._find(ports)
        if port is not None and self._client.open(port):
            self._take(port)
            return True
        if not ports and may_outlive_server(self.port.api):
            self._give_up_client()
        return False

    def _find(self, ports: list[Port]) -> Port | None:
        same = [port for port in ports if port.plain_name == self.port.plain_name]
        if same:
            return self.port if self.port in same else same[0]
        return pick_output(ports, self._part) if self._part else None

    def _take(self, port: Port) -> None:
        self.port, self._connected = port, True
        # A clean start: whoever held this port before us may have died with a note down.
        self.silence(self._voices, ())
        for sound in programs(self._voices):
            self.send(sound, self.now())
