"""A chord in the words of MusicXML: the kind that says the most of it, and degrees for what the kind leaves unsaid.

Source: MusicXML 4.0 (W3C Music Notation Community Group, 2021), "kind", "degree", "degree-value", "degree-type": a
degree of type "alter" counts its semitones from the kind's own degree, one of type "add" from the dominant chord's
(major and perfect steps, the seventh minor).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from companion.theory.chord import Chord
from companion.theory.pitch import degree_interval
from companion.theory.qualities import MUSICXML_KINDS

_DOMINANT_SEVENTH = 10  # semitones above the root from which an added seventh is counted


@dataclass(frozen=True, slots=True)
class Degree:
    """value: the step above the root; alter: semitones; type: "add", "alter" or "subtract"."""

    value: int
    alter: int
    type: str


def kind_of(chord: Chord) -> tuple[str, tuple[Degree, ...]]:
    """(kind, degrees) of a chord."""
    return _kind_of(chord.degrees)


@lru_cache(maxsize=256)
def _kind_of(degrees: tuple[str, ...]) -> tuple[str, tuple[Degree, ...]]:
    """The kind that needs the fewest degrees, the earlier of the schema's list among equals."""
    kinds = {kind: tones for kind, tones in MUSICXML_KINDS.items() if tones and kind != "pedal"}
    said = {kind: _differences(tones, degrees) for kind, tones in kinds.items()}
    best = min(said, key=lambda kind: (_doubt(said[kind]), sum(degree.type == "subtract" for degree in said[kind])))
    if degrees == ("1",):
        return "pedal", ()
    return best, said[best]


def _doubt(degrees: tuple[Degree, ...]) -> int:
    """How much a kind leaves to say. Readers disagree on an added seventh (music21 10 makes it major), so a kind that
    has it is worth two degrees more: 7sus4 is a dominant chord with a fourth for its third."""
    return len(degrees) + 2 * any(degree.value == 7 and degree.type == "add" for degree in degrees)


def _differences(kind: tuple[str, ...], wanted: tuple[str, ...]) -> tuple[Degree, ...]:
    """What turns the kind's tones into the wanted ones."""
    missing = [degree for degree in wanted if degree not in kind]
    surplus = [degree for degree in kind if degree not in wanted]
    said = []
    for old in surplus:
        number, semitones = degree_interval(old)
        new = next((degree for degree in missing if degree_interval(degree)[0] == number), None)
        if new is None:
            said.append(Degree(number, 0, "subtract"))
        else:
            missing.remove(new)
            said.append(Degree(number, degree_interval(new)[1] - semitones, "alter"))
    for new in missing:
        number, semitones = degree_interval(new)
        plain = _DOMINANT_SEVENTH if number == 7 else degree_interval(str(number))[1]
        said.append(Degree(number, semitones - plain, "add"))
    return tuple(sorted(said, key=lambda degree: (degree.value, degree.alter)))
