"""Parts for transposing instruments, as they sound: each part's own transposition applies to its own notes and symbols.

Source: MusicXML 4.0, element <transpose>: what must be added to a written pitch to get the sounding one, in steps
(diatonic), semitones (chromatic) and whole octaves (octave-change); it holds until the part's next one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from companion.chart.melody_text import move_pitch
from companion.importing.score import key_of_signature
from companion.theory.pitch import Pitch
from companion.theory.symbols import move_chord, parse_chord

# Semitones within an octave -> the steps that are meant where the file does not say (common practice: B flat is -2, -1).
_USUAL_STEPS = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)
_MOST_SIGNS = 6


@dataclass(frozen=True, slots=True)
class Transposition:
    """semitones: from the written to the sounding pitch. steps: of the staff, which tell how it is spelled."""

    semitones: int = 0
    steps: int = 0

    @classmethod
    def parse(cls, said: Mapping[str, str]) -> Transposition | None:
        """What a <transpose> says; None where it says no semitones, or no numbers."""
        try:
            semitones, octaves = int(said["chromatic"]), int(said.get("octave-change", "0"))
            sign = -1 if semitones < 0 else 1
            whole, rest = divmod(abs(semitones), 12)
            usual = sign * (7 * whole + _USUAL_STEPS[rest])
            return cls(semitones + 12 * octaves, int(said.get("diatonic", usual)) + 7 * octaves)
        except (KeyError, ValueError):
            return None

    def fifths(self, written: int) -> int:
        """The signature that sounds, spelled with at most six signs."""
        fifths = written + 7 * self.semitones - 12 * self.steps
        while abs(fifths) > _MOST_SIGNS and self.semitones:
            fifths += -12 if fifths > 0 else 12
        return fifths

    def pitch(self, pitch: Pitch, fifths: int) -> Pitch:
        """A note as it sounds. fifths: the signature it is written under."""
        if not self.semitones:
            return pitch
        return move_pitch(pitch, key_of_signature(fifths), key_of_signature(self.fifths(fifths)), self.semitones)

    def symbol(self, symbol: str, fifths: int) -> str:
        """A chord symbol as it sounds."""
        old, new = key_of_signature(fifths), key_of_signature(self.fifths(fifths))
        if not self.semitones % 12:
            return symbol
        return move_chord(parse_chord(symbol), old.tonic, new.tonic, new).symbol
