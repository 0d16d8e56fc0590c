"""The scale that goes with a chord: its own tones, and what fills the steps between them.

Source of the table: the chord-scale tradition of jazz teaching (common practice; Nettles and Graf's and Haerle's books print the same rows, from memory).
"""

from __future__ import annotations

from functools import lru_cache

from companion.theory.chord import Chord
from companion.theory.pitch import Pitch, degree_interval

# First row whose degrees the chord has all of: what fills the gaps between its tones.
SCALE_FILL = (
    (("b3", "b5", "bb7"), ("2", "4", "b6", "b8")),  # diminished: whole and half steps; b8, as the 7th step is taken
    (("b3", "b5"), ("b2", "4", "b6", "b7")),  # half-diminished: Locrian
    (("b3", "7"), ("2", "4", "5", "6")),  # minor-major: melodic minor
    (("b3",), ("2", "4", "5", "6", "b7")),  # minor: Dorian
    (("#5", "b7"), ("2", "#4")),  # augmented seventh: whole tones
    (("#5",), ("2", "#4", "6", "7")),  # augmented: Lydian augmented
    (("b7",), ("2", "4", "5", "6")),  # dominant and 7sus: Mixolydian
    ((), ("2", "4", "5", "6", "7")),  # major: Ionian
)


def pc_of(chord: Chord, degree: str) -> int:
    """The pitch class of a degree of the chord, 0 to 11; see `pitch.degree_interval`."""
    return (chord.root.pc + degree_interval(degree)[1]) % 12


@lru_cache(maxsize=1024)
def scale_degrees(chord: Chord) -> tuple[str, ...]:
    """The chord's own degrees, every one, then the fill for the steps it has none on: a b9 keeps the plain second out."""
    taken = {(degree_interval(degree)[0] - 1) % 7 for degree in chord.degrees}
    fill = next(fill for needed, fill in SCALE_FILL if set(needed) <= set(chord.degrees))
    return (*chord.degrees, *(degree for degree in fill if degree_interval(degree)[0] - 1 not in taken))


@lru_cache(maxsize=1024)
def scale_pitches(chord: Chord, lowest: int, highest: int) -> tuple[Pitch, ...]:
    """Its scale between two MIDI numbers, both included, from the lowest; spelled from the chord, each key once."""
    return _pitches(chord, scale_degrees(chord), lowest, highest)


@lru_cache(maxsize=1024)
def chord_pitches(chord: Chord, lowest: int, highest: int) -> tuple[Pitch, ...]:
    """Its own tones there, without the eleventh over a major third, an avoid note (as above)."""
    own = tuple(degree for degree in chord.degrees if not (degree in ("11", "4") and "3" in chord.degrees))
    return _pitches(chord, own, lowest, highest)


def _pitches(chord: Chord, degrees: tuple[str, ...], lowest: int, highest: int) -> tuple[Pitch, ...]:
    by_pc = {pc_of(chord, degree): chord.root.degree(degree) for degree in reversed(degrees)}
    return tuple(by_pc[midi % 12].at_or_above(midi).plain for midi in range(lowest, highest + 1) if midi % 12 in by_pc)
