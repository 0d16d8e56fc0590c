"""What a bass may play on a chord: its chord tones and the scale that fills them, as pitch classes (C = 0)."""

from __future__ import annotations

from functools import lru_cache

from companion.theory.chord import Chord
from companion.theory.chord_scales import pc_of, scale_degrees
from companion.theory.pitch import degree_interval


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
    """The chord's tones, every one, the slash bass, and what fills the steps between."""
    return chord_pcs(chord) | {pc_of(chord, degree) for degree in scale_degrees(chord)}


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
