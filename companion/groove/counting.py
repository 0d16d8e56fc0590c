"""The count-in: how many whole bars, and the pulses of each that are counted.

Two seconds are time enough to take in a tempo and get ready (our own choice; four beats at 120). Before several bars the first is counted on its strong
pulses alone, in four on 1 and 3: "one, two, one two three four" (common practice).
"""

from __future__ import annotations

import math

from companion.groove.model import Arrangement, GrooveBar
from companion.theory.meter import Meter

COUNT_S = 2.0
_EXACT = 1e-9  # seconds come from dividing


def whole_bars(asked: int | None, meter: Meter, tempo_bpm: float) -> int:
    """How many bars are counted in. asked: None for as many as two seconds need, at least one. tempo_bpm: pulses a minute."""
    if asked is not None:
        return asked
    return max(1, math.ceil(COUNT_S * tempo_bpm / 60.0 / meter.pulses - _EXACT))


def counts_for(arrangement: Arrangement, first_bar: int) -> GrooveBar:
    """The bar that is counted in where the music starts at position `first_bar` of the loop: before its first one the lead-in's, if there is one."""
    return arrangement.lead_in[0] if first_bar == 0 and arrangement.lead_in else arrangement.bars[first_bar]


def bars_counted(arrangement: Arrangement, first_bar: int, tempo_bpm: float) -> int:
    """How many bars are counted in there. Without a lead-in a pickup always gets the bars it needs, even where fewer are asked for."""
    meter = counts_for(arrangement, first_bar).meter
    pickup_ticks = arrangement.pickup_ticks if first_bar == 0 and not arrangement.lead_in else 0
    return max(whole_bars(arrangement.count_in_bars, meter, tempo_bpm), -(-pickup_ticks // meter.bar_ticks))


def pulses_counted(meter: Meter, number: int, bars: int) -> tuple[int, ...]:
    """The pulses that are counted in one of so many bars. number: of the bar, from 0."""
    return meter.strong_pulses if number == 0 and bars > 1 else tuple(range(meter.pulses))
