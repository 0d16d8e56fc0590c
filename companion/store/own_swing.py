"""Which version of a song's melody the student plays: the table [swing] of the song's own file.

version: 1, 2, 3 or "straight". seed: what the three versions are made by, 0 unless others were asked for. [swing.bars]: bars that are
kept, "straight" or as {version = 2, seed = 0}, whatever version is chosen.
"""

from __future__ import annotations

from typing import Any

from companion.base.rules import Rule, whole
from companion.groove.swung_choice import STRAIGHT, VERSIONS, BarVersion, SwungChoice
from companion.store.own_song import BAR, Lines, Rules, read_table, show_bar, write_table
from companion.store.paths import Paths

_TABLE = "swing"
_SEED = whole(0, 2**31)
_VERSION = whole(VERSIONS[0], VERSIONS[-1])


def _read_version(value: Any) -> int | None:
    return None if value == STRAIGHT else _VERSION.read(value)


def _read_bar_version(value: Any) -> BarVersion | None:
    if value == STRAIGHT:
        return None
    if not isinstance(value, dict) or value.keys() - {"version", "seed"} or "version" not in value:
        raise TypeError
    return BarVersion(_VERSION.read(value["version"]), _SEED.read(value.get("seed", 0)))


_RULES: Rules = {
    "version": Rule(_read_version, f'1, 2, 3 or "{STRAIGHT}"'),
    "seed": _SEED,
    "bars": Lines(
        BAR, Rule(_read_bar_version, f'"{STRAIGHT}" or such as {{version = 2, seed = 0}}, version from 1 to 3')
    ),
}


def load_swing(paths: Paths, song_id: str) -> SwungChoice:
    """The version chosen for a song; straight where none was. Raises SettingsError where the file is damaged."""
    values = read_table(paths, song_id, _TABLE, _RULES)
    seed, version = values.get("seed", 0), values.get("version")
    return SwungChoice(None if version is None else BarVersion(version, seed), seed, values.get("bars", {}))


def save_swing(paths: Paths, song_id: str, choice: SwungChoice) -> None:
    """Keep the version chosen for a song. Raises SettingsError."""
    bars = {
        show_bar(section, bar): {"version": kept.version, "seed": kept.seed} if kept else STRAIGHT
        for (section, bar), kept in sorted(choice.bars.items())
    }
    values = {
        "version": choice.whole.version if choice.whole else (STRAIGHT if bars else None),
        "seed": choice.seed or None,
        "bars": bars,
    }
    write_table(paths, song_id, _TABLE, values)
