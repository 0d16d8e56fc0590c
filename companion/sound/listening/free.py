"""Whatever is struck, when nothing is known of what is due: for trying a place out. Less is sure than where a chart says what to expect."""

from __future__ import annotations

import numpy as np

from companion.sound.listening.engine import FOLLOWS_S, LOWEST_HEARD
from companion.sound.listening.hearing import Hearing
from companion.sound.listening.judge import odds, probability
from companion.sound.listening.messages import NotesHeard
from companion.sound.listening.piano import Piano
from companion.sound.listening.spectra import Array
from companion.sound.listening.verdicts import HIGHEST_MELODY, HeardNote

_WEAKEST, _WEAK = 0.25, 0.4  # of the strong attacks so far, and of one that follows at once
_FIRST = 0.12  # flux of an attack at the least
_FADES = 0.98  # a strong attack is forgotten from one to the next
_AGAIN_S = 0.09  # a note found at two attacks so near was struck at the first of them


class FreeEar:
    """Blocks in, what was struck out, some 0.2 s after it."""

    def __init__(self, piano: Piano) -> None:
        self._hearing = Hearing(piano, LOWEST_HEARD, HIGHEST_MELODY)
        self._done_s = -np.inf
        self._strong = 0.0
        self._last: NotesHeard | None = None

    def hear(self, block: Array, start_s: float) -> list[NotesHeard]:
        """The next block and when its first sample was heard."""
        self._hearing.hear(block, start_s)
        until_s = self._hearing.ready_s
        around = self._hearing.attacks(max(self._done_s, until_s - 1.0) - 0.05, until_s + FOLLOWS_S, 30)
        said: list[NotesHeard] = []
        for onset_s, flux in around:
            is_own = not any(0 < other_s - onset_s <= FOLLOWS_S and flux < _WEAK * other for other_s, other in around)
            if self._done_s < onset_s <= until_s and flux >= max(_FIRST, _WEAKEST * self._strong) and is_own:
                self._strong = max(_FADES * self._strong, flux)
                said += self._struck(onset_s, flux)
        self._done_s = max(self._done_s, until_s)
        return said

    def _struck(self, onset_s: float, flux: float) -> list[NotesHeard]:
        attack = self._hearing.take_apart(onset_s, flux)
        last = self._last
        near = last is not None and onset_s - last.onset_s < _AGAIN_S
        before = {note.midi for note in last.notes} if last is not None and near else set[int]()
        notes = tuple(
            HeardNote(note, probability(float(value)))
            for note, value in zip(attack.notes, odds("note").log_odds(attack.features))
            if value > 0 and note <= HIGHEST_MELODY and note not in before
        )
        if not notes:
            return []
        self._last = NotesHeard(onset_s, notes)
        return [self._last]
