"""What one may ask of an export, whatever the kind of file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from companion.errors import CompanionError
from companion.groove.model import CALLS, HAND_PARTS, hand_parts

# part -> its name on a track. The order is that of the tracks.
PART_NAMES = {"left": "left hand", "bass": "bass", "click": "click", "right": "melody"}
TRACK_PARTS = PART_NAMES | {CALLS: "changes called"}  # what a track may hold besides: speech is no MIDI
# What the student may say for a part, besides its name.
_ALSO_CALLED = {"melody": "right"}
MOST_CHORUSES = 200


class ExportError(CompanionError):
    """A target that cannot be written, or an option that does not fit it."""

    title = "Not exported"


@dataclass(frozen=True, slots=True)
class ExportOptions:
    """parts: names out of PART_NAMES, None for all there are. hands: whose notes a sheet holds, one of chart.lesson.HANDS, None for all there
    are. fingers: whether it has some for the melody too, as it has where the right hand is asked for. choruses: passes of the loop, None for what suits the target. calls: the folder that what is spoken is
    kept in where the changes are called on a track, None where they are not.
    from_tempo_bpm: where a track that climbs begins; it ends at the stand's tempo. written_pattern: whether the sheet
    writes out the left hand's rhythm, else each shell stands once for as long as its chord. round: of the fading drill,
    from 1, None for a sheet that shows all. force: whether a file that is there may be replaced. size: of a sheet, one of sizes.SIZES, None
    for the settings' own."""

    parts: tuple[str, ...] | None = None
    hands: str | None = None
    fingers: bool = False
    choruses: int | None = None
    calls: Path | None = None
    from_tempo_bpm: float | None = None
    written_pattern: bool = False
    round: int | None = None
    force: bool = False
    size: str | None = None


def parts_beside(hands: str, *, rest: bool = True) -> tuple[str, ...]:
    """What sounds beside a student who plays with these hands. rest: the other hand too."""
    own = hand_parts(hands) if rest else HAND_PARTS
    return tuple(part for part in PART_NAMES if part not in own)


def read_parts(text: str) -> tuple[str, ...]:
    """ "left,melody" -> ("left", "right"), in the order of PART_NAMES. Raises ExportError naming what there is."""
    said = [part.strip().casefold() for part in text.split(",")]
    wanted = [_ALSO_CALLED.get(part, part) for part in said]
    unknown = [part for part in wanted if part not in PART_NAMES]
    if unknown:
        raise ExportError(
            f"{unknown[0]!r} is not a part: expected some of {', '.join(PART_NAMES)}, with commas between"
        )
    return tuple(part for part in PART_NAMES if part in wanted)
