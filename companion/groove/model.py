"""What the groove takes and gives, as plain data that travels to the sound process.

Units: ticks of 1/960 quarter (theory.meter); tempo in pulses a minute.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from companion.theory.chord import Chord
from companion.theory.meter import Meter

# What may sound, in the order in which what sounds together is listed. The hands are the student's.
PARTS = ("click", "bass", "left", "right")


@dataclass(frozen=True, slots=True)
class GrooveChord:
    """tick: onset in the bar. ticks: length. chord: None for N.C. notes: what the left hand plays on it, MIDI numbers from
    the lowest, none for N.C."""

    tick: int
    ticks: int
    chord: Chord | None
    notes: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class GrooveBar:
    """One bar of the loop. index: the bar's place in the chorus from 0, which is how the screen finds it again."""

    index: int
    meter: Meter
    chords: tuple[GrooveChord, ...]


@dataclass(frozen=True, slots=True)
class Click:
    """mode: "every" beat, "offbeats" (2 and 4), "bar" (the first beat only) or "off".
    Silent for the last `drop_bars` bars of every `drop_every` (0: never silent)."""

    mode: str = "every"
    drop_bars: int = 0
    drop_every: int = 0


@dataclass(frozen=True, slots=True)
class Arrangement:
    """All the sound process needs to play a loop for ever. bars: one pass of the loop, in playing order.

    pattern: the left hand's rhythm (see patterns.py); bass: "roots", "two-feel", "walking" or "off"; demonstrate: whether
    the shells sound. feel: "swing" or "straight". swing_ratio: long over short, None follows the tempo. count_in_bars: 0 to 2.
    pickup_ticks: how far before bar 1 the tune starts (it lies within the count-in). seed: makes the bass repeatable.
    """

    bars: tuple[GrooveBar, ...]
    pattern: str = "four"
    click: Click = field(default_factory=Click)
    bass: str = "roots"
    demonstrate: bool = False
    feel: str = "swing"
    swing_ratio: float | None = None
    count_in_bars: int = 1
    pickup_ticks: int = 0
    seed: int = 0


@dataclass(frozen=True, slots=True)
class Event:
    """One note. tick: onset from the start of its bar; ticks: length (it may ring into the next bar, never past its
    chord's end). part: one of PARTS. note: MIDI number; for the click 1 = the bar's first beat, 0 = other beats.
    velocity: 1 to 127."""

    tick: int
    ticks: int
    part: str
    note: int
    velocity: int
