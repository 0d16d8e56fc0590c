"""Which degree of a chord a note is, as musicians write it: "3", "b7", "9", "#11"."""

from __future__ import annotations

from companion.theory.chord import Chord
from companion.theory.pitch import LETTERS, Tone, degree_interval

# Semitones above the root -> its degree where the chord itself does not have it; tensions by their upper names. All rows: common practice.
_DEGREES = {0: "1", 1: "b9", 2: "9", 4: "3", 5: "11", 7: "5", 10: "b7", 11: "7"}


def degree_in(tone: Tone, chord: Chord) -> str:
    """The degree of a note in a chord, counted from its root, whatever is in the bass.

    A note that the chord has is called as the chord calls it, however it is spelled; a minor third over a major one is "#9".
    The tritone goes by its letter; 6 and b6 are so called where the chord has no seventh, else 13 and b13 (common practice).
    """
    above = (tone.pc - chord.root.pc) % 12
    for degree in chord.degrees:
        if degree_interval(degree)[1] % 12 == above:
            return degree
    if above == 3:
        return "#9" if "3" in chord.degrees else "b3"
    if above == 6:
        letters = (LETTERS.index(tone.letter) - LETTERS.index(chord.root.letter)) % 7
        return "#11" if letters == 3 else "b5"
    if above in (8, 9):
        has_seventh = chord.degree(7) is not None
        return {8: ("b6", "b13"), 9: ("6", "13")}[above][has_seventh]
    return _DEGREES[above]
