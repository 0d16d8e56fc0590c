"""What a chart file says, as plain data. Nothing here reads or writes; see reader.py and writer.py."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from fractions import Fraction

from companion.chart.lesson import Lesson
from companion.theory.chord import Chord
from companion.theory.key import Key
from companion.theory.meter import Meter
from companion.theory.shell_kinds import Pin

FEELS = ("swing", "straight")


NO_CHORD = "N.C."  # as engravers write it


@dataclass(frozen=True, slots=True)
class PlacedChord:
    """A chord in its bar. chord: None where no chord is played (N.C.). beat: onset counted from 0 in beats of the
    meter; beats: how long it lasts. Both exact."""

    chord: Chord | None
    beat: Fraction
    beats: Fraction

    @property
    def symbol(self) -> str:
        """As it was written, or the sign for no chord."""
        return self.chord.symbol if self.chord else NO_CHORD


@dataclass(frozen=True, slots=True)
class Bar:
    """The chords of one bar, filling it without a gap. line: where it stands in the file, 0 where it came from none."""

    chords: tuple[PlacedChord, ...]
    line: int = 0


@dataclass(frozen=True, slots=True)
class Section:
    """A named stretch of bars. meter and key are the song's own unless the section has its own.
    melody: as written in the file, None without one. pickup: beats before its first bar whose notes and chords belong to it
    and sound each time it comes, in the place of what the bar before holds there; 0 where it has none of its own.
    pickup_chords: the chords in that pickup, or in the song's where the song opens with this section; beats count from
    the pickup's start."""

    name: str
    bars: tuple[Bar, ...]
    meter: Meter
    key: Key
    melody: str | None = None
    pickup: Fraction = Fraction(0)
    pickup_chords: tuple[PlacedChord, ...] = ()


@dataclass(frozen=True, slots=True)
class FormBar:
    """A bar in its place in the chorus.

    index: from 0 through the chorus. section: its name; occurrence: 1 for the first A, 2 for the second; bar: from 1
    within the section. start_tick: from the start of the chorus.
    """

    index: int
    section: str
    occurrence: int
    bar: int
    start_tick: int
    meter: Meter
    chords: tuple[PlacedChord, ...]

    @property
    def end_tick(self) -> int:
        """Where the next bar starts."""
        return self.start_tick + self.meter.bar_ticks


@dataclass(frozen=True, slots=True)
class Song:
    """One tune. tempo_bpm: the target, in pulses a minute. feel: one of FEELS. form: section names in playing order.
    pins: (section, bar, chord), all counted from 1, -> the shell asked for. pickup: beats before the first bar, those of
    the section that the song opens with where it has a pickup of its own.
    path: the file it was read from, "" without one. id: the file's stem, used to name the song in commands.
    lesson: what a teacher wrote for it, None without one. written: of a song that was transposed, the key and the sections as
    they were written and what became of them, so that the way to a third key and back leads from there (see transpose.py).
    """

    id: str
    title: str
    key: Key
    meter: Meter
    tempo_bpm: float
    feel: str
    form: tuple[str, ...]
    sections: dict[str, Section]
    pins: dict[tuple[str, int, int], Pin] = field(default_factory=dict)
    pickup: Fraction = Fraction(0)
    path: str = ""
    lesson: Lesson | None = None
    written: tuple[Key, dict[str, Section], dict[str, Section]] | None = field(default=None, compare=False, repr=False)

    def unroll(self) -> tuple[FormBar, ...]:
        """The bars of one chorus in playing order."""
        bars: list[FormBar] = []
        seen: dict[str, int] = {}
        tick = 0
        for name in self.form:
            section = self.sections[name]
            seen[name] = seen.get(name, 0) + 1
            if bars and section.pickup_chords and section.pickup:
                bars[-1] = replace(bars[-1], chords=_with_pickup(bars[-1], section))
            for number, bar in enumerate(section.bars, 1):
                bars.append(FormBar(len(bars), name, seen[name], number, tick, section.meter, bar.chords))
                tick += section.meter.bar_ticks
        return tuple(bars)


def _with_pickup(before: FormBar, section: Section) -> tuple[PlacedChord, ...]:
    """The chords of the bar before a section, with those of the section's pickup at its end."""
    scale = Fraction(before.meter.unit, section.meter.unit)
    start = before.meter.beats - section.pickup * scale
    if start <= 0:
        return before.chords
    chords = [replace(old, beats=min(old.beats, start - old.beat)) for old in before.chords if old.beat < start]
    for new in section.pickup_chords:
        if new.chord == chords[-1].chord:  # it sounds on
            chords[-1] = replace(chords[-1], beats=chords[-1].beats + new.beats * scale)
        else:
            chords.append(PlacedChord(new.chord, start + new.beat * scale, new.beats * scale))
    return tuple(chords)
