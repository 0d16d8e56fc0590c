"""Chords in root position and their inversions, in close position: what one learns of a chord before its shell.

What is played of a symbol is at most four notes within an octave, the basic tones (common practice):

- root; the third, or the fourth or second that stands in for it (sus); the fifth, altered where the symbol says so; the seventh, or
  where there is none the sixth. Tensions (9, 11, 13 and their alterations) and other added tones are left out and named: they lie outside
  of the octave, and the left hand that learns this plays shells later, which have none of them either.
- Where both altered fifths are there (alt) the raised one is taken: the lowered one is heard as the tension it is an octave higher, #11.
- A slash bass is left to the bass. Where it is one of the basic tones, the chord with that tone lowest is an inversion, and its number is told.

Places (common practice): the lowest note of the left hand lies between C3 and A3; B flat and B lie below that where the low-interval
limits allow every pair, else above. The lowest note of the right hand lies in the octave from C4. MIDI numbers, C4 = 60.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, pairwise

from companion.hands.limits import DEFAULT_LIMITS, Limit, lowest_for
from companion.hands.root_fingers import fingerings_of
from companion.theory.chord import Chord
from companion.theory.pitch import LETTERS, Pitch, degree_interval

HAND_CHOICES = ("left", "right")
LEFT_LOWEST, LEFT_HIGHEST = 48, 57  # C3 and A3
RIGHT_LOWEST = 60  # C4
INVERSION_WORDS = ("root position", "first inversion", "second inversion", "third inversion")


@dataclass(frozen=True, slots=True)
class CloseChord:
    """A chord in close position, from the lowest note up. degrees: above the root, "1" and so on; pitches: spelled. inversion: 0 for root
    position. fingers: as written, "5-3-2-1"; or_fingers: others that are taught as well. left_out: degrees of the symbol that are
    not played."""

    chord: Chord
    hand: str
    inversion: int
    degrees: tuple[str, ...]
    pitches: tuple[Pitch, ...]
    fingers: str
    or_fingers: tuple[str, ...]
    left_out: tuple[str, ...]

    @property
    def midi(self) -> tuple[int, ...]:
        """MIDI numbers from the lowest up."""
        return tuple(pitch.midi for pitch in self.pitches)

    @property
    def names(self) -> tuple[str, ...]:
        """Names with their octaves."""
        return tuple(pitch.name for pitch in self.pitches)

    @property
    def id(self) -> str:
        """What it is remembered by, the same for all symbols of the same basic tones: "D b3 5 b7" for Dm7 as for Dm9."""
        return " ".join((self.chord.root.name, *(degree for degree in basic_degrees(self.chord) if degree != "1")))

    @property
    def span(self) -> int:
        """Semitones from the lowest to the highest note."""
        return self.midi[-1] - self.midi[0]


def basic_degrees(chord: Chord) -> tuple[str, ...]:
    """The degrees that are played of a chord in root position, rising; see the head of this file."""
    by_number: dict[int, list[str]] = {}
    for degree in chord.degrees:
        by_number.setdefault(degree_interval(degree)[0], []).append(degree)
    third = by_number.get(3) or by_number.get(4) or by_number.get(2) or []
    fifth = by_number.get(5, [])
    above = by_number.get(7) or by_number.get(6) or []
    found: list[str] = ["1"]
    heights = {0}
    for degrees in (third, fifth[-1:], above):
        for degree in degrees[:1]:
            height = degree_interval(degree)[1] % 12
            if height not in heights:  # a flat sixth on a raised fifth is the same key
                found.append(degree)
                heights.add(height)
    return tuple(found)


def close_chord(
    chord: Chord, hand: str = "left", inversion: int = 0, limits: tuple[Limit, ...] = DEFAULT_LIMITS
) -> CloseChord:
    """A chord in root position or an inversion. inversion: 0 for root position; counted on round where a chord has fewer tones, as
    the third inversion of a triad is root position again. limits: of the student's hand, for the left. Raises ValueError for a hand that is
    none or an inversion below 0."""
    if hand not in HAND_CHOICES or inversion < 0:
        raise ValueError(f"{hand!r}, inversion {inversion}: expected one of {', '.join(HAND_CHOICES)} and 0 or more")
    basic = basic_degrees(chord)
    inversion %= len(basic)
    degrees = basic[inversion:] + basic[:inversion]
    pitches = _lowest_place(chord, degrees, hand)
    if hand == "left":
        pitches = _by_limits(pitches, limits)
    letters = [_letters(lower, upper) for lower, upper in pairwise(pitches)]
    usual, *others = fingerings_of(letters, hand)
    left_out = tuple(degree for degree in chord.degrees if degree not in basic)
    return CloseChord(chord, hand, inversion, degrees, pitches, usual, tuple(others), left_out)


def _lowest_place(chord: Chord, degrees: tuple[str, ...], hand: str) -> tuple[Pitch, ...]:
    """Each tone the next above the one before it, from the lowest place of the hand on."""
    lowest = chord.root.degree(degrees[0]).at_or_above(LEFT_LOWEST if hand == "left" else RIGHT_LOWEST)
    pitches = [lowest]
    for degree in degrees[1:]:
        pitches.append(chord.root.degree(degree).at_or_above(pitches[-1].midi + 1))
    return tuple(pitches)


def _by_limits(pitches: tuple[Pitch, ...], limits: tuple[Limit, ...]) -> tuple[Pitch, ...]:
    """What lies too high goes an octave down where every pair stays clear; what lies too low for that goes up."""
    below = _moved(pitches, -1)
    if pitches[0].midi > LEFT_HIGHEST and _is_clear(below, limits):
        return below
    return pitches if _is_clear(pitches, limits) or pitches[0].midi > LEFT_HIGHEST else _moved(pitches, 1)


def _moved(pitches: tuple[Pitch, ...], octaves: int) -> tuple[Pitch, ...]:
    return tuple(Pitch(pitch.tone, pitch.octave + octaves) for pitch in pitches)


def _is_clear(pitches: tuple[Pitch, ...], limits: tuple[Limit, ...]) -> bool:
    return all(lower.midi >= lowest_for(limits, upper.midi - lower.midi) for lower, upper in combinations(pitches, 2))


def _letters(lower: Pitch, upper: Pitch) -> int:
    return (LETTERS.index(upper.tone.letter) - LETTERS.index(lower.tone.letter)) % 7


# --- in words


def left_out_words(close: CloseChord) -> str:
    """ "tensions left out: 9 and 13", "left out: b5", "" where nothing is."""
    tensions = [degree for degree in close.left_out if degree_interval(degree)[0] > 7]
    others = [degree for degree in close.left_out if degree not in tensions]
    words = [f"tensions left out: {_listed(tensions)}"] if tensions else []
    words += [f"left out: {_listed(others)}"] if others else []
    return ", ".join(words)


def bass_words(close: CloseChord) -> str:
    """What a slash bass means for it: "over E, which is left to the bass; with E lowest it is the first inversion". "" without one."""
    bass = close.chord.bass
    if bass is None:
        return ""
    words = f"over {bass.name}, which is left to the bass"
    for number, degree in enumerate(basic_degrees(close.chord)):
        if close.chord.root.degree(degree).pc == bass.pc:
            return f"{words}; with {bass.name} lowest it is the {INVERSION_WORDS[number]}" if number else words
    return words


def _listed(words: list[str]) -> str:
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))
