"""How loud and how long the left hand's pattern is struck, so that four to the bar breathes.

Where it swings, 2 and 4 are struck a little harder and let go sooner, 1 and 3 are nearly held; where it does not, the strong beats are the harder
and the longer ones; in three, 1 is (common practice). On top of that each strike is a little louder or softer than meant, as a hand's are. Nothing
of it moves a strike in time. How much is our own choice: heard, but never more than half of what lies between soft and loud playing.

Units: velocities 1 to 127; shares of the time until the next strike.
"""

from __future__ import annotations

from dataclasses import replace
from random import Random

from companion.groove.model import Strike
from companion.theory.meter import Meter

SPREAD = 3.0  # standard deviation of the velocity
MOST = 7.0  # and never further off than that
# (velocity more or less, share that is held)
_LONG, _SHORT = (-3.0, 0.96), (3.0, 0.82)
_STRONG, _WEAK = (3.0, 0.96), (-3.0, 0.84)
_ONE, _OTHERS = (4.0, 0.96), (-2.0, 0.8)


def _beat(tick: int, meter: Meter, swings: bool) -> tuple[float, float]:
    pulse = tick // meter.pulse_ticks
    if meter.pulses == 3:
        return _OTHERS if pulse else _ONE
    if swings and meter.pulses in (2, 4):
        return _SHORT if pulse % 2 else _LONG
    return _STRONG if pulse in meter.strong_pulses else _WEAK


def louder_or_softer(velocity: float, chance: Random) -> int:
    """A velocity as a hand gives it that means this one."""
    return round(velocity + min(MOST, max(-MOST, chance.gauss(0.0, SPREAD))))


def touched(strike: Strike, meter: Meter, usual: int, swings: bool, chance: Random) -> Strike:
    """The strike as hard as it goes down on its beat; one that says so itself is left at that. usual: the velocity in the middle."""
    if strike.velocity is not None:
        return strike
    return replace(strike, velocity=louder_or_softer(usual + _beat(strike.tick, meter, swings)[0], chance))


def held_ticks(strike: Strike, ticks: int, meter: Meter, swings: bool) -> int:
    """How long it is heard of the `ticks` that it might be, four to the bar: one that lasts a pulse is let go before the next."""
    if strike.ticks != meter.pulse_ticks or strike.tick % meter.pulse_ticks:
        return ticks
    return round(ticks * _beat(strike.tick, meter, swings)[1])
