"""A whole tune written out for both hands, bar by bar: what `companion arrange` prints and what is played, printed and marked.

Units: ticks of 1/960 quarter from the bar line, straight, as swing comes last; tempo in pulses a minute; keys are MIDI numbers.
"""

from __future__ import annotations

from dataclasses import dataclass

from companion.chart.model import PlacedChord
from companion.theory.meter import Meter

ORNAMENTS = ("slide", "tremolo", "fill")
INTRO, FORM, ENDING = "intro", "form", "ending"  # what a bar belongs to


@dataclass(frozen=True, slots=True)
class ArrangedStroke:
    """Keys that go down together in one hand. tick: from the bar line, negative for what comes before the first one. ticks: how long the highest is held,
    over bar lines too; inner_ticks: the others. keys, names, fingers: from the lowest; names are spelled, with octaves. why: a sentence or more, "" where there is nothing to say. melody: the
    key that is the melody's, None without one. ornament: one of ORNAMENTS, None for none."""

    tick: int
    ticks: int
    keys: tuple[int, ...]
    names: tuple[str, ...]
    fingers: tuple[int, ...]
    why: str = ""
    melody: int | None = None
    ornament: str | None = None
    inner_ticks: int | None = None


@dataclass(frozen=True, slots=True)
class ArrangedBar:
    """stretch: INTRO, FORM or ENDING. section: the form's, or the name of the intro or ending. occurrence, bar: from 1, bar 0 for the pickup. shares: the tempo of
    each pulse as a share of the tune's, () for all of it; tempo_bpm: where the bar begins."""

    stretch: str
    section: str
    occurrence: int
    bar: int
    meter: Meter
    tempo_bpm: float
    chords: tuple[PlacedChord, ...]
    left: tuple[ArrangedStroke, ...]
    right: tuple[ArrangedStroke, ...]
    shares: tuple[float, ...] = ()

    @property
    def symbol(self) -> str:
        """Its chord symbols, N.C. where none sounds."""
        return " ".join(placed.symbol for placed in self.chords)
