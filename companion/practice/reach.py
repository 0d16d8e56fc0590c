"""Which keys are the left hand's, while the right hand may play too, and what a hand may do besides. Notes are MIDI numbers."""

from __future__ import annotations

from collections.abc import Iterable

from companion.groove.model import GrooveBar

# What lies higher than this above every note of the left hand is the right hand's (a fourth; our own choice).
RIGHT_HAND_ABOVE = 5
HIGHEST_KEY = 127
# A key so near a due one is a slip of the finger to its neighbour (our own choice).
NEIGHBOUR_SEMITONES = 2
# So many keys too many in one strike are no slip of a finger (our own choice).
SMASH_KEYS = 4
# The longest roll of a shell in seconds, from its first key to its last (our own choice; common practice rolls faster).
ROLL_S = 0.150
# A key so shortly before a due note of the melody is a grace note: they keep their length of some 80 ms whatever the tempo (Timmers and
# others 2002); half as much again is left to the student (our own choice).
GRACE_S = 0.120
# A key that is asked for as a slide may come so long before its note: the longest that can be set, and half as much again.
SLID_S = 0.180


def left_hand_ceiling(bars: Iterable[GrooveBar]) -> int:
    """The highest note that is the left hand's in these bars: what is higher is the right hand's and is not marked."""
    bars = tuple(bars)
    tops = [chord.notes[-1] + RIGHT_HAND_ABOVE for bar in bars for chord in bar.chords if chord.notes]
    written = [strike.notes[-1] for bar in bars for strike in bar.written if strike.part == "left"]
    return max((*tops, *written)) if tops else HIGHEST_KEY


def octave_higher(notes: Iterable[int]) -> frozenset[int]:
    """The same notes an octave higher: struck all together they are a wrong octave, however high they lie."""
    return frozenset(note + 12 for note in notes)
