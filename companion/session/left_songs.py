"""Songs that were on the stand this evening, each to be found again as it was left."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

# What a conductor holds for its song; all else (keyboards, minutes, what sounds) is the evening's.
_FOR_ITS_SONG = ("stand", "kind", "hands", "asks", "practice", "pins_before", "keys")
_AND_ITS_PASSES = ("_slips", "_signs", "_signs_before", "_seen")


class LeftSongs:
    """By the song's id: the conductor's own fields, all of them put back at once, so that no way of practising meets another song."""

    def __init__(self) -> None:
        self._left: dict[str, Mapping[str, Any]] = {}

    def leave(self, song_id: str, fields: Mapping[str, Any]) -> None:
        """Keep those of a conductor's fields that belong to its song."""
        self._left[song_id] = {name: fields[name] for name in _FOR_ITS_SONG + _AND_ITS_PASSES}

    def fields(self, song_id: str) -> Mapping[str, Any]:
        """What was kept. KeyError for a song that was not there."""
        return self._left[song_id]
