"""A lead sheet as it was read from a file of another format: bar by bar, before it becomes a song.

Lengths and offsets are exact, in quarter notes.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from companion.base.text import plain
from companion.theory.key import Key
from companion.theory.meter import Meter
from companion.theory.pitch import Pitch, Tone

# Keys by their signature, from seven flats to seven sharps (circle of fifths).
_MAJOR = ("Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#")
_MINOR = ("Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#", "G#", "D#", "A#")

# (offset, symbol): symbol None where no chord is played.
SheetChord = tuple[Fraction, str | None]


def key_of_signature(fifths: int, mode: str = "major") -> Key:
    """The key of a signature: so many sharps, or flats below 0, at most seven. mode: "minor", else it is major."""
    name = (_MINOR if mode == "minor" else _MAJOR)[max(-7, min(7, fifths)) + 7]
    return Key(Tone.parse(name), "minor" if mode == "minor" else "major")


@dataclass(frozen=True, slots=True)
class SheetNote:
    """offset: from the bar's start. pitch: None for a rest. is_tied: held on into the next note."""

    offset: Fraction
    length: Fraction
    pitch: Pitch | None
    is_tied: bool = False


@dataclass(slots=True)
class Steering:
    """Where a player goes. jump: "start" (D.C.), "segno" (D.S.) or ""; until: "fine", "coda" or "" for to the end."""

    is_segno: bool = False
    is_coda: bool = False
    to_coda: bool = False
    is_fine: bool = False
    jump: str = ""
    until: str = ""

    def add(self, other: Steering) -> None:
        """Take over the signs of another; what is known of the jump stays."""
        self.is_segno |= other.is_segno
        self.is_coda |= other.is_coda
        self.to_coda |= other.to_coda
        self.is_fine |= other.is_fine
        self.jump = self.jump or other.jump
        self.until = self.until or other.until


@dataclass(slots=True)
class SheetBar:
    """number: as printed. length: what the bar really holds; a pickup holds less than its meter.

    times: how often a repeat that ends here is played in all, 0 where none ends. endings: the numbers of the ending
    that covers the bar. ends_section: a double bar line stands at its end.
    """

    number: str
    meter: Meter
    fifths: int
    mode: str
    length: Fraction
    chords: list[SheetChord] = field(default_factory=list)
    notes: list[SheetNote] = field(default_factory=list)
    mark: str = ""
    starts_repeat: bool = False
    times: int = 0
    endings: frozenset[int] = frozenset()
    ends_section: bool = False
    steering: Steering = field(default_factory=Steering)

    @property
    def full_length(self) -> Fraction:
        """The length of its meter, in quarters."""
        return Fraction(4 * self.meter.beats, self.meter.unit)

    @property
    def is_short(self) -> bool:
        """Whether it holds something, and less than its meter."""
        return 0 < self.length < self.full_length


@dataclass(slots=True)
class Sheet:
    """quarter_bpm: quarter notes a minute, None where the file gives no tempo. feel: "swing", "straight" or "" where the
    file does not say. dance: "reel", "jig" and the like where it does. form: names of marks in playing order, where the file says
    so itself. remarks: what was not understood, each once, in order. typed: words above the staff that are chord symbols,
    which nobody meant as one where the sheet has chords of its own."""

    title: str = ""
    bars: list[SheetBar] = field(default_factory=list)
    quarter_bpm: float | None = None
    feel: str = ""
    dance: str = ""
    form: tuple[str, ...] = ()
    remarks: dict[str, None] = field(default_factory=dict)
    typed: list[tuple[SheetBar, Fraction, str]] = field(default_factory=list)

    def remark(self, bar: str, text: str) -> None:
        """Note what was not understood, once."""
        self.remarks[plain(f"bar {bar}: {text}" if bar else text)] = None
