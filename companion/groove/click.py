"""Which pulses click, and in which bars the click drops out so that the student keeps the time alone."""

from __future__ import annotations

from companion.groove.model import Click
from companion.theory.meter import Meter


def click_pulses(mode: str, meter: Meter) -> tuple[int, ...]:
    """The pulses of one bar that click, from 0. mode: one of names.CLICK_MODES (KeyError otherwise)."""
    return {
        "every": tuple(range(meter.pulses)),
        "offbeats": _weak_pulses(meter),
        "bar": (0,),
        "off": (),
    }[mode]


def _weak_pulses(meter: Meter) -> tuple[int, ...]:
    """2 and 4, and what answers to them elsewhere: every second pulse of an even group, all but the first of an odd
    one.

    So 2 and 3 in 3/4, where both are the weak beats of a waltz and one alone would read as a bar of two; 2, 3 and 5 in
    5/4; the second dotted quarter in 6/8; 2 and 4 again in 12/8 (common practice).
    """
    weak: list[int] = []
    at = 0
    for size in meter.groups:
        weak += range(at + 1, at + size, 2 if size % 2 == 0 else 1)
        at += size
    return tuple(weak)


def is_dropped(click: Click, bar_number: int) -> bool:
    """Whether the click rests in a bar. bar_number: bars played since the start, from 0, the count-in not among
    them."""
    if not click.drop_bars or not click.drop_every:
        return False
    return bar_number % click.drop_every >= click.drop_every - click.drop_bars
