"""Swing eighths: how long the first of two eighths is against the second, and where that puts an off-beat.

Ratio: long over short, 1 = straight. Music is laid out straight and swung last, part by part, so nothing is rounded
twice.

Sources. Friberg & Sundstrom 2002, "Swing ratios and ensemble timing in jazz performance", Music Perception 19:333-349:
drummers' ride cymbals go from about 3.5:1 at slow tempi to 1:1 at fast ones, the short note staying near 100 ms at
medium and fast tempi. Corcoran & Frieler 2021, Music Perception 38:372-385: soloists play far more evenly, 1.3:1
typically.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from companion.theory.meter import TICKS_PER_QUARTER, Meter

_HALF = TICKS_PER_QUARTER // 2

SHORT_NOTE_MS = 100.0
STRAIGHT = 1.0
MOST_UNEVEN = 3.5
# Teachers count swing as the first and last of a triplet (common practice), and players other than the
# drummer stay below the ride cymbal's ratios (Corcoran & Frieler, for soloists). So to follow the tempo is to play
# triplets up to 200 beats a minute and more evenly above. It is a convention: no playing is to be judged by it.
TRIPLET = 2.0


def swing_ratio(tempo_bpm: float) -> float:
    """The ride cymbal's ratio at a tempo in quarters a minute: the short eighth lasts 100 ms, within 1:1 and 3.5:1.

    Friberg & Sundstrom 2002 (see the head); a beat of 60000/tempo ms less 100 ms, over 100 ms, is 600/tempo - 1.
    """
    beat_ms = 60_000.0 / tempo_bpm
    return min(MOST_UNEVEN, max(STRAIGHT, (beat_ms - SHORT_NOTE_MS) / SHORT_NOTE_MS))


def played_ratio(feel: str, ratio: float | None, tempo_bpm: float) -> float:
    """The ratio an arrangement sounds with: 1 for straight, the asked one, or for None the tempo's, at most the
    triplet 2:1."""
    if feel == "straight":
        return STRAIGHT
    return min(TRIPLET, swing_ratio(tempo_bpm)) if ratio is None else ratio


@dataclass(frozen=True, slots=True)
class BarSwing:
    """Where one part's straight ticks of one bar are heard. off_beat_tick: where the half of a pulse is heard.
    straight_pulses: those that hold more than swing eighths, from 0, negative before the bar line."""

    off_beat_tick: int
    straight_pulses: frozenset[int]

    def tick(self, tick: int) -> int:
        """An onset or end of the part as it is heard, to the nearest tick. No two change their order."""
        pulse, rest = divmod(tick, TICKS_PER_QUARTER)
        if rest != _HALF or pulse in self.straight_pulses:
            return tick
        return pulse * TICKS_PER_QUARTER + self.off_beat_tick


def off_beat_share(ratio: float) -> float:
    """How far into its pulse an off-beat is heard, as a share of the pulse."""
    return ratio / (ratio + 1)


def fine_pulses(edges: Iterable[int]) -> frozenset[int]:
    """The quarter-note pulses that hold more than eighths, from 0, negative before tick 0. edges: onsets and ends in straight ticks."""
    return frozenset(tick // TICKS_PER_QUARTER for tick in edges if tick % _HALF)


def bar_swing(edges: Iterable[int], meter: Meter, ratio: float) -> BarSwing:
    """How one part swings in one bar. edges: its onsets and ends there, in straight ticks from the bar line.

    A pulse swings if every onset and end inside it lies at its half; where there is any other, as in a written triplet
    or in sixteenths, the whole pulse is played as it is written (common practice). Only quarter-note pulses swing: a
    dotted pulse is a written-out triplet already, and other units have no swing eighths.
    """
    if ratio == STRAIGHT or meter.pulse_ticks != TICKS_PER_QUARTER:
        return BarSwing(_HALF, frozenset())
    return BarSwing(round(TICKS_PER_QUARTER * off_beat_share(ratio)), fine_pulses(edges))
