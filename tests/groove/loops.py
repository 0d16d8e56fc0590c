"""Loops written by hand for the tests of this room."""

from __future__ import annotations

from fractions import Fraction

from companion.groove.model import Arrangement, GrooveBar, GrooveChord
from companion.theory.meter import Meter
from companion.theory.symbols import parse_chord

SHELL = (50, 60)


def loop(line: str, meter: str = "4/4") -> tuple[GrooveBar, ...]:
    """ "Dm7 G7 | N.C. | 3/4 Cmaj7": bars of chords that share them evenly; a meter holds until the next one."""
    now, bars = Meter.parse(meter), []
    for index, text in enumerate(line.split("|")):
        words = text.split()
        if words[0][0].isdigit():
            now = Meter.parse(words.pop(0))
        edges = [now.ticks(Fraction(now.beats * number, len(words))) for number in range(len(words) + 1)]
        chords = [None if word == "N.C." else parse_chord(word) for word in words]
        bars.append(
            GrooveBar(
                index,
                now,
                tuple(
                    GrooveChord(start, end - start, chord, () if chord is None else SHELL)
                    for start, end, chord in zip(edges, edges[1:], chords)
                ),
            )
        )
    return tuple(bars)


def placed(meter: str, *chords: tuple[str, int, int]) -> GrooveBar:
    """A bar of (symbol, tick, ticks)."""
    return GrooveBar(
        0,
        Meter.parse(meter),
        tuple(GrooveChord(tick, ticks, parse_chord(symbol), SHELL) for symbol, tick, ticks in chords),
    )


def arrange(line: str, meter: str = "4/4", **fields) -> Arrangement:
    return Arrangement(loop(line, meter), **fields)
