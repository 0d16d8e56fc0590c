"""What goes with a song's melody: the table [arrangement] of the song's own file.

voices: notes in the right hand with the melody, 1 to 4. tensions: whether ninths, elevenths and thirteenths are added. intro, ending: see arranging/beginnings.py and endings.py. slows_to, curve: how an ending slows down: to which share
of the tempo, and the q of its curve. seed: what is chosen by chance is chosen by it. [arrangement.notes]: what the student wants under a note, by section, bar and number of the note in the bar:
"A.3.2" = "3 b7", degrees of the chord from the lowest, or "alone".
"""

from __future__ import annotations

from typing import Any

from companion.arranging.beginnings import INTROS
from companion.arranging.choice import ALONE, MOST_VOICES, ArrangementChoice
from companion.arranging.endings import CURVE, CURVE_LIMITS, ENDINGS, SLOWS_TO, SLOWS_TO_LIMITS
from companion.base.rules import YES_NO, Rule, number, one_of, whole
from companion.store.own_song import NOTE, Lines, Rules, read_table, show_note, write_table
from companion.store.paths import Paths
from companion.theory.pitch import degree_interval

_TABLE = "arrangement"
_ALONE_WORD = "alone"


def _read_degrees(value: Any) -> tuple[str, ...]:
    if value == _ALONE_WORD:
        return ()
    if not isinstance(value, str) or not value.split():
        raise TypeError
    for degree in value.split():
        degree_interval(degree)  # a ValueError for what is none
    return tuple(value.split())


_RULES: Rules = {
    "voices": whole(ALONE, MOST_VOICES),
    "tensions": YES_NO,
    "intro": one_of(*INTROS),
    "ending": one_of(*ENDINGS),
    "slows_to": number(*SLOWS_TO_LIMITS),
    "curve": number(*CURVE_LIMITS),
    "seed": whole(0, 2**31),
    "notes": Lines(NOTE, Rule(_read_degrees, f'degrees of the chord such as "3 b7", or "{_ALONE_WORD}"')),
}


def load_arrangement(paths: Paths, song_id: str) -> ArrangementChoice:
    """What was chosen for a song; the melody alone where nothing was. Raises SettingsError where the file is damaged."""
    return ArrangementChoice(**read_table(paths, song_id, _TABLE, _RULES))


def save_arrangement(paths: Paths, song_id: str, choice: ArrangementChoice) -> None:
    """Keep what is chosen for a song. Raises SettingsError."""
    notes = {show_note(place): " ".join(degrees) or _ALONE_WORD for place, degrees in sorted(choice.notes.items())}
    values = {
        "voices": choice.voices if choice.voices != ALONE or notes else None,
        "tensions": choice.tensions or None,
        "intro": None if choice.intro == INTROS[0] else choice.intro,
        "ending": None if choice.ending == ENDINGS[0] else choice.ending,
        "slows_to": None if choice.slows_to == SLOWS_TO else choice.slows_to,
        "curve": None if choice.curve == CURVE else choice.curve,
        "seed": choice.seed or None,
        "notes": notes,
    }
    write_table(paths, song_id, _TABLE, values)
