"""Keys and moving a spelling from one key to another."""

from __future__ import annotations

import re
from dataclasses import dataclass

from companion.theory.pitch import LETTERS, Tone

_KEY = re.compile(r"\s*([A-G][#♯b♭]?)\s*(m|min|minor|-|major|maj)?\s*")
# Sharps of the major key on each natural letter; flats are negative (circle of fifths).
_FIFTHS = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}
# The spelling a key usually gets, by pitch class: at most six flats or sharps (common practice: Db, not C#; Gb, not F#).
_MAJOR_SPELLING = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
_MINOR_SPELLING = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B")


@dataclass(frozen=True, slots=True)
class Key:
    """tonic: spelled; mode: "major" or "minor"."""

    tonic: Tone
    mode: str = "major"

    @classmethod
    def parse(cls, text: str) -> Key:
        """Read "Bb", "F#m", "G minor". Raises ValueError for anything else."""
        match = _KEY.fullmatch(text)
        if match is None:
            raise ValueError(f"{text!r} is not a key; expected such as Bb, F#m or G minor")
        return cls(Tone.parse(match[1]), "minor" if match[2] in ("m", "min", "minor", "-") else "major")

    @classmethod
    def usual(cls, pc: int, mode: str = "major") -> Key:
        """The key on a pitch class in its usual spelling."""
        return cls(Tone.parse((_MAJOR_SPELLING if mode == "major" else _MINOR_SPELLING)[pc % 12]), mode)

    @property
    def name(self) -> str:
        """As a chart writes it: "Bb", "F#m"."""
        return self.tonic.name + ("m" if self.mode == "minor" else "")

    def __str__(self) -> str:
        return self.name

    @property
    def fifths(self) -> int:
        """Sharps in the signature; flats are negative. Beyond seven the key has no signature of its own."""
        return _FIFTHS[self.tonic.letter] + 7 * self.tonic.alter - (3 if self.mode == "minor" else 0)

    def signature(self, letter: str) -> int:
        """What the key signature does to a letter, in semitones: 1 for the F of G major, -1 for the B of F major."""
        # Sharps come in the order F C G D A E B, flats the other way round; an eighth sharp would double the first.
        return (self.fifths - 2 - _FIFTHS[letter]) // 7 + 1


def move_tone(tone: Tone, old: Tone, new: Tone) -> Tone:
    """The tone that lies to `new` as `tone` lies to `old`, spelled alike: letters and semitones both kept."""
    steps = LETTERS.index(new.letter) - LETTERS.index(old.letter)
    letter = LETTERS[(LETTERS.index(tone.letter) + steps) % 7]
    wanted = (tone.pc + new.pc - old.pc) % 12
    alter = (wanted - Tone(letter).pc + 6) % 12 - 6
    return Tone(letter, alter)
