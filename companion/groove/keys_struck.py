"""Which keys of a chord go down in a strike of the left hand: the shell, or one of its keys, or one that stands for it.

Units: MIDI numbers.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from companion.groove.model import GrooveChord

SHELL = "shell"
# lower, upper: of the shell; fifth: of the chord, above the shell's lower note, below where that is high; low: the lower note, an octave down
# where the left hand's end of the keyboard has room.
KINDS = (SHELL, "lower", "upper", "fifth", "low")
# No higher than the left hand's highest note of itself (C4), no lower than a player without long arms goes for a bass note (C2). Common practice.
HIGHEST_FIFTH, LOWEST_ROOT = 60, 36
OCTAVE = 12


def keys_struck(kind: str, chord: GrooveChord) -> tuple[int, ...]:
    """The keys, from the lowest. kind: one of KINDS. chord: with notes."""
    if chord.moved:  # as it is written, and all of that moved: how low a hand goes was chosen there
        written = replace(chord, notes=tuple(note - chord.moved for note in chord.notes), moved=0)
        return tuple(key + chord.moved for key in keys_struck(kind, written))
    lower, upper = chord.notes[0], chord.notes[-1]
    if kind == "lower":
        return (lower,)
    if kind == "upper":
        return (upper,)
    if kind == "low":
        return (lower - OCTAVE if lower - OCTAVE >= LOWEST_ROOT else lower,)
    if kind == "fifth":
        return (_fifth(lower, chord),)
    return chord.notes


def struck_with(kind: str, chord: GrooveChord, shells: Iterable[tuple[int, ...]]) -> tuple[tuple[int, ...], ...]:
    """What the same strike would be with other shells of the chord, each once."""
    return tuple(dict.fromkeys(keys_struck(kind, replace(chord, notes=shell)) for shell in shells))


def _fifth(lower: int, chord: GrooveChord) -> int:
    """The nearest above, or below where that is too high. Of a chord without a fifth (a symbol for its root alone, say) the lower note again."""
    tone = chord.chord.tone(5) if chord.chord is not None else None
    if tone is None:
        return lower
    above = lower + (tone.pc - lower) % OCTAVE
    return above if above <= HIGHEST_FIFTH else above - OCTAVE
