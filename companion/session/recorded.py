"""What was recorded, as an arrangement that can be heard again as it was played: in its own time, as loud as it was struck."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from companion.groove.model import Arrangement, Click, GrooveBar, GrooveChord, Strike
from companion.practice.model import Press
from companion.theory.meter import Meter

_METER = Meter(4, 4)
TEMPO_BPM = 240.0  # a bar lasts a second, so that a tick is a quarter of a millisecond
TICKS_PER_S = _METER.bar_ticks
_PEDAL_S = 2.0  # how long a key rings that was let go under the pedal, of which nobody knows (our own choice)


def recorded_arrangement(presses: Sequence[Press]) -> Arrangement:
    """Both hands as they were played, from the first key on; raises ValueError where there is none. To be played once, at TEMPO_BPM."""
    if not presses:
        raise ValueError("Nothing was played: expected keys.")
    first_s = min(press.time_s for press in presses)
    bars: dict[int, list[Strike]] = defaultdict(list)
    for press, until_s in zip(presses, _ends(presses), strict=True):
        start, end = (round((time_s - first_s) * TICKS_PER_S) for time_s in (press.time_s, until_s))
        for bar, strike in _in_bars(press, start, max(end, start + 1)):
            bars[bar].append(strike)
    rest = (GrooveChord(0, _METER.bar_ticks, None),)
    return Arrangement(
        bars=tuple(
            GrooveBar(index, _METER, rest, tuple(sorted(bars.get(index, ()), key=lambda strike: strike.tick)))
            for index in range(max(bars) + 1)
        ),
        parts=("left",),
        click=Click("off"),
        bass="off",
        feel="straight",
        count_in_bars=0,
    )


def _ends(presses: Sequence[Press]) -> list[float]:
    """When each key went up, at the latest when it was struck again."""
    again_s: dict[int, float] = {}
    ends = []
    for press in reversed(presses):
        held_s = press.held_s if press.held_s is not None else _PEDAL_S
        ends.append(min(press.time_s + held_s, again_s.get(press.note, float("inf"))))
        again_s[press.note] = press.time_s
    return ends[::-1]


def _in_bars(press: Press, start: int, end: int) -> list[tuple[int, Strike]]:
    """A key over the bars that it is held in. start, end: ticks from the first bar line."""
    pieces = []
    at = start
    while at < end:
        bar = at // _METER.bar_ticks
        line = bar * _METER.bar_ticks
        until = min(end, line + _METER.bar_ticks)
        strike = Strike(
            "left",
            at - line,
            until - at,
            (press.note,),
            held=at > start,
            goes_on=until < end,
            velocity=press.velocity,
        )
        pieces.append((bar, strike))
        at = until
    return pieces
