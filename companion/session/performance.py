"""The whole tune once through: the stand's own arrangement between its introduction and its ending."""

from __future__ import annotations

from dataclasses import replace

from companion.arranging.model import ArrangedBar, ArrangedStroke
from companion.chart.loops import WHOLE_FORM
from companion.groove.model import Arrangement, GrooveBar, GrooveChord, Strike
from companion.session.arranged import ending_bars, intro_bars, ornaments_once
from companion.session.stand import Stand


def performance(stand: Stand, choruses: int = 1) -> Arrangement:
    """What is played of it from the first bar to the last low note; where a loop is practised, that alone. choruses: how often the form is played; more than once, each
    leads back to the first bar."""
    if stand.loop_name != WHOLE_FORM:
        return stand.arrangement()
    after = ending_bars(stand)
    return replace(
        stand.arrangement(ornaments_once(stand, after) if choruses == 1 else None),
        lead_in=tuple(map(_written_out, intro_bars(stand))),
        ending=tuple(map(_written_out, after)),
    )


def _written_out(bar: ArrangedBar) -> GrooveBar:
    """Every strike of both hands as it stands there, whatever the pattern. All of them end within their bar."""
    meter = bar.meter
    chords = tuple(
        GrooveChord(meter.ticks(placed.beat), meter.ticks(placed.beats), placed.chord) for placed in bar.chords
    )
    strikes = [
        _strike(part, stroke, chords, meter.bar_ticks)
        for part, strokes in (("left", bar.left), ("right", bar.right))
        for stroke in strokes
    ]
    return GrooveBar(-1, meter, chords, tuple(sorted(strikes, key=lambda strike: strike.tick)), bar.shares)


def _strike(part: str, stroke: ArrangedStroke, chords: tuple[GrooveChord, ...], bar_ticks: int) -> Strike:
    chord = max(number for number, chord in enumerate(chords) if chord.tick <= stroke.tick)
    ticks = min(stroke.ticks, bar_ticks - stroke.tick)
    return Strike(part, stroke.tick, ticks, stroke.keys, chord, inner_ticks=stroke.inner_ticks)
