"""Which version of a song's melody is played: straight as written, or one of three swung ones (`swung.py`), and which bars otherwise."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

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

    def with_version(self, version: int | None) -> SwungChoice:
        """With one of VERSIONS, or None for straight, for the whole song; bars that are kept stay."""
        return replace(self, whole=None if version is None else BarVersion(version, self.seed))

    def with_seed(self, seed: int) -> SwungChoice:
        """With three other versions to choose from, that of the same number chosen. Bars that are kept stay as they were."""
        return replace(self, seed=seed, whole=self.whole and BarVersion(self.whole.version, seed))

    def with_bar(self, section: str, bar: int, version: int | None) -> SwungChoice:
        """With a bar kept in one of VERSIONS, or None for straight, whatever is chosen for the whole."""
        kept = None if version is None else BarVersion(version, self.seed)
        return replace(self, bars={**self.bars, (section, bar): kept})

    def without_bar(self, section: str, bar: int) -> SwungChoice:
        """With a bar that is as the whole again."""
        return replace(self, bars={place: kept for place, kept in self.bars.items() if place != (section, bar)})

    @property
    def is_straight(self) -> bool:
        """Whether nothing is changed anywhere."""
        return self.whole is None and not any(self.bars.values())
