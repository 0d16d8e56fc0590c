"""How the student plays a song's melody: the table [melody] of the song's own file.

    [melody]
    room = "octave"            # or "shells": what gives way where the melody comes too close to the left hand
    other_shells = ["Db"]      # the keys in which the companion took other shells for that before the left hand knew the song
    [melody.fingers]
    "A.3.2" = 4            # the second note that begins in bar 3 of section A; in bar 0 those of the song's pickup

other_shells is kept so that these shells stay once they are learned; it is of no account where the student chose.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from companion.base.rules import Rule, one_of, whole
from companion.chart.melody import NotePlace
from companion.store.own_song import NOTE, Lines, Rules, read_table, show_note, write_table
from companion.store.paths import Paths
from companion.theory.pitch import Tone

_TABLE = "melody"
SHELLS, OCTAVE = "shells", "octave"  # what gives way: the left hand takes other shells, the melody goes up
ROOMS = (SHELLS, OCTAVE)
Fingers = Mapping[NotePlace, int]


@dataclass(frozen=True, slots=True)
class OwnMelody:
    """room: one of ROOMS, None where nothing was chosen. other_shells: tonics. fingers: the student's own, 1 to 5."""

    room: str | None = None
    other_shells: tuple[Tone, ...] = ()
    fingers: Fingers = field(default_factory=dict)


def _read_tonics(value: Any) -> tuple[Tone, ...]:
    if not isinstance(value, list) or not all(isinstance(name, str) for name in value):
        raise TypeError
    return tuple(map(Tone.parse, value))


_RULES: Rules = {
    "room": one_of(*ROOMS),
    "other_shells": Rule(_read_tonics, 'a list of keynotes such as ["Db", "E"]'),
    "fingers": Lines(
        NOTE,
        whole(1, 5),
    ),
}


def load_melody(paths: Paths, song_id: str) -> OwnMelody:
    """What the student chose for a song's melody. Raises SettingsError where the file is damaged."""
    values = read_table(paths, song_id, _TABLE, _RULES)
    return OwnMelody(values.get("room"), values.get("other_shells", ()), values.get("fingers", {}))


def save_room(paths: Paths, song_id: str, room: str | None) -> None:
    """Keep what gives way, None for as the companion finds. Raises SettingsError."""
    write_table(paths, song_id, _TABLE, {"room": room})


def add_other_shells(paths: Paths, song_id: str, tonic: Tone) -> None:
    """Keep that other shells were taken in this key. Raises SettingsError."""
    tonics = load_melody(paths, song_id).other_shells
    if all(tonic.pc != other.pc for other in tonics):
        write_table(paths, song_id, _TABLE, {"other_shells": [other.name for other in (*tonics, tonic)]})


def save_fingers(paths: Paths, song_id: str, fingers: Fingers) -> None:
    """Keep exactly these fingers. Raises SettingsError."""
    lines = {show_note(place): finger for place, finger in sorted(fingers.items())}
    write_table(paths, song_id, _TABLE, {"fingers": lines})
