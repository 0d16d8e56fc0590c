"""Single notes that walk by step into the next root, on the last beats of a chord (common practice).

Each note is a half or a whole step from the next, all in one direction, and belongs to the scale of the chord that still sounds; only the last may
be the half step beside the root, from outside. Fingers are those of the right hand mirrored at D, where black and white keys mirror each other too.

Units: MIDI numbers, pulses, points.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from companion.hands.right.fingering import HandPhrase, finger_phrases
from companion.theory.chord import Chord
from companion.theory.chord_scales import scale_pitches
from companion.theory.key import Key
from companion.theory.pitch import LETTERS, Pitch, Tone

STEP = 2
MOST_NOTES = 3
ABOVE = 3  # semitones at least up to whatever the right hand plays (hands/apart.py)
MINOR_NINTHS = (1, 13, 25, 37)  # above a walking note, struck or held: never (common practice)

# --- costs, all ours
FROM_SHELL = 2  # each semitone beyond a whole step from the lower note of the shell to the first note
OUTSIDE = 3  # a half step that the scale does not have
ONE_MORE = 1  # each note more than two, or less
AGAIN = 4  # the shell's own lower note once more at the start
_MIRROR = 2 * 62  # D4


@dataclass(frozen=True, slots=True)
class Way:
    """From where to where, and what stands in the way. chord: that sounds until then; low: the lower key of its shell; goal: the root's key that comes next, spelled. lowest: of the left
    hand. above: for each of the last beats, from the earliest, the keys of the right hand that sound in it."""

    chord: Chord
    low: int
    goal: Pitch
    lowest: int
    above: tuple[tuple[int, ...], ...]


def walk(way: Way) -> tuple[Pitch, ...]:
    """The notes of the cheapest walk, one a beat, () where there is none. So many beats as `above` has may be taken, but for the first of four, or of two."""
    found = [
        (_cost(way, line), -line[0].midi, line)
        for count in range(1, min(MOST_NOTES, len(way.above)) + 1)
        for is_up in (True, False)
        for line in _lines(way, count, is_up=is_up)
    ]
    return min(found, key=lambda each: each[:2])[2] if found else ()


def fits(way: Way, pitches: Sequence[Pitch]) -> bool:
    """Whether the notes, on the last beats, lie in the hand's range and clear of the right hand."""
    beats = way.above[len(way.above) - len(pitches) :]
    return all(
        way.lowest <= pitch.midi
        and all(key >= pitch.midi + ABOVE and key - pitch.midi not in MINOR_NINTHS for key in keys)
        for pitch, keys in zip(pitches, beats, strict=True)
    )


def left_fingers(keys: Sequence[int], key: Key) -> tuple[int, ...]:
    """A finger, 1 to 5, for each note of a line."""
    if not keys:
        return ()
    mirrored = tuple(_MIRROR - each for each in keys)
    return finger_phrases([HandPhrase(mirrored, tuple(range(len(keys))), key)])[0]


def _lines(way: Way, count: int, *, is_up: bool) -> Iterator[tuple[Pitch, ...]]:
    """All that are legal with so many notes, up or down to the goal."""
    lines: list[tuple[Pitch, ...]] = [()]
    for number in range(count):
        lines = [(pitch, *line) for line in lines for pitch in _before(way, line, number, is_up=is_up)]
    yield from (line for line in lines if fits(way, line))


def _before(way: Way, line: tuple[Pitch, ...], number: int, *, is_up: bool) -> list[Pitch]:
    at = line[0].midi if line else way.goal.midi
    low, high = (at - STEP, at - 1) if is_up else (at + 1, at + STEP)
    found = list(scale_pitches(way.chord, low, high))
    beside = at - 1 if is_up else at + 1
    if number == 0 and all(pitch.midi != beside for pitch in found):
        found.append(half_step(way.goal, below=is_up))
    return found


def half_step(goal: Pitch, *, below: bool) -> Pitch:
    """The note a half step below or above, on the letter beside it."""
    midi = goal.midi - 1 if below else goal.midi + 1
    letter = LETTERS[(LETTERS.index(goal.tone.letter) + (-1 if below else 1)) % 7]
    alter = (midi - Tone(letter).pc + 6) % 12 - 6
    return Tone(letter, alter).at_or_above(midi).plain


def _cost(way: Way, line: tuple[Pitch, ...]) -> int:
    first, last = line[0].midi, line[-1]
    cost = FROM_SHELL * max(0, abs(first - way.low) - STEP) + AGAIN * (first == way.low)
    if all(pitch.midi != last.midi for pitch in scale_pitches(way.chord, last.midi, last.midi)):
        cost += OUTSIDE
    return cost + ONE_MORE * abs(len(line) - 2)
