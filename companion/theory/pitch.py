"""Spelled tones and pitches.

Conventions: scientific pitch names, C4 = MIDI 60 (MIDI 1.0: middle C is note number 60). A Tone is a spelled pitch
class (A flat and G sharp differ); a Pitch is a Tone in an octave. The octave belongs to the letter, so Cb4 sounds as
B3 (MIDI 59) and B#3 as C4 (MIDI 60).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

LETTERS = "CDEFGAB"
LETTER_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_SIGNS = {"#": 1, "♯": 1, "b": -1, "♭": -1, "x": 2, "𝄪": 2, "𝄫": -2}
_TONE = re.compile(r"([A-G])([#♯b♭x𝄪𝄫]{0,3})")
_SCALE_SEMITONES = (0, 2, 4, 5, 7, 9, 11)  # the major scale: degrees 1 to 7
_DEGREE = re.compile(r"(bb|b|#|##)?([1-9]\d?)")


@dataclass(frozen=True, slots=True)
class Tone:
    """A spelled pitch class. letter: "A" to "G"; alter: semitones, -2 = double flat, +2 = double sharp."""

    letter: str
    alter: int = 0

    @classmethod
    def parse(cls, text: str) -> Tone:
        """Read "Bb", "F#", "C♯", "Ebb". Raises ValueError for anything else."""
        match = _TONE.fullmatch(text)
        if match is None:
            raise ValueError(f"{text!r} is not a note name; expected a letter A to G with sharps or flats, such as Bb")
        return cls(match[1], sum(_SIGNS[sign] for sign in match[2]))

    @property
    def pc(self) -> int:
        """Pitch class, C = 0 to B = 11."""
        return (LETTER_SEMITONES[self.letter] + self.alter) % 12

    @property
    def name(self) -> str:
        """ASCII name: "Bb", "F#", "Ebb", "C##"."""
        return self.letter + ("#" * self.alter if self.alter > 0 else "b" * -self.alter)

    def __str__(self) -> str:
        return self.name

    def degree(self, degree: str) -> Tone:
        """The tone at a scale degree above this one: Tone("G", -1).degree("b7") is Fb.

        degree: the major scale's degree with an optional sign: "1", "b3", "#5", "bb7", "9", "b13".
        """
        number, semitones = degree_interval(degree)
        index = LETTERS.index(self.letter) + number - 1
        letter = LETTERS[index % 7]
        natural = LETTER_SEMITONES[letter] + 12 * (index // 7)
        return Tone(letter, LETTER_SEMITONES[self.letter] + self.alter + semitones - natural)

    def at_or_above(self, midi: int) -> Pitch:
        """The lowest pitch of this spelling whose MIDI number is at least `midi`."""
        semitone = LETTER_SEMITONES[self.letter] + self.alter
        return Pitch(self, -((semitone - midi) // 12) - 1)


@lru_cache(maxsize=256)  # asked some five times a chord, always the same two dozen
def degree_interval(degree: str) -> tuple[int, int]:
    """(number, semitones) of a degree above the root: "b7" -> (7, 10), "#11" -> (11, 18), "bb7" -> (7, 9)."""
    match = _DEGREE.fullmatch(degree)
    if match is None:
        raise ValueError(f"{degree!r} is not a scale degree; expected such as 3, b7 or #11")
    number = int(match[2])
    sign = match[1] or ""
    octave, step = divmod(number - 1, 7)
    return number, 12 * octave + _SCALE_SEMITONES[step] + sign.count("#") - sign.count("b")


@dataclass(frozen=True, slots=True)
class Pitch:
    """A spelled pitch: a tone in a scientific octave (C4 = MIDI 60)."""

    tone: Tone
    octave: int

    @classmethod
    def parse(cls, text: str) -> Pitch:
        """Read "Bb2", "F#3". Raises ValueError for anything else."""
        match = re.fullmatch(r"([^\d-]+)(-?\d)", text)
        if match is None:
            raise ValueError(f"{text!r} is not a pitch; expected a note name and an octave, such as Bb2")
        return cls(Tone.parse(match[1]), int(match[2]))

    @property
    def midi(self) -> int:
        """MIDI number; C4 is 60, and Cb4 is 59."""
        return 12 * (self.octave + 1) + LETTER_SEMITONES[self.tone.letter] + self.tone.alter

    @property
    def name(self) -> str:
        """Name and octave: "Bb2"."""
        return f"{self.tone.name}{self.octave}"

    def __str__(self) -> str:
        return self.name

    @property
    def plain(self) -> Pitch:
        """As lead sheets write it: a double flat or sharp is the plain note that sounds the same, B double flat an A."""
        if abs(self.tone.alter) < 2:
            return self
        signs = (0, -1, 1) if self.tone.alter < 0 else (0, 1, -1)
        for alter in signs:
            for letter in LETTERS:
                tone = Tone(letter, alter)
                if tone.pc == self.tone.pc:
                    return tone.at_or_above(self.midi)
        return self
