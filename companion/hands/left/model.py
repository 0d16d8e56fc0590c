"""What the solver takes and gives, as plain data."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass

from companion.theory.chord import Chord
from companion.theory.pitch import Pitch
from companion.theory.shell_kinds import Pin


@dataclass(frozen=True, slots=True)
class Shell:
    """Two left-hand notes. kind: one of SHELL_KINDS; lower and upper: pitches as lead sheets write them (A for the B double flat of
    a diminished seventh, see `Pitch.plain`), lower.midi < upper.midi."""

    kind: str
    lower: Pitch
    upper: Pitch

    @property
    def midi(self) -> tuple[int, int]:
        """MIDI numbers, the lower first."""
        return (self.lower.midi, self.upper.midi)

    @property
    def names(self) -> tuple[str, str]:
        """Names with their octaves, the lower first: ("F2", "Eb3")."""
        return (self.lower.name, self.upper.name)

    @property
    def top(self) -> str:
        """What lies above: "third", "seventh"."""
        return self.kind.partition("-")[2]

    @property
    def interval(self) -> int:
        """Semitones between the two notes."""
        return self.upper.midi - self.lower.midi


@dataclass(frozen=True, slots=True)
class Slot:
    """One chord to find a shell for. chord: None for N.C. place: equal for the same chord of a section that comes
    again, None where nothing repeats. pin: the shell the student wants. label: how an error names it. bar: its bar in the
    chorus, by which equal phrases are found, None where bars mean nothing. ends: whether it is the last chord of a phrase. ceiling: how high
    the upper note may lie under a melody, a MIDI number, None for as high as the hand goes."""

    chord: Chord | None
    place: Hashable = None
    pin: Pin | None = None
    label: str = ""
    bar: int | None = None
    ends: bool = False
    ceiling: int | None = None


@dataclass(frozen=True, slots=True)
class Bill:
    """What the way from one shell to the next costs, by the prices of prices.py. lower, upper: semitones that count."""

    lower: int = 0
    upper: int = 0
    guide_line: int = 0
    same_keys: int = 0
    low_leap: int = 0

    @property
    def total(self) -> int:
        """All of it."""
        return self.lower + self.upper + self.guide_line + self.same_keys + self.low_leap


@dataclass(frozen=True, slots=True)
class Choice:
    """The shell for one slot. shell: None for N.C. options: every legal shell there, in a fixed order. movement:
    semitones both notes travel from the chord before it (for the first: from the last chord of the chorus). bill: what that
    way costs. fingers: little finger side first, such as "5-2". why: one sentence. repeat: what is said where a phrase
    comes again, "as before", at its first chord."""

    slot: Slot
    shell: Shell | None
    options: tuple[Shell, ...] = ()
    movement: int = 0
    bill: Bill = Bill()
    fingers: str = ""
    why: str = ""
    repeat: str = ""


@dataclass(frozen=True, slots=True)
class Part:
    """The left hand of one chorus. movement: semitones both notes travel, the move back to the start included. cost: the
    sum of the bills, which is what the solver makes least, and `phrases` points for every phrase that is not as before."""

    choices: tuple[Choice, ...]
    movement: int
    cost: int = 0
    phrases: int = 0
