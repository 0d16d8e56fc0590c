"""What keeps the time: which pulses click, or the ride in their place, and in which bars it drops out so that the student keeps the time alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from companion.groove.model import Arrangement, Click, NoteEvent
from companion.groove.ride import ride_events
from companion.theory.meter import Meter

CLICK_TICKS = 60
ACCENT_VELOCITY, GROUP_VELOCITY, CLICK_VELOCITY = 112, 96, 88
# Once it is marked how a student keeps the time, no drummer keeps it for them, unless they turn that on.
_RIDE, _RIDE_ALWAYS = "ride", "ride-always"


def rests_while_marked(click: Click) -> bool:
    """Whether a plain click takes its place while a pass is marked."""
    return click.mode == _RIDE


def while_marked(arrangement: Arrangement) -> Arrangement:
    """The same as it sounds while a pass is marked."""
    if not rests_while_marked(arrangement.click):
        return arrangement
    return replace(arrangement, click=replace(arrangement.click, mode="every"))


def kept_time(click: Click, meter: Meter, feel: str, ratio: float) -> list[NoteEvent]:
    """What is heard of it in one bar. feel, ratio: see `ride_events`."""
    if click.mode in (_RIDE, _RIDE_ALWAYS):
        return ride_events(meter, _weak_pulses(meter), feel, ratio)
    return clicks(meter, click_pulses(click.mode, meter))


def clicks(meter: Meter, pulses: Sequence[int]) -> list[NoteEvent]:
    """Clicks on those pulses of a bar, from 0."""
    ticks = min(CLICK_TICKS, meter.pulse_ticks)
    return [
        NoteEvent(
            pulse * meter.pulse_ticks,
            ticks,
            "click",
            int(pulse == 0),
            ACCENT_VELOCITY if pulse == 0 else GROUP_VELOCITY if pulse in meter.strong_pulses else CLICK_VELOCITY,
        )
        for pulse in pulses
    ]


def click_pulses(mode: str, meter: Meter) -> tuple[int, ...]:
    """The pulses of one bar that click, from 0. mode: one of names.CLICK_MODES but for the rides (KeyError otherwise)."""
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
