"""The student's keyboards: from the bytes of a port to notes, pedals and foot switches, for as many keyboards as there are."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator, Sequence

from companion.sound.messages import KeyboardGone, Keyboards, NoteIn, Notice, PedalIn, SwitchIn
from companion.sound.midi import Client, Port, PortWatch, Rtmidi, binding_fault, labels, pick_inputs
from companion.sound.outputs import NOTE_OFF, NOTE_ON
from companion.sound.switches import Switches

# MIDI 1.0: data bytes that follow each channel status (by its high four bits).
_DATA_BYTES = {0x80: 2, 0x90: 2, 0xA0: 2, 0xB0: 2, 0xC0: 1, 0xD0: 1, 0xE0: 2}


class Parser:
    """Splits a stream of bytes into channel messages (MIDI 1.0, "Data format").

    Running status is expanded. Real-time bytes (F8 to FF, active sensing among them) may stand anywhere, even within
    a message, and change nothing. System common (F0 to F7) ends running status; its data is passed over.
    """

    def __init__(self) -> None:
        self._status = 0  # 0: data bytes belong to nothing we know
        self._data: list[int] = []

    def feed(self, data: Iterable[int]) -> Iterator[tuple[int, ...]]:
        """The complete channel messages, each with its status byte."""
        for byte in data:
            if byte >= 0xF8:
                continue
            if byte >= 0x80:
                self._status = byte if byte < 0xF0 else 0
                self._data.clear()
                continue
            if not self._status:
                continue
            self._data.append(byte)
            if len(self._data) == _DATA_BYTES[self._status & 0xF0]:
                yield (self._status, *self._data)
                self._data.clear()


def report(
    message: tuple[int, ...], time_s: float, port: str, switches: Switches
) -> NoteIn | PedalIn | SwitchIn | None:
    """What a channel message means to us; None for what does not matter. A note-on of velocity 0 is a release (MIDI 1.0). switches: of that
    port."""
    kind = message[0] & 0xF0
    if kind == NOTE_ON:
        return NoteIn(time_s, message[1], message[2], port)
    if kind == NOTE_OFF:
        return NoteIn(time_s, message[1], 0, port)
    return switches.hear(message, time_s, port)


class Inputs:
    """Every keyboard that is listened to. `poll` often, `check` about once a second."""

    def __init__(
        self,
        binding: Rtmidi | None,
        parts: Sequence[str] = (),
        api: str = "",
        clock: Callable[[], float] = time.perf_counter,
    ) -> None:
        self._binding = binding
        self._fault = binding_fault() if binding is None else ""
        self._parts = tuple(parts)
        self._clock = clock
        self._open: dict[Port, tuple[Client, Parser, Switches]] = {}
        self._idle: list[Client] = []  # whose keyboards went, for the next that come
        self._lost: set[str] = set()  # plain names
        self._present: tuple[Port, ...] = ()  # all there are but loop-throughs, as `check` saw them last
        self._watch = PortWatch(binding, True, api, clock)

    @property
    def names(self) -> tuple[str, ...]:
        """Of the ports that are listened to, as the system lists them."""
        return tuple(port.name for port in self._open)

    @property
    def keyboards(self) -> Keyboards:
        """As `check` saw them last."""
        if self._binding is None:
            return Keyboards((), (), self._fault)
        called = labels(self._present)
        return Keyboards(tuple(called.values()), tuple(called.get(port, port.name) for port in self._open))

    def __bool__(self) -> bool:
        return bool(self._open)

    def poll(self) -> list[NoteIn | PedalIn | SwitchIn]:
        """All that has arrived, stamped now. A few microseconds when there is nothing."""
        reports: list[NoteIn | PedalIn | SwitchIn] = []
        for port, (client, parser, switches) in self._open.items():
            while (data := client.receive()) is not None:
                time_s = self._clock()
                for message in parser.feed(data):
                    if (heard := report(message, time_s, port.name, switches)) is not None:
                        reports.append(heard)
        return reports

    def check(self) -> list[KeyboardGone | Notice]:
        """Open keyboards that came, close those that went, and say so."""
        present = self._watch.all_ports()
        self._present = tuple(port for port in present if not port.is_loop_through)
        reports: list[KeyboardGone | Notice] = []
        for port in [port for port in self._open if port not in present]:
            client, _, _ = self._open.pop(port)
            client.leave()
            self._idle.append(client)
            self._lost.add(port.plain_name)
            reports.append(
                Notice("lost", f"The keyboard “{port.name}” went away. It will be heard again when it is back.")
            )
            reports.append(KeyboardGone(port.name))  # after it: what this does to a pass is said last
        for port in pick_inputs(present, self._parts):
            if port not in self._open and self._listen(port):
                back = port.plain_name in self._lost
                self._lost.discard(port.plain_name)
                reports.append(
                    Notice("back" if back else "info", f"The keyboard “{port.name}” is {'back' if back else 'there'}.")
                )
        return reports

    def close(self) -> None:
        """Listen to nothing any more."""
        for client in [*(client for client, _, _ in self._open.values()), *self._idle]:
            client.close()
        self._open.clear()
        self._idle.clear()
        self._watch.close()

    def _listen(self, port: Port) -> bool:
        client = self._client_for(port.api)
        if client is None:
            return False
        if not client.open(port):
            self._idle.append(client)
            return False
        self._open[port] = (client, Parser(), Switches())
        return True

    def _client_for(self, api: str) -> Client | None:
        """One that lost its keyboard, or a new one."""
        for client in self._idle.copy():
            if client.is_dead:
                self._idle.remove(client)
                client.close()
            elif client.api == api:
                self._idle.remove(client)
                return client
        return self._binding.client(api, incoming=True) if self._binding else None
