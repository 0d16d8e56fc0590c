"""A lead sheet as it was read from a file of another format: bar by bar, before it becomes a song.

Lengths and offsets are exact, in quarter notes.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from companion.base.text import plain
from companion.theory.meter import Meter
from companion.theory.pitch import Pitch

# (offset, symbol): symbol None where no chord is played.
SheetChord = tuple[Fraction, str | None]


@dataclass(frozen=True, slots=True)
class SheetNote:
    """offset: from the bar's start. pitch: None for a rest. is_tied: held on into the next note."""

    offset: Fraction
    length: Fraction
    pitch: Pitch | None
    is_tied: bool = False


@dataclass(slots=True)
class SheetBar:
    """number: as printed. length: what the bar really holds; a pickup holds less than its meter.

    times: how often a repeat that ends here is played in all, 0 where none ends. endings: the numbers of the ending
    that covers the bar. jump: "start" (D.C.), "segno" (D.S.) or ""; until: "fine", "coda" or "" for to the end.
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
    is_segno: bool = False
    is_coda: bool = False
    to_coda: bool = False
    is_fine: bool = False
    jump: str = ""
    until: str = ""

    @property
    def full_length(self) -> Fraction:
        return Fraction(4 * self.meter.beats, self.meter.unit)


@dataclass(slots=True)
class Sheet:
    """quarter_bpm: quarter notes a minute, None where the file gives no tempo. semitones: how far the part must move to
    sound as it should (a part for an instrument in B flat: -2). form: names of marks in playing order, where the file
    says so itself. remarks: what was not understood, each once, in order."""

    title: str = ""
    bars: list[SheetBar] = field(default_factory=list)
    quarter_bpm: float | None = None
    feel: str = ""
    semitones: int = 0
    form: tuple[str, ...] = ()
    remarks: dict[str, None] = field(default_factory=dict)

    def remark(self, bar: str, text: str) -> None:
        """Note what was not understood, once."""
        self.remarks[plain(f"bar {bar}: {text}" if bar else text)] = None
