"""A piano learned note by note, as they are asked for: what was struck instead is told, and asked again; or a few notes to see whether one still fits."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from companion.errors import CompanionError
from companion.sound.listening.attacks import Flux, peaks
from companion.sound.listening.messages import NoteLearned, PianoChecked, PianoLearned
from companion.sound.listening.piano import LOWEST, NOTES, Piano, to_bytes
from companion.sound.listening.scale import ScaleNote, heard_notes, piano_of, room_noise
from companion.sound.listening.spectra import RATE, Array

HELD_S = 0.62  # of a note, until it is looked at
_BEFORE_S = 0.25
_SHARE = 0.35  # of the usual attack
_FIRST = 0.12  # flux of the first attack at the least
_LEAST_DB = 10.0  # a note is louder than the room by so much
_FIT, _CENTS = 0.82, 12.0  # of one that is still as it was learned


class Teacher:
    """notes: that are asked for, in turn. Hears blocks without a gap; the first half second is taken for the room."""

    def __init__(self, notes: Sequence[int] = NOTES, name: str = "", piano: Piano | None = None) -> None:
        self._notes, self._name, self._piano = tuple(notes), name, piano
        self._learned: list[ScaleNote] = []
        self._sound: Array = np.zeros(0, np.float32)
        self._flux: Flux | None = None
        self._start_s = 0.0
        self._done_s = -np.inf  # attacks up to there were looked at
        self._usual = 0.0
        self._room: Array | None = None
        self._room_power = 0.0

    @property
    def is_done(self) -> bool:
        """Whether all were heard."""
        return len(self._learned) == len(self._notes)

    def hear(self, block: Array, start_s: float) -> list[NoteLearned | PianoLearned | PianoChecked]:
        """The next block and when its first sample was heard."""
        if self._flux is None:
            self._flux, self._start_s = Flux(start_s), start_s
        self._flux.hear(block)
        self._sound = np.concatenate([self._sound, block])
        over = len(self._sound) - 4 * RATE
        if over > RATE:
            self._sound, self._start_s = self._sound[over:], self._start_s + over / RATE
        until_s = self._start_s + len(self._sound) / RATE
        if self._room is None:
            if len(self._sound) >= RATE // 2:
                self._listen_to_the_room()
                self._done_s = until_s
            return []
        self._listen_to_the_room()
        return self._look(self._flux, until_s)

    def _listen_to_the_room(self) -> None:
        """It is the quietest half second so far: a key may have been down at first."""
        latest = self._sound[-(RATE // 2) :]
        power = float(np.mean(np.square(latest)))
        if self._room is None or power < self._room_power:
            self._room, self._room_power = latest.copy(), power

    def _look(self, flux: Flux, until_s: float) -> list[NoteLearned | PianoLearned | PianoChecked]:
        least = max(_FIRST, _SHARE * self._usual)
        found = [peak for peak in peaks(*flux.rises(max(self._done_s, until_s - 2.5), until_s), 20) if peak[1] >= least]
        if not found or self.is_done or until_s < found[0][0] + HELD_S:
            return []
        onset_s = max((peak for peak in found if peak[0] <= found[0][0] + 0.15), key=lambda peak: peak[1])[0]
        self._done_s = onset_s + 0.35
        first = max(0, int((onset_s - _BEFORE_S - self._start_s) * RATE))
        segment = self._sound[first : int((onset_s + HELD_S - self._start_s) * RATE)]
        after = segment[int((_BEFORE_S + 0.03) * RATE) :]
        if np.mean(np.square(after)) < self._room_power * 10 ** (_LEAST_DB / 10):
            return []
        self._usual = max(0.7 * self._usual, max(height for _, height in found))
        return self._heard(segment)

    def _heard(self, segment: Array) -> list[NoteLearned | PianoLearned | PianoChecked]:
        wanted = self._notes[len(self._learned)]
        try:
            notes = heard_notes(segment)
        except CompanionError:
            notes = []
        note = next((each for each in notes if each.midi == wanted), notes[0] if notes else None)
        if note is None or note.midi != wanted:
            return [NoteLearned(wanted, note.midi if note else None, note.cents if note else 0.0, wanted, True)]
        self._learned.append(note)
        coming = None if self.is_done else self._notes[len(self._learned)]
        said: list[NoteLearned | PianoLearned | PianoChecked] = [NoteLearned(wanted, wanted, note.cents, coming, False)]
        return [*said, *self._all_heard()] if self.is_done else said

    def _all_heard(self) -> list[PianoLearned | PianoChecked]:
        assert self._room is not None
        if self._piano is not None:
            return [self._checked(self._piano)]
        piano = piano_of(self._learned, room_noise(self._room, len(self._room) / RATE), self._name)
        return [PianoLearned(self._name, to_bytes(piano), piano.tuning_cents)]

    def _checked(self, piano: Piano) -> PianoChecked:
        """Like it where tuning and partials are as they were, in most of the notes."""
        cents = [float(note.cents - piano.cents[note.midi - LOWEST]) for note in self._learned]
        alike = [likeness(note.template, piano.templates[note.midi - LOWEST]) for note in self._learned]
        off = float(np.median(cents))
        return PianoChecked(float(np.median(alike)) >= _FIT and abs(off) <= _CENTS, off)


def likeness(one: Array, other: Array) -> float:
    """0 to 1: the cosine between the square roots of two spectra, which lets weak partials speak too."""
    a, b = np.sqrt(np.maximum(one, 0.0)), np.sqrt(np.maximum(other, 0.0))
    return float(a @ b / (np.linalg.norm(a) * np.linalg.norm(b) + 1e-12))
