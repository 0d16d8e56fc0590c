"""How a song was left on the stand: the table [stand] of the song's own file. What is as the song has it is not written.

[stand]
tempo = 96.0               # that it was last worked at
key = "Eb"
loop = "5-8"               # or a section, such as "A"
hands = "both"
rest_sounds = true         # the companion plays what is left to the other hand
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from companion.base.rules import TEXT, YES_NO, Rule, number, one_of, read_text
from companion.chart.lesson import HANDS
from companion.store.own_song import Rules, read_table, write_table
from companion.store.paths import Paths
from companion.theory.key import Key

_TABLE = "stand"
_SLOWEST, _FASTEST = 20, 400  # pulses a minute, as on the stand


def _read_key(value: Any) -> Key:
    return Key.parse(read_text(value))


_RULES: Rules = {
    "tempo": number(_SLOWEST, _FASTEST),
    "key": Rule(_read_key, 'a key such as "Eb" or "F#m"'),
    "loop": TEXT,
    "hands": one_of(*HANDS),
    "rest_sounds": YES_NO,
}


@dataclass(frozen=True, slots=True)
class OwnStand:
    """tempo_bpm: pulses a minute. loop: as session.loops reads it. None, and "" for the loop: as the song has it."""

    tempo_bpm: float | None = None
    key: Key | None = None
    loop: str = ""
    hands: str = "left"
    rest_sounds: bool = False


def load_stand(paths: Paths, song_id: str) -> OwnStand:
    """How the song was left. Raises SettingsError where the file is damaged."""
    values = read_table(paths, song_id, _TABLE, _RULES)
    return OwnStand(
        values.get("tempo"),
        values.get("key"),
        values.get("loop", ""),
        values.get("hands", "left"),
        values.get("rest_sounds", False),
    )


def save_stand(paths: Paths, song_id: str, left: OwnStand) -> None:
    """Keep how the song was left. Raises SettingsError."""
    values = {
        "tempo": left.tempo_bpm,
        "key": left.key.name if left.key else None,
        "loop": left.loop or None,
        "hands": left.hands if left.hands != "left" else None,
        "rest_sounds": left.rest_sounds or None,
    }
    write_table(paths, song_id, _TABLE, values)
