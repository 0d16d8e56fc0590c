"""Ride cymbal and hi-hat: the time as a drummer keeps it, in place of the click.

Swing: the ride on every pulse, with a swung eighth between the second and the third of each group of pulses and so on, and the hi-hat, closed by the foot, on the weak
pulses: "1, 2 and 3, 4 and" with 2 and 4 in 4/4, "1, 2 and 3" with 2 and 3 in the jazz waltz. Straight: the ride in even eighths, as in Latin
music, over the same hi-hat. All common practice. Note numbers: General MIDI 1, percussion key map (MIDI Association, RP-003).

Units: ticks of 1/960 quarter, from the bar line.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from companion.groove.model import NoteEvent
from companion.groove.swing import bar_swing
from companion.theory.meter import TICKS_PER_QUARTER, Meter

RIDE, PEDAL_HI_HAT = 51, 44
CYMBALS = (PEDAL_HI_HAT, RIDE)
# Lighter between the beats, and leaning on the weak ones, as the hi-hat does (common practice).
STRONG_VELOCITY, WEAK_VELOCITY, BETWEEN_VELOCITY, HI_HAT_VELOCITY = 84, 92, 68, 84
_GAP_TICKS = 40  # as of any other note: what is struck again is let go before


def ride_events(meter: Meter, weak_pulses: Sequence[int], feel: str, ratio: float) -> list[NoteEvent]:
    """One bar of it. weak_pulses: where the hi-hat closes, from 0. feel: "swing" or "straight". ratio: long over short."""
    between = _even_eighths(meter) if feel == "straight" else _skips(meter, ratio)
    ride = dict.fromkeys(between, BETWEEN_VELOCITY)
    for pulse in range(meter.pulses):
        ride[pulse * meter.pulse_ticks] = WEAK_VELOCITY if pulse in weak_pulses else STRONG_VELOCITY
    hi_hat = {pulse * meter.pulse_ticks: HI_HAT_VELOCITY for pulse in weak_pulses}
    return [*_struck(RIDE, ride, meter), *_struck(PEDAL_HI_HAT, hi_hat, meter)]


def _skips(meter: Meter, ratio: float) -> list[int]:
    """Behind the second pulse of each group, the fourth and so on. A dotted pulse holds its swung eighth already: the third of three."""
    late = meter.pulse_ticks * 2 // 3 if meter.is_compound else meter.pulse_ticks // 2
    swing = bar_swing((), meter, ratio)
    ticks, first = [], 0
    for size in meter.groups:
        ticks += [swing.tick(pulse * meter.pulse_ticks + late) for pulse in range(first + 1, first + size, 2)]
        first += size
    return ticks


def _even_eighths(meter: Meter) -> range:
    """Or the meter's own beats, where those are shorter."""
    return range(0, meter.bar_ticks, min(TICKS_PER_QUARTER // 2, meter.beat_ticks))


def _struck(note: int, velocities: dict[int, int], meter: Meter) -> list[NoteEvent]:
    """Each rings until it is struck again, or to the bar line."""
    return [
        NoteEvent(tick, end - tick - min(_GAP_TICKS, (end - tick) // 4), "click", note, velocities[tick])
        for tick, end in pairwise([*sorted(velocities), meter.bar_ticks])
    ]
