"""What the solver takes and gives, as plain data."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass

from companion.theory.chord import Chord
from companion.theory.pitch import Pitch


@dataclass(frozen=True, slots=True)
class Shell:
    """Two left-hand notes. kind: one of SHELL_KINDS; lower and upper: spelled pitches, lower.midi < upper.midi."""

    kind: str
    lower: Pitch
    upper: Pitch

    @property
    def midi(self) -> tuple[int, int]:
        """MIDI numbers, the lower first."""
        return (self.lower.midi, self.upper.midi)

    @property
    def names(self) -> tuple[str, str]:
        """Spelled names with their octaves, the lower first: ("F2", "Eb3")."""
        return (self.lower.name, self.upper.name)

    @property
    def interval(self) -> int:
        """Semitones between the two notes."""
        return self.upper.midi - self.lower.midi


@dataclass(frozen=True, slots=True)
class Slot:
    """One chord to find a shell for. chord: None for N.C. place: equal for the same chord of a section that comes
    again, None where nothing repeats. pin: the kind of shell the student wants. label: how an error names it."""

    chord: Chord | None
    place: Hashable = None
    pin: str | None = None
    label: str = ""


@dataclass(frozen=True, slots=True)
class Alternative:
    """The next-best shell for one chord. extra: semitones it adds to the chorus when the rest is solved around it."""

    shell: Shell
    extra: int


@dataclass(frozen=True, slots=True)
class Choice:
    """The shell for one slot. shell: None for N.C. options: every legal shell there, in a fixed order. movement:
    semitones both notes travel from the chord before it (for the first: from the last chord of the chorus). fingers:
    little finger side first, such as "5-2". why: one sentence. alternative: None where only one shell was legal."""

    slot: Slot
    shell: Shell | None
    options: tuple[Shell, ...] = ()
    movement: int = 0
    fingers: str = ""
    why: str = ""
    alternative: Alternative | None = None


@dataclass(frozen=True, slots=True)
class Part:
    """The left hand of one chorus. movement: semitones both notes travel, the move back to the start included."""

    choices: tuple[Choice, ...]
    movement: int
