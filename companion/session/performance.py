"""The whole tune once through: the stand's own arrangement between its introduction and its ending."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from companion.arranging.model import ArrangedBar, ArrangedStroke
from companion.chart.loops import WHOLE_FORM
from companion.groove.model import Arrangement, GrooveBar, GrooveChord, Strike
from companion.session.arranged import ending_bars, intro_bars, ornaments_once
from companion.session.stand import Stand
from companion.theory.meter import Meter


def performance(stand: Stand, choruses: int = 1) -> Arrangement:
    """What is played of it from the first bar to the last low note; where a loop is practised, that alone. choruses: how often the form is played; more than once, each
    leads back to the first bar."""
    if stand.loop_name != WHOLE_FORM:
        return stand.arrangement()
    after = ending_bars(stand)
    return replace(
        stand.arrangement(ornaments_once(stand, after) if choruses == 1 else None),
        lead_in=_written_out(intro_bars(stand)),
        ending=_written_out(after),
    )


def _written_out(bars: Sequence[ArrangedBar]) -> tuple[GrooveBar, ...]:
    """Every strike of both hands as it stands there, whatever the pattern. The highest note may be held over bar lines, as in the form."""
    strikes: list[list[Strike]] = [[] for _ in bars]
    chords = [
        tuple(
            GrooveChord(bar.meter.ticks(placed.beat), bar.meter.ticks(placed.beats), placed.chord)
            for placed in bar.chords
        )
        for bar in bars
    ]
    for number, bar in enumerate(bars):
        for part, strokes in (("left", bar.left), ("right", bar.right)):
            for stroke in strokes:
                strikes[number].append(_strike(part, stroke, chords[number], bar.meter, is_last=bar is bars[-1]))
                left, at = stroke.tick + stroke.ticks - bar.meter.bar_ticks, number + 1
                while left > 0 and at < len(bars):
                    ticks = min(left, bars[at].meter.bar_ticks)
                    goes_on = left > ticks and at + 1 < len(bars)
                    strikes[at].append(Strike(part, 0, ticks, stroke.keys[-1:], held=True, goes_on=goes_on))
                    left, at = left - ticks, at + 1
    return tuple(
        GrooveBar(-1, bar.meter, chords[number], tuple(sorted(strikes[number], key=lambda each: each.tick)), bar.shares)
        for number, bar in enumerate(bars)
    )


def _strike(
    part: str, stroke: ArrangedStroke, chords: tuple[GrooveChord, ...], meter: Meter, *, is_last: bool
) -> Strike:
    """As much of it as lies in its own bar."""
    chord = max(number for number, chord in enumerate(chords) if chord.tick <= stroke.tick)
    ticks = min(stroke.ticks, meter.bar_ticks - stroke.tick)
    goes_on = stroke.ticks > ticks and not is_last
    return Strike(part, stroke.tick, ticks, stroke.keys, chord, goes_on=goes_on, inner_ticks=stroke.inner_ticks)
