"""A short tune with shells of its own, played in passes and looked for in a take."""

from __future__ import annotations

from dataclasses import replace

from groove.loops import arrange

from companion.groove.model import GrooveBar
from companion.groove.names import PATTERN_NAMES
from companion.practice.marking.expected import expected_strikes
from companion.practice.marking.take import find_take

# Shells of the test loop, so that the changes can be heard.
SHELLS = {
    "Dm7": (50, 60),
    "G7": (43, 59),
    "Cmaj7": (48, 59),
    "A7": (45, 55),
    "F6": (53, 60),
    "Bb7": (46, 56),
    "Em7b5": (52, 62),
}
# Those that strike a whole shell each time on its beat, on which how well takes are read was tuned, and the others.
SHELL_PATTERNS = ("four", "two", "whole", "charleston", "late-charleston")
OTHER_PATTERNS = tuple(name for name in PATTERN_NAMES if name not in SHELL_PATTERNS)
LINE = "Dm7 G7 | Cmaj7 | Em7b5 A7 | Dm7 | F6 | Bb7 | Cmaj7 A7 | Dm7 G7"


def tune(line=LINE, meter="4/4", pattern="four"):
    arrangement = arrange(line, meter, pattern=pattern)
    bars = tuple(
        GrooveBar(
            bar.index,
            bar.meter,
            tuple(
                replace(chord, notes=SHELLS.get(chord.chord.symbol, ()) if chord.chord else ()) for chord in bar.chords
            ),
        )
        for bar in arrangement.bars
    )
    return replace(arrangement, bars=bars)


def passes_played(arrangement, start_s, tempo_bpm, count, faster=0.0):
    """What is expected in so many passes in turn; faster: by how much of the tempo the last bar is faster than the first."""
    passes, bars = [], count * len(arrangement.bars)
    for turn in range(count):
        starts = []
        for position, bar in enumerate(arrangement.bars):
            now_bpm = tempo_bpm * (1.0 + faster * (turn * len(arrangement.bars) + position) / bars)
            starts.append((start_s, now_bpm))
            start_s += bar.meter.pulses * 60.0 / now_bpm
        passes.append(expected_strikes(arrangement, starts))
    return passes


def found(presses, arrangement, near_bpm=126.0):
    return find_take(presses, arrangement, list(PATTERN_NAMES), near_bpm)
