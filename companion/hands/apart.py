"""How close a melody comes to the shells below it, and how high a shell may reach so that both hands have room.

Units: ticks for stretches of time, MIDI numbers for notes. A shell is taken to sound as long as its chord does, whatever the pattern.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence

LEAST_APART = (
    3  # semitones between a melody note and the shell's upper note: a minor third (ours; both thumbs need a key)
)
Stretch = tuple[int, int]  # from a tick up to another
Sung = tuple[int, int, int]  # start tick, end tick, MIDI number


def lowest_sung(chords: Sequence[Stretch], melody: Sequence[Sung]) -> list[int | None]:
    """The lowest melody note that sounds during each chord, None where none does. melody: in order, none overlapping another."""
    starts, ends = [note[0] for note in melody], [note[1] for note in melody]
    found: list[int | None] = []
    for start, end in chords:
        heard = melody[bisect_right(ends, start) : bisect_left(starts, end)]
        found.append(min((midi for _, _, midi in heard), default=None))
    return found


def ceilings(chords: Sequence[Stretch], melody: Sequence[Sung]) -> list[int | None]:
    """How high the upper note of each chord's shell may lie, None for as high as it likes."""
    return [None if midi is None else midi - LEAST_APART for midi in lowest_sung(chords, melody)]
