"""The slides and tremolos of a song as the plain numbers that their checker takes."""

from __future__ import annotations

from ornament_checker import Hit

from companion.arranging.choice import ArrangementChoice
from companion.session.arranged import arranged


def hits_of(stand, whole=None):
    """(the right hand's strokes, the left hand's, milliseconds a tick, ticks a pulse) of the form played once, at the song's own tempo. whole: its arrangement,
    where it is there already."""
    bars = [bar for bar in whole or arranged(stand) if bar.stretch == "form"]
    starts = {(bar.section, bar.occurrence, bar.bar): bar.start_tick for bar in stand.bars}
    right, left = [], []
    for bar in bars:
        line = starts[bar.section, bar.occurrence, bar.bar] if bar.bar else 0
        right += [
            Hit(line + each.tick, line + each.tick + each.ticks, each.keys, each.fingers, each.ornament)
            for each in bar.right
        ]
        left += [(line + each.tick, line + each.tick + each.ticks, each.keys) for each in bar.left]
    pulse = stand.bars[0].meter.pulse_ticks
    return sorted(right, key=lambda hit: hit.start), left, 60_000 / stand.song.tempo_bpm / pulse, pulse


def ornamented(stand, voices, seed, ms=80.0):
    """Every slide, tremolo and fill there is place for."""
    wishes = {(bar.section, bar.bar, "slide"): 1 + seed % 3 for bar in stand.bars if seed % 2}
    kinds = ("slide", "tremolo", *(("fill",) if seed % 3 == 0 else ()), *(("walk",) if seed % 4 == 0 else ()))
    return stand.change(arranged=ArrangementChoice(voices, seed=seed, ornaments=kinds, bars=wishes, slide_ms=ms))
