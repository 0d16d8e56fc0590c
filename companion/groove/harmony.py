"""What a bass may play on a chord: its chord tones and the scale that fills them, as pitch classes (C = 0).

Source of the tables: the chord-scale tradition of jazz teaching (common practice).
"""

from __future__ import annotations

from functools import lru_cache

from companion.theory.chord import Chord
from companion.theory.pitch import degree_interval

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
    """The pitch class of a degree of the chord, 0 to 11; see `theory.pitch.degree_interval`."""
    return (chord.root.pc + degree_interval(degree)[1]) % 12


@lru_cache(maxsize=1024)
def lowest_pc(chord: Chord) -> int:
    """What the bass plays where the chord comes in: the slash bass, else the root."""
    return (chord.bass or chord.root).pc


@lru_cache(maxsize=1024)
def chord_pcs(chord: Chord) -> frozenset[int]:
    """Root, third or suspended tone, fifth, sixth or seventh, and the slash bass. Ninths and higher are no tones for a
    bass to stand on."""
    tones = {pc_of(chord, degree) for degree in chord.degrees if degree_interval(degree)[0] <= 7}
    return frozenset(tones | {lowest_pc(chord)})


@lru_cache(maxsize=1024)
def scale_pcs(chord: Chord) -> frozenset[int]:
    """The chord's tones, every one, and the fill for the steps it has none on: a b9 keeps the plain second out."""
    taken = {(degree_interval(degree)[0] - 1) % 7 for degree in chord.degrees}
    fill = next(fill for needed, fill in SCALE_FILL if set(needed) <= set(chord.degrees))
    open_steps = {pc_of(chord, degree) for degree in fill if degree_interval(degree)[0] - 1 not in taken}
    return chord.pitch_classes | chord_pcs(chord) | open_steps


@lru_cache(maxsize=1024)
def answer_pc(chord: Chord) -> int:
    """What a two-feel answers the root with: the chord's own fifth, flat or sharp as written.

    A chord without one that is written with b13 or #11 takes that, sounding as #5 or b5. Over a slash bass the root
    answers if the bass is a chord tone (an inversion), else the bass is played again (a pedal).
    """
    if chord.bass is not None and chord.bass.pc != chord.root.pc:
        return chord.root.pc if chord.bass.pc in chord.pitch_classes else chord.bass.pc
    fifth = chord.degree(5)
    altered = next((degree for degree in ("b13", "#11") if degree in chord.degrees), "5")
    return pc_of(chord, fifth or altered)
