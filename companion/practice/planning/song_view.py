"""What the plan knows of a song and a pair of hands, and the tempi that follow from it: never above the target, and below the one that the bars
failed at last; what the student said counts less than what was heard."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass

from companion.chart.model import Song
from companion.practice.model import PassRecord
from companion.practice.planning.layers import LayersKnown
from companion.practice.planning.lessons import NO_LAYERS, Swung
from companion.practice.planning.progress import SectionMemory, latest_tempo, tells
from companion.practice.planning.totals import Tally, best_of, is_free

SLOW = 0.6  # a share of the tempo reached: to mend a change at
SLOWEST_BPM = 20.0
_BELOW = 0.9  # of a tempo that failed
_TOLD = 0.9  # of its tempo is what a pass proves that was not heard (our own choice)


@dataclass(frozen=True, slots=True)
class SongView:
    """What the plan knows of a song and a pair of hands. heard: the loops that were listened to, swung: the phrases played swung from memory. passes: the newer ones of theirs in the order of time. tallies: of all
    hands, as the lesson is for all. working_bpm: where their last climb settled. climb_bpm: where one over the whole form begins or
    goes on, None where only the passes tell."""

    song: Song
    passes: tuple[PassRecord, ...] = ()
    tallies: tuple[Tally, ...] = ()
    memories: tuple[SectionMemory, ...] = ()
    working_bpm: float | None = None
    climb_bpm: float | None = None
    hands: str = "left"
    heard: tuple[tuple[int, ...], ...] = ()
    swung: tuple[Swung, ...] = ()
    layers: LayersKnown = NO_LAYERS

    @property
    def proved_bpm(self) -> float | None:
        """The highest tempo that a clean pass proves, of those that are looked at."""
        bests = [(best_of(record), record.source == "heard") for record in self.passes]
        return max((bpm if heard else _TOLD * bpm for bpm, heard in bests if bpm is not None), default=None)

    @property
    def _reached_bpm(self) -> float | None:
        """A tempo at which the song went, never above the target; None where nothing of it was played in time."""
        reached = self.working_bpm or self.proved_bpm
        if reached is None and (latest := latest_tempo(self.passes)) is not None:
            reached = _TOLD * latest  # nothing was clean yet
        return min(self.song.tempo_bpm, reached) if reached else None

    def _failed_bpm(self, loop: Collection[int]) -> float:
        """The lowest tempo at which these bars did not go and have not gone since, infinite without one."""
        failed: list[float] = []
        for record in self.passes:
            if is_free(record) or not tells(record) or not set(loop) & set(record.loop):
                continue
            if record.clean or (record.slipped and not set(loop) & set(record.slipped)):
                failed = [bpm for bpm in failed if bpm > record.tempo_bpm]
            else:
                failed.append(record.tempo_bpm)
        return min(failed, default=math.inf)

    def tempo_for(self, loop: Collection[int], share: float) -> float:
        """Pulses a minute for these bars: so much of the tempo reached, and below the one that failed; where none is known slowly, which no share
        makes slower still. loop: indices of bars in the chorus."""
        reached = self._reached_bpm
        wanted = SLOW * self.song.tempo_bpm if reached is None else share * reached
        return max(SLOWEST_BPM, min(wanted, _BELOW * self._failed_bpm(loop)))
