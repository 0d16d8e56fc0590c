"""Which version of a song's melody is played: straight as written, or one of three swung ones (`swung.py`), and which bars otherwise."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

STRAIGHT = "straight"  # the melody as it is written
VERSIONS = (1, 2, 3)


@dataclass(frozen=True, slots=True)
class BarVersion:
    """A swung version by its number, one of VERSIONS, and the seed that the three were made by."""

    version: int
    seed: int = 0


@dataclass(frozen=True, slots=True)
class SwungChoice:
    """whole: the version of the whole song, None for straight. seed: of the three versions to choose from. bars: (section, bar from 1) ->
    the version that this bar keeps whatever is chosen for the whole, None for straight."""

    whole: BarVersion | None = None
    seed: int = 0
    bars: Mapping[tuple[str, int], BarVersion | None] = field(default_factory=dict)

    @property
    def is_straight(self) -> bool:
        """Whether nothing is changed anywhere."""
        return self.whole is None and not any(self.bars.values())
