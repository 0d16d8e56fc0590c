"""The one seam through which everything sounds, and its silent and recording ends.

Every output has a clock of its own, in seconds: a MIDI port uses `time.perf_counter()`, the built-in sound counts the
frames it has mixed. The player lives on its output's clock and translates to perf_counter only for what it reports.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Protocol

from companion.sound.messages import Notice, Voice

NOTE_OFF, NOTE_ON, CONTROL, PROGRAM = 0x80, 0x90, 0xB0, 0xC0  # MIDI 1.0: status bytes of channel 1
SUSTAIN, ALL_NOTES_OFF = 64, 123  # MIDI 1.0: controller numbers


@dataclass(frozen=True, slots=True)
class Sound:
    """One thing to send. what: "note_on", "note_off", "program" or "control". channel: 1 to 16. note: MIDI number, program
    (1 to 128 as listed) or controller. value: velocity or the controller's value. voice: whose it is, "" for none;
    accent: the click's first beat; cymbal: the ride or hi-hat in its place, whose note is General MIDI's own. words: what is spoken, which only an output that mixes can."""

    what: str
    channel: int
    note: int
    value: int = 0
    voice: str = ""
    accent: bool = False
    cymbal: bool = False
    words: str = ""

    def wire(self) -> tuple[int, ...]:
        """The bytes of MIDI 1.0."""
        channel = self.channel - 1
        match self.what:
            case "note_on":
                return (NOTE_ON | channel, self.note, self.value)
            case "note_off":
                return (NOTE_OFF | channel, self.note, self.value)
            case "program":
                return (PROGRAM | channel, self.note - 1)
            case "control":
                return (CONTROL | channel, self.note, self.value)
        raise ValueError(f"{self.what!r} cannot be sent; expected note_on, note_off, program or control")


def panic(sounding: Iterable[tuple[int, int]], channels: Iterable[int]) -> Iterable[Sound]:
    """Everything that silences a synthesiser: a note-off for each (channel, note) known to sound, then pedal up and
    all notes off on each channel, for the notes nobody knows of."""
    for channel, note in sounding:
        yield Sound("note_off", channel, note)
    for channel in channels:
        yield Sound("control", channel, SUSTAIN, 0)
        yield Sound("control", channel, ALL_NOTES_OFF, 0)


def programs(voices: dict[str, Voice]) -> Iterable[Sound]:
    """The program changes a synthesiser needs before it plays these voices."""
    for name, voice in voices.items():
        if voice.program:
            yield Sound("program", voice.channel, voice.program, voice=name)


def channels(voices: dict[str, Voice]) -> tuple[int, ...]:
    """Every MIDI channel (1 to 16) in use, in order."""
    return tuple(sorted({voice.channel for voice in voices.values() if voice.channel}))


class Output(Protocol):
    """Where sound goes. lead_s: how long before its time an event
    must be handed over. mixes: whether it has a volume for each voice; else the player scales velocities."""

    lead_s: float
    mixes: bool

    @property
    def kind(self) -> str:
        """One of "builtin", "midi" and "silent", as it is now."""

    @property
    def now(self) -> Callable[[], float]:
        """Gives the seconds on this output's own clock."""

    def heard_s(self, at_s: float) -> float:
        """When (perf_counter) something due at `at_s` of this clock is heard."""

    def clock_s(self, heard_s: float) -> float:
        """The inverse of `heard_s`."""

    def send(self, sound: Sound, at_s: float) -> float:
        """Let it sound at `at_s`; returns when it really does, both on this clock. Never raises for a port that went."""

    def prepare(self, sounds: Iterable[Sound]) -> None:
        """What will be sent soon: time to make ready what takes long."""

    def volume(self, voice: str, volume: float) -> None:
        """Set a voice's volume, 0 to 1, at once. Does nothing where `mixes` is False."""

    def silence(self, voices: dict[str, Voice], sounding: Iterable[tuple[int, int]]) -> None:
        """Stop everything at once."""

    def check(self) -> Notice | None:
        """Look whether the port is still there, or there again. Costs up to a few ms: never shortly before an event."""

    def close(self) -> None:
        """Let go of the device or port. Safe to call twice."""


class SilentOutput:
    """Keeps time and makes no sound: the beat is on the screen."""

    kind = "silent"
    lead_s = 0.0
    mixes = False

    def __init__(self, clock: Callable[[], float] = time.perf_counter) -> None:
        self.now = clock

    def heard_s(self, at_s: float) -> float:
        """See `Output.heard_s`."""
        return at_s

    def clock_s(self, heard_s: float) -> float:
        """See `Output.clock_s`."""
        return heard_s

    def send(self, sound: Sound, at_s: float) -> float:
        """See `Output.send`."""
        return self.now()

    def prepare(self, sounds: Iterable[Sound]) -> None:
        """See `Output.prepare`."""

    def volume(self, voice: str, volume: float) -> None:
        """See `Output.volume`."""

    def silence(self, voices: dict[str, Voice], sounding: Iterable[tuple[int, int]]) -> None:
        """See `Output.silence`."""

    def check(self) -> Notice | None:
        """See `Output.check`."""
        return None

    def close(self) -> None:
        """See `Output.close`."""
