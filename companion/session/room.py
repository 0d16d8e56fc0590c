"""Room for both hands: while a melody note and a shell sound together they are never closer than three semitones.

Where they would be, the left hand takes another shell if it has not learned this one yet; else the whole melody is played an octave higher.
The student may say which. It goes by the melody as it is written, so that a swung version never moves a shell; where the version that
is played still comes too close, that one goes up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from companion.base.latest import latest
from companion.base.text import plural
from companion.chart.melody import MelodyNote, chorus_melody
from companion.chart.model import FormBar, Song
from companion.errors import ShellError
from companion.hands.apart import Stretch, Sung, ceilings
from companion.hands.hand import Hand
from companion.hands.left.model import Part, Slot
from companion.hands.left.solver import solved
from companion.practice.slots import slots_of
from companion.store.own_melody import OCTAVE, SHELLS
from companion.theory.pitch import Pitch

_HIGHEST = 127  # as MIDI numbers end


@dataclass(frozen=True, slots=True)
class Room:
    """part: the shells of one chorus. melody: as it is played. moved: how many chords have another shell for the melody's sake. octaves: how far
    the melody was put up."""

    part: Part
    melody: tuple[MelodyNote, ...]
    moved: int = 0
    octaves: int = 0

    @property
    def made_by(self) -> str | None:
        """Which of own_melody.ROOMS; None where there was room."""
        return OCTAVE if self.octaves else SHELLS if self.moved else None

    @property
    def said(self) -> str:
        """What was done, in a sentence; "" where nothing was."""
        if self.octaves:
            how = "an octave" if self.octaves == 1 else f"{self.octaves} octaves"
            return f"The melody is played {how} higher in this key, clear of the left hand."
        if self.moved:
            takes = f"{plural(self.moved, 'chord')} {'takes' if self.moved == 1 else 'take'}"
            return f"{takes} another shell: the melody lies low in this key."
        return ""


def make_room(
    slots: Sequence[Slot],
    hand: Hand,
    bars: Sequence[FormBar],
    written: tuple[MelodyNote, ...],
    played: tuple[MelodyNote, ...],
    *,
    may_move: bool,
) -> Room:
    """The shells of a chorus and the melody above them. slots: in the order of the bars' chords. written, played: the melody straight and in the
    version chosen. may_move: whether another shell is taken before the melody goes up. Raises ShellError as `solve`."""
    chords = [
        (bar.start_tick + bar.meter.ticks(placed.beat), bar.start_tick + bar.meter.ticks(placed.beat + placed.beats))
        for bar in bars
        for placed in bar.chords
    ]
    part, moved = solved(tuple(slots), hand), 0
    if may_move and _is_close(part, chords, written):
        limits = ceilings(chords, _sung(written))
        try:
            lower = tuple(replace(slot, ceiling=limit) for slot, limit in zip(slots, limits, strict=True))
            other = solved(lower, hand)
        except ShellError:
            pass  # some chord has no shell as low as that
        else:
            moved = sum(a.shell != b.shell for a, b in zip(part.choices, other.choices, strict=True))
            part = other
    octaves, melody = 0, played
    highest = max((note.pitch.midi for note in played if note.pitch is not None), default=0)
    while _is_close(part, chords, melody) and highest + 12 * (octaves + 1) <= _HIGHEST:
        octaves += 1
        melody = raised(played, octaves)
    return Room(part, melody, moved, octaves)


@latest  # an introduction or ending beside the song on the stand, which ornaments leave as it is
def room_beside(song: Song, hand: Hand, may_move: bool) -> tuple[tuple[FormBar, ...], tuple[MelodyNote, ...], Room]:
    """The bars, the melody as it is written, and the room that it has, of a song that nobody has changed anything of. Raises ShellError as `solve`."""
    bars, written = song.unroll(), chorus_melody(song)
    return bars, written, make_room(slots_of(song, bars), hand, bars, written, written, may_move=may_move)


def raised(melody: Sequence[MelodyNote], octaves: int) -> tuple[MelodyNote, ...]:
    """The melody so many octaves up."""
    return tuple(
        note if note.pitch is None else replace(note, pitch=Pitch(note.pitch.tone, note.pitch.octave + octaves))
        for note in melody
    )


def _is_close(part: Part, chords: Sequence[Stretch], melody: Sequence[MelodyNote]) -> bool:
    limits = ceilings(chords, _sung(melody))
    return any(
        limit is not None and choice.shell is not None and choice.shell.upper.midi > limit
        for choice, limit in zip(part.choices, limits, strict=True)
    )


def _sung(melody: Sequence[MelodyNote]) -> list[Sung]:
    return [(note.start_tick, note.end_tick, note.pitch.midi) for note in melody if note.pitch is not None]
