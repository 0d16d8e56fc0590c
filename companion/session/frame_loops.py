"""The introduction or the ending by itself, round and round, to learn it: as it is played in the whole tune, but in steady time."""

from __future__ import annotations

from dataclasses import replace

from companion.arranging.model import ArrangedBar
from companion.groove.model import Arrangement
from companion.session.arranged import ending_bars, intro_bars
from companion.session.performance import written_out
from companion.session.stand import Stand

INTRODUCTION, ENDING = "introduction", "ending"


def frame_bars(stand: Stand, name: str) -> tuple[ArrangedBar, ...]:
    """The bars of one of them; () where none is chosen."""
    return intro_bars(stand) if name == INTRODUCTION else ending_bars(stand)


def frame_loop(stand: Stand, bars: tuple[ArrangedBar, ...]) -> Arrangement:
    """Those bars as a loop; what sounds is what sounds in the tune. The index of a bar is its number among them, from 0."""
    return replace(
        stand.arrangement(),
        bars=tuple(replace(bar, index=number, shares=()) for number, bar in enumerate(written_out(bars))),
        pickup=(),
        pickup_ticks=0,
        lead_in=(),
        ending=(),
        coming=(),
    )
