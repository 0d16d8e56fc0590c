"""Fingers of the student's own for notes of the melody: pinned on the stand, kept for the song, and let go again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from companion.chart.melody import NotePlace
from companion.errors import CompanionError
from companion.session.conductor import Conductor
from companion.session.note_places import note_places
from companion.session.right_hand import RightHandNote, written_notes
from companion.session.stand import Stand
from companion.session.taking_back import ChangeStand, FingerBefore
from companion.store.own_melody import Fingers, load_melody, save_fingers
from companion.store.paths import Paths


@dataclass(frozen=True, slots=True)
class FingeredNote:
    """A note of the written melody. place: as the student's own file names it. is_own: whether its finger is the student's."""

    place: NotePlace
    note: RightHandNote
    is_own: bool


def fingered_bar(stand: Stand, index: int) -> tuple[FingeredNote, ...]:
    """The notes that begin in a bar of the chorus, straight as they are written, with their fingers; in the first one those of the song's
    pickup too."""
    bar = stand.bars[index]
    return tuple(
        FingeredNote(place, note, place in stand.own_fingers)
        for place, note in zip(note_places(stand.bars, stand.written), written_notes(stand), strict=True)
        if (index == 0 or note.note.start_tick >= bar.start_tick) and note.note.start_tick < bar.end_tick
    )


class OwnFingers:
    """change: puts a changed stand in place. complain: told what cannot be kept."""

    def __init__(
        self, paths: Paths, conductor: Conductor, change: ChangeStand, complain: Callable[[str], None]
    ) -> None:
        self._paths, self._conductor, self._change, self._complain = paths, conductor, change, complain

    def pin(self, place: NotePlace, finger: int) -> None:
        """Have this finger, 1 to 5, on a note wherever its section comes; the same once more lets the companion choose again."""
        before = self._kept().get(place)
        if self._put(place, None if before == finger else finger):
            self._conductor.before.append(FingerBefore(place, before))

    def put_back(self, before: FingerBefore) -> bool:
        """The finger that was there before, on that note alone; whether that could be."""
        return self._put(before.place, before.finger)

    def _put(self, place: NotePlace, finger: int | None) -> bool:
        fingers = {at: each for at, each in self._kept().items() if at != place} | ({place: finger} if finger else {})
        # Nothing of it sounds, so a pass that is being played goes on.
        if not self._change(lambda stand: stand.change(own_fingers=fingers), load=not self._conductor.playing):
            return False
        try:
            save_fingers(self._paths, self._conductor.stand.original.id, fingers)
        except (CompanionError, OSError) as error:
            self._complain(str(error))
        return True

    def _kept(self) -> Fingers:
        """As the file has them, which may have been changed by hand meanwhile; those on the stand where it cannot be read."""
        stand = self._conductor.stand
        try:
            return load_melody(self._paths, stand.original.id).fingers
        except (CompanionError, OSError):  # said when it is written
            return stand.own_fingers
