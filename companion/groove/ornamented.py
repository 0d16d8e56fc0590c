"""How long a grace lasts in ticks, and how a tremolo is measured out, at the tempo that is played.

Sources. Timmers, Ashley, Desain, Honing and Windsor 2002, "Timing of ornaments in the theme from Beethoven's Paisiello variations", Music Perception
20:3-33: graces keep their length over tempo, and their time comes from the note before (read: abstract). Six to nine strokes a second for a student's
tremolo, and no key before 100 ms: common practice; skilled players' trills have 12 to 14 notes a second (Moore 1992, from memory).

Units: ticks of 1/960 quarter; tempo in pulses a minute.
"""

from __future__ import annotations

from collections.abc import Sequence

from companion.theory.meter import Meter

SLOWEST, QUICKEST, USUAL = 6.0, 9.0, 7.5  # strokes of a tremolo in a second
_MOST_PARTS = 64


def grace_ticks(ms: float, meter: Meter, tempo_bpm: float) -> int:
    """How many ticks a grace takes at a tempo, at most half a pulse."""
    return min(meter.pulse_ticks // 2, max(1, round(ms / 60_000.0 * tempo_bpm * meter.pulse_ticks)))


def tremolo_parts(tempo_bpm: float) -> int:
    """How many strokes two pulses have: an even number each pulse if the rate allows, else a whole one, else as near the usual rate as can be."""
    pulses = tempo_bpm / 60.0

    def unlike(parts: int) -> tuple[float, int, float]:
        rate = parts / 2 * pulses
        return (
            max(0.0, SLOWEST - rate, rate - QUICKEST),
            0 if parts % 4 == 0 else 2 - (parts % 2 == 0),
            abs(rate - USUAL),
        )

    return min(range(1, _MOST_PARTS), key=unlike)


def tremolo_ticks(ticks: int, meter: Meter, tempo_bpm: float) -> tuple[int, ...]:
    """Where the strokes of a tremolo of that length begin, from its own start; two at least. The last one may be longer than the others."""
    unit = 2 * meter.pulse_ticks / tremolo_parts(tempo_bpm)
    return tuple(round(number * unit) for number in range(max(2, int(ticks / unit + 1e-9))))


def halves(notes: Sequence[int], turns: Sequence[int]) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """The two chords that take turns, the first one first."""
    return tuple(note for note in notes if note not in turns), tuple(note for note in notes if note in turns)
