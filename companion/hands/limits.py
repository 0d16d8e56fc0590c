"""Low-interval limits: the lowest place where two notes of an interval still sound clear together.

The lower two notes sit, the wider they must stand apart. Handbooks differ by one to three semitones, so this is one
named table that the student may edit, not a law. Units: semitones for the size, MIDI numbers (C4 = 60) for `lowest`.

The sources that the rows name:

A  a music retailer's online glossary, entry "low interval limit", its octave numbers raised by one (its C3 is middle C)
B  the college arranging-handbook tradition (texts by Lowell and Pullig, and Pease and Pullig), from memory
C  a rule posted to the Usenet group rec.music.theory, which keeps the missing fundamental above A0

Why there is such a limit at all: Plomp and Levelt 1965 (J. Acoust. Soc. Am. 38:548-560): two tones are roughest when
about a quarter of a critical band apart, and the same interval takes up less of a band the lower it lies.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from companion.errors import SettingsError
from companion.theory.pitch import Pitch


@dataclass(frozen=True, slots=True)
class Limit:
    """One row. name: of the interval. semitones: its size. lowest: MIDI number of the lowest lower note, None where
    the interval is clear anywhere. source: where the figure comes from and who differs."""

    name: str
    semitones: int
    lowest: int | None
    source: str


DEFAULT_LIMITS = (
    Limit("minor second", 1, 52, "E3 in A and B"),
    Limit("major second", 2, 51, "Eb3 in A and B"),
    Limit("minor third", 3, 48, "C3 in A and B; C has C#3"),
    Limit("major third", 4, 46, "Bb2 in B; A has B2, C has A2"),
    Limit("fourth", 5, 45, "A2 in A; B has Bb2, C has E2"),
    Limit("tritone", 6, 45, "A2, between its neighbours in A, which prints B1 out of its own order; B has B2"),
    Limit("fifth", 7, 37, "C#2 in A; B has Bb1, C has A1"),
    Limit("minor sixth", 8, 41, "F2 in A; B has F2 to G2, C has C#3"),
    Limit("major sixth", 9, 41, "F2 in A and B; C has E2"),
    Limit("minor seventh", 10, 41, "F2 in A and B"),
    Limit("major seventh", 11, 41, "F2 in A and B"),
    Limit("octave", 12, None, "no limit in B"),
    Limit("minor ninth", 13, 40, "E2 in B"),
    Limit("major ninth", 14, 39, "Eb2 in B"),
    Limit("minor tenth", 15, 36, "C2 in B"),
    Limit("major tenth", 16, 34, "Bb1 in B"),
)


def lowest_for(limits: tuple[Limit, ...], semitones: int) -> int:
    """MIDI number of the lowest lower note for an interval of that size; 0 where the table sets none."""
    for row in limits:
        if row.semitones == semitones:
            return row.lowest or 0
    return 0


def edited_limits(changes: Mapping[str, str | None], limits: tuple[Limit, ...] = DEFAULT_LIMITS) -> tuple[Limit, ...]:
    """The table with some rows changed: {"major third": "B2", "fourth": None} (None lifts the limit).

    Raises SettingsError for an interval that is not in the table or a pitch that cannot be read.
    """
    names = [row.name for row in limits]
    for name in changes:
        if name not in names:
            raise SettingsError(f"limits: {name!r} is not an interval of the table; expected one of {', '.join(names)}")
    return tuple(
        replace(row, lowest=_midi(row.name, changes[row.name]), source="your own setting")
        if row.name in changes
        else row
        for row in limits
    )


def _midi(name: str, pitch: str | None) -> int | None:
    if pitch is None:
        return None
    try:
        return Pitch.parse(pitch).midi
    except ValueError as error:
        raise SettingsError(f"limits: {name}: {error}") from None
