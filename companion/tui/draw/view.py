"""What the stand's widgets draw: one immutable picture of the moment."""

from __future__ import annotations

from dataclasses import dataclass

from companion.chart.model import PlacedChord
from companion.session.stand import Stand
from companion.shells.model import Choice
from companion.sound.messages import BeatReport


@dataclass(frozen=True, slots=True)
class View:
    """cursor: the marked bar, in the chorus. playing: between start and stop. beat: the last beat that sounded, None
    before the first. sound: "builtin", "midi", "silent" or "" while the sound process is not up. notice: one sentence
    to show for a while, "" for none."""

    stand: Stand
    cursor: int = 0
    playing: bool = False
    beat: BeatReport | None = None
    sound: str = ""
    notice: str = ""

    @property
    def sounding(self) -> bool:
        """Whether a bar of the song sounds (not the count-in)."""
        return self.playing and self.beat is not None and self.beat.turn >= 0

    @property
    def counting_in(self) -> bool:
        return self.playing and self.beat is not None and self.beat.turn < 0

    @property
    def here(self) -> int:
        """The bar shown large: the sounding one, in the count-in the first to come, else the marked one."""
        if self.sounding and self.beat is not None:
            return min(self.beat.index, len(self.stand.bars) - 1)
        return self.cursor

    @property
    def chord_no(self) -> int:
        """Which chord of the bar `here` is on, from 0."""
        if not self.sounding or self.beat is None:
            return 0
        bar = self.stand.bars[self.here]
        tick = self.beat.pulse * bar.meter.pulse_ticks
        started = [number for number, placed in enumerate(bar.chords) if bar.meter.ticks(placed.beat) <= tick]
        return started[-1] if started else 0

    @property
    def now(self) -> tuple[PlacedChord, Choice]:
        return self.stand.choices_at(self.here)[self.chord_no]

    @property
    def coming(self) -> tuple[PlacedChord, Choice, int]:
        """The chord to prepare, and how many beats off the bar line it comes in (its beat, from 1)."""
        chords, number = self.stand.choices_at(self.here), self.chord_no + 1
        if number >= len(chords):
            chords, number = self.stand.choices_at(self.stand.next_index(self.here)), 0
        placed, choice = chords[number]
        return placed, choice, int(placed.beat) + 1
