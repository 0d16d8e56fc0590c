"""The fills that a song on the stand has room for, chosen by its seed."""

from __future__ import annotations

from dataclasses import dataclass

from companion.arranging.gaps import Room, rooms
from companion.base.latest import latest
from companion.chart.melody import MelodyNote
from companion.chart.model import FormBar, Song
from companion.hands.left.model import Part
from companion.hands.right.fills import Fill, Under, fills
from companion.session.harmonised import HarmonisedNote, spans_of
from companion.session.note_places import sounding


@dataclass(frozen=True, slots=True)
class FillPlace:
    """A gap with what may be played in it: up to three to choose from, () where there is no room after all."""

    room: Room
    choices: tuple[Fill, ...]


@latest  # asked for each time a loop is played or drawn
def fill_places(
    song: Song,
    bars: tuple[FormBar, ...],
    part: Part,
    played: tuple[MelodyNote, ...],
    voiced: tuple[HarmonisedNote, ...],
    seed: int,
) -> tuple[FillPlace, ...]:
    """Every gap of one chorus. played: the melody as it is played; voiced: the same with its company, whose fingers a fill leads to; () for
    the melody alone. The same seed gives the same fills, and equal gaps
    of a section that comes again the same."""
    under = [
        None if span.chord is None else Under(span.start_tick, span.end_tick, span.chord, span.shell)
        for span in spans_of(bars, part)
    ]
    fingers = tuple(note.voicing.fingers[-1] for note in voiced) or None
    found = rooms(song, bars, sounding(played), under, fingers)
    return tuple(FillPlace(room, fills(room.gap, f"{seed} {room.bar.section} {room.bar.bar}")) for room in found)
