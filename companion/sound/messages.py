"""What the app and the sound process say to each other: plain, picklable data.

Times are seconds of `time.perf_counter()`, which is one clock for all processes of a machine on Linux, macOS and Windows.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from companion.groove.model import Arrangement


SPOKEN_RATE = 48000  # frames a second of what is spoken: that of the built-in sound


@dataclass(frozen=True, slots=True)
class Voice:
    """Where a voice goes in General MIDI. channel: 1 to 16, 0 for one that no MIDI port can play; program: 1 to 128 as listed (the wire carries one less), 0 sends
    none. note and accent_note are for the click only. volume: 0 to 1."""

    channel: int
    program: int = 0
    note: int = 0
    accent_note: int = 0
    volume: float = 0.8


def default_voices() -> dict[str, Voice]:
    """A new table of the voices as shipped, by part."""
    return {
        "click": Voice(channel=10, note=77, accent_note=76),  # GM percussion: low and high wood block
        "bass": Voice(channel=2, program=33),  # GM: Acoustic Bass
        "left": Voice(channel=1, program=1),  # GM: Acoustic Grand Piano
        "calls": Voice(channel=0),
        "right": Voice(channel=3, program=12),  # GM: Vibraphone, which stands out from a piano
    }


@dataclass(frozen=True, slots=True)
class SoundConfig:
    """How to sound. mode: "auto", "builtin", "midi" or "silent". midi_out: part of a port's name, "" for the first that
    is not a loop-through. midi_in: parts of port names to listen to, () for every keyboard present. api: "" for any, "alsa" or
    "jack". trace: a CSV file for every event sent, "" for none. audio_backend: "" for the system's, "null" or "jack".
    realtime: whether to ask the system for real-time priority. avoid: systems that do not answer and are left alone: MIDI APIs,
    "audio". soundfont: the path of the student's own, "" for the built-in voices. kept: the folder where notes that were made are kept; where there is none, the built-in voices stay plain."""

    mode: str = "auto"
    midi_out: str = ""
    midi_in: tuple[str, ...] = ()
    api: str = ""
    voices: dict[str, Voice] = field(default_factory=default_voices)
    trace: str = ""
    audio_backend: str = ""
    realtime: bool = True
    avoid: tuple[str, ...] = ()
    soundfont: str = ""
    kept: str = ""

    def with_volume(self, voice: str, volume: float) -> SoundConfig:
        """The same with another volume of a voice, 0 to 1."""
        return replace(self, voices={**self.voices, voice: replace(self.voices[voice], volume=volume)})


# --- from the app to the sound process


@dataclass(frozen=True, slots=True)
class Load:
    """What to play from the next bar line on, or from Play on while stopped. A bar keeps its `index`: play goes on with the bar
    after the sounding one if the new loop has it, else at the loop's first bar."""

    arrangement: Arrangement


@dataclass(frozen=True, slots=True)
class Play:
    """Count in and play. turns: how many passes of the loop, 0 for ever. first_bar: position in the loop to start at. number: told
    again by Started, so that what still comes of an earlier Play is known."""

    tempo_bpm: float
    turns: int = 0
    first_bar: int = 0
    number: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Stop:
    """Silence, at once."""


@dataclass(frozen=True, slots=True)
class SetTempo:
    """From the next beat on; at="bar" from the next bar line on."""

    tempo_bpm: float
    at: str = "beat"


@dataclass(frozen=True, slots=True)
class SetVolume:
    """A voice's volume, 0 to 1, at once."""

    voice: str
    volume: float  # 0 to 1, at once


@dataclass(frozen=True, slots=True)
class Sample:
    """Sound two notes once, now (to hear a shell while choosing it)."""

    notes: tuple[int, ...]
    seconds: float = 1.0


@dataclass(frozen=True, slots=True)
class Spoken:
    """Words to be at hand when they are called. samples: from their onset on, mono, 16 bits with the lowest first, at SPOKEN_RATE."""

    words: str
    samples: bytes


@dataclass(frozen=True, slots=True)
class Say:
    """Let something be heard now that was spoken; what is begun or stopped ends it. samples: as of Spoken."""

    samples: bytes


class ForMicrophone:
    """What the practice says to the listening process, not to the sound process (see sound.listening.messages)."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class SharePlayed:
    """What is played is written into this memory too, for the listening process; "" for no longer. name: see sound.played."""

    name: str


@dataclass(frozen=True, slots=True)
class Configure:
    """Change output or inputs; a running pass goes on."""

    config: SoundConfig


@dataclass(frozen=True, slots=True)
class Ping:
    """Are you there? Answered by Alive, so that either knows that the other one is."""


@dataclass(frozen=True, slots=True)
class Quit:
    """End every note and leave."""


# --- from the sound process to the app


@dataclass(frozen=True, slots=True)
class Ready:
    """The process is up. output: "builtin", "midi" or "silent". sentence: what sounds and why, for the student."""

    output: str
    sentence: str
    realtime: bool


@dataclass(frozen=True, slots=True)
class Started:
    """time_s: when the first count-in beat (or the first bar, without count-in) is due. number: that of the Play, None where it is
    not known."""

    time_s: float
    number: int | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class BeatReport:
    """One pulse sounded. due_s: when it is heard. turn: pass of the loop from 0, -1 in the count-in. position: bar in the loop from 0, in the
    count-in bar of the count-in from 0; index: that bar's index in the chorus (-1 in the count-in). pulse: from 0 within the bar; pulses: of that bar.
    frame: "introduction" or "ending" where the bar belongs to one, which have turn and index -1 too."""

    due_s: float
    turn: int
    position: int
    index: int
    pulse: int
    pulses: int
    tempo_bpm: float
    frame: str = ""


@dataclass(frozen=True, slots=True)
class Finished:
    """The asked number of turns is over, or Stop was obeyed."""

    time_s: float


@dataclass(frozen=True, slots=True)
class NoteIn:
    """A key of the student's keyboard. velocity 0: released. port: the name of the input it came from."""

    time_s: float
    note: int
    velocity: int
    port: str


@dataclass(frozen=True, slots=True)
class PedalIn:
    """The sustain pedal of the student's keyboard. port: as in NoteIn."""

    time_s: float
    down: bool
    port: str


@dataclass(frozen=True, slots=True)
class SwitchIn:
    """A foot switch was pressed, or another controller went on. kind: "control" (number 0 to 127) or "program" (number 1 to 128, as
    listed). port: as in NoteIn."""

    time_s: float
    kind: str
    number: int
    port: str


@dataclass(frozen=True, slots=True)
class KeyboardGone:
    """A keyboard that was listened to is no longer there. port: as in NoteIn."""

    port: str


@dataclass(frozen=True, slots=True)
class Keyboards:
    """Which MIDI inputs there are, by name, and which of them are listened to. fault: why none can be, "" else, for the middle of a
    sentence. Told when the process comes up and when any of it changes."""

    present: tuple[str, ...]
    heard: tuple[str, ...]
    fault: str = ""


@dataclass(frozen=True, slots=True)
class Outputs:
    """Which MIDI outputs there are, by name, and which of them sounds, "" for none. Told when the process comes up and when either
    changes."""

    present: tuple[str, ...]
    used: str = ""


@dataclass(frozen=True, slots=True)
class Alive:
    """The answer to a Ping. Also told unasked before and after a call to the library of a system that may not answer. at: that system (see
    sound.entering), "start" while the process comes up, else "listening" for the one that listens, "" for the other. For the link alone,
    which hands it on to nobody."""

    at: str = ""


@dataclass(frozen=True, slots=True)
class Notice:
    """Something to tell the student in one sentence: a port that went away or came back, no device, an error.
    kind: "lost", "back", "error" or "info"."""

    kind: str
    sentence: str
