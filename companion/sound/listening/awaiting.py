"""An ear that waits: a shell is looked for from now on, whenever it comes, and each stroke that stands out meanwhile is judged against it.

Right is said as soon as it is sure, some 0.18 s after the stroke; all else when nothing more can belong to the stroke. Of a shell that shares a note with the one before, that note may be held
over; and its notes may come one after the other, as long as the first still rings.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from companion.sound.listening.decompose import MASKED, Attack
from companion.sound.listening.engine import FOLLOWS_S, HIGHEST_HEARD, LOST_BESIDE_S, LOWEST_HEARD
from companion.sound.listening.hearing import Hearing
from companion.sound.listening.judge import Figures, odds, probability, strike_figures
from companion.sound.listening.piano import Piano
from companion.sound.listening.spectra import AFTER_S, WINDOW_S, Array
from companion.sound.listening.verdicts import (
    HIGHEST_MELODY,
    NOT_SURE,
    RIGHT,
    UNLEARNED,
    WRONG,
    Awaited,
    HeardNote,
    StrokeVerdict,
    Thresholds,
)

STROKE_S = 0.13  # attacks so near belong to one stroke: the longest roll that was trained with, twice
# Set on six pianos (LOOKED_AT in tests/pianos_sampled.py) with tests/bench/awaited.py, seeds below 5400.
_FIRST, _WEAKEST = 0.06, 0.06  # flux of an attack at the least, and of the strong ones so far
_WEAK = 0.4  # weaker than this share of one that follows at once it is that one's own
_FADES_S = 20.0  # a strong attack is forgotten in
_SURE, _LITTLE = 3.0, 1.0  # log odds of a note that was surely struck, and of one that may have been
_STILL_SURE = 5.0  # where it may ring from the shell before
_RINGS = -3.5  # MASKED of a note that still rings, at the least
_RINGS_ON_S = 8.0  # so long after its stroke
_ADAPT = 0.12


@dataclass(slots=True, eq=False)
class _Heard:
    """An attack. notes: log odds by candidate; right, struck: log odds that all is there, of what was awaited, and that the left hand struck at all."""

    attack: Attack
    notes: Figures
    right: float
    struck: float

    def of(self, note: int) -> float:
        """Log odds that it was newly struck."""
        return float(self.notes[note - self.attack.notes[0]])


class WaitingEar:
    """Blocks in, what was struck for the awaited shell out. awaited: that one, None for none, also once it was found."""

    def __init__(self, piano: Piano) -> None:
        self._hearing = Hearing(piano, LOWEST_HEARD, HIGHEST_MELODY)
        self._limits = Thresholds() if piano.learned else UNLEARNED
        self.awaited: Awaited | None = None
        self._before: tuple[int, ...] = ()  # the shell that was found last
        self._granted_s = -math.inf  # when
        self._since_s: dict[int, float] = {}  # when each note of that shell, and of what came since, was surely struck
        self._done_s = -math.inf  # attacks up to here are judged
        self._strong, self._strong_s = 0.0, -math.inf
        self._stroke: list[_Heard] = []  # attacks of the stroke that is not told yet

    def wait_for(self, awaited: Awaited | None) -> None:
        """From now on for this, None for nothing any more."""
        self.awaited = awaited
        self._stroke.clear()
        if awaited is not None:
            self._done_s = max(self._done_s, awaited.from_s)

    def hear(self, block: Array, start_s: float) -> list[StrokeVerdict]:
        """The next block and when its first sample was heard."""
        self._hearing.hear(block, start_s)
        ready_s = self._hearing.ready_s
        told: list[StrokeVerdict] = []
        for onset_s, flux in self._standing_out(ready_s):
            if self.awaited is None:
                break
            told += self._close(onset_s)
            told += self._take(self.awaited, onset_s, flux)
        told += self._close(ready_s)
        if self.awaited is not None:
            self._done_s = max(self._done_s, ready_s)
        return told

    def _standing_out(self, ready_s: float) -> list[tuple[float, float]]:
        """Attacks that were not judged yet, as (time, flux), in order."""
        around = self._hearing.attacks(max(self._done_s, ready_s - 1.0) - 0.05, ready_s + FOLLOWS_S, 30)
        found = []
        for onset_s, flux in around:
            is_own = not any(0.0 < other_s - onset_s <= FOLLOWS_S and flux < _WEAK * other for other_s, other in around)
            strong = self._strong * math.exp(-max(0.0, onset_s - self._strong_s) / _FADES_S)
            if self._done_s < onset_s <= ready_s and flux >= max(_FIRST, _WEAKEST * strong) and is_own:
                self._strong, self._strong_s = max(strong, flux), onset_s
                found.append((onset_s, flux))
        return found

    def _take(self, awaited: Awaited, onset_s: float, flux: float) -> list[StrokeVerdict]:
        """Judge an attack: right at once, or kept until the stroke is over."""
        if onset_s <= self._done_s:  # of a stroke that is told already
            return []
        self._done_s = onset_s
        if not self._hearing.is_whole(onset_s - LOST_BESIDE_S, onset_s + AFTER_S + WINDOW_S):
            return []
        attack = self._hearing.take_apart(onset_s, flux)
        notes = odds("note").log_odds(attack.features)
        heard = _Heard(attack, notes, 0.0, 0.0)
        heard.right, heard.struck = self._odds(heard, awaited.notes, awaited.also)
        self._stroke.append(heard)
        right = self._all_there(heard, awaited)
        return [] if right is None else [self._right(heard, awaited, right)]

    def _odds(self, heard: _Heard, due: tuple[int, ...], also: tuple[int, ...]) -> tuple[float, float]:
        figures = strike_figures(heard.attack, heard.notes, due, also)[None, :]
        right, struck = (float(odds(name).log_odds(figures)[0]) for name in ("strike", "struck"))
        return right, struck

    def _all_there(self, heard: _Heard, awaited: Awaited) -> float | None:
        """The log odds that the shell is there, None where that is not sure: struck now, or some of it, while the rest still rings."""
        if self._are_there(heard, awaited.notes, awaited.also, heard.right):
            return heard.right
        new = tuple(note for note in awaited.notes if heard.of(note) >= _SURE)
        held = [note for note in awaited.notes if note not in new]
        since_s = self._granted_s if awaited.notes == self._before else -math.inf  # the same shell is struck anew
        if not new or not held or not all(self._rings(heard, note, since_s) for note in held):
            return None
        if any(heard.of(note) > _LITTLE for note in self._others(heard, awaited)):
            return None
        right, _ = self._odds(heard, new, (*awaited.also, *held))
        return right if self._are_there(heard, new, awaited.also, right) else None

    def _rings(self, heard: _Heard, note: int, since_s: float) -> bool:
        """Whether it was struck a while ago, later than `since_s`, and is heard still."""
        attack, struck_s = heard.attack, self._since_s.get(note, -math.inf)
        if struck_s <= since_s or attack.onset_s - struck_s > _RINGS_ON_S:
            return False
        return float(attack.features[note - attack.notes[0], MASKED]) >= _RINGS

    def _are_there(self, heard: _Heard, due: tuple[int, ...], also: tuple[int, ...], right: float) -> bool:
        """right: log odds of these notes. A key beside one that is surer than itself, or its octave, may be what was struck instead."""
        least = min(probability(heard.of(note)) for note in due)
        instead = [(note, note + step) for note in due for step in (-1, 1, 12) if note + step not in (*due, *also)]
        is_doubted = any(heard.of(note) < min(_SURE, heard.of(other)) for note, other in instead)
        return right >= self._limits.right and least >= self._limits.each and not is_doubted

    def _others(self, heard: _Heard, awaited: Awaited) -> list[int]:
        """Keys that a left hand may have struck beside the shell."""
        top = max(awaited.notes) + 13
        return [note for note in heard.attack.notes if note <= top and note not in (*awaited.notes, *awaited.also)]

    def _right(self, heard: _Heard, awaited: Awaited, right: float) -> StrokeVerdict:
        onset_s = heard.attack.onset_s
        new = tuple(note for note in awaited.notes if heard.of(note) > 0.0)
        self._hearing.decomposer.adapt(heard.attack, new, _ADAPT)
        self._since_s = dict.fromkeys(awaited.notes, onset_s)
        notes = tuple(HeardNote(note, probability(heard.of(note))) for note in awaited.notes)
        self._stroke.clear()
        self.awaited, self._before = None, awaited.notes
        self._granted_s, self._done_s = onset_s, onset_s + STROKE_S
        return StrokeVerdict(awaited.number, RIGHT, notes, onset_s, probability(right))

    def _close(self, until_s: float) -> list[StrokeVerdict]:
        """Tell of a stroke that nothing can belong to any more."""
        awaited, stroke = self.awaited, self._stroke
        if awaited is None or not stroke or until_s < stroke[0].attack.onset_s + STROKE_S:
            return []
        self._stroke = []
        best, loudest = (max(stroke, key=lambda heard: getattr(heard, by)) for by in ("right", "struck"))
        onset_s = loudest.attack.onset_s
        if loudest.struck < 0.0:
            return []
        if self._before != awaited.notes and self._before:
            right, _ = self._odds(loudest, self._before, awaited.also)
            if self._are_there(loudest, self._before, awaited.also, right):
                return [self._told(awaited, WRONG, loudest, self._before, onset_s)]
        sure, doubtful = self._named(loudest, awaited)
        self._since_s |= dict.fromkeys(sure, onset_s)
        all_came = max(min(heard.of(note) for note in awaited.notes) for heard in stroke) >= 0.0
        is_part = set(sure) <= set(awaited.notes)
        if best.right > self._limits.wrong or all_came or not sure or (is_part and doubtful):
            return [self._told(awaited, NOT_SURE, loudest, (), onset_s)]
        return [self._told(awaited, WRONG, loudest, sure, onset_s)]

    def _named(self, heard: _Heard, awaited: Awaited) -> tuple[tuple[int, ...], bool]:
        """The left hand's keys that surely were struck, and whether another may have been."""
        octave = {note + 12 for note in awaited.notes}  # struck whole, it is meant as the shell
        highest = min(awaited.ceiling, HIGHEST_HEARD)
        if all(note <= HIGHEST_HEARD and heard.of(note) >= _SURE for note in octave):
            highest = max(highest, *octave)
        keys = [note for note in heard.attack.notes if note <= highest and note not in awaited.also]
        sure = tuple(note for note in keys if heard.of(note) >= (_STILL_SURE if note in self._since_s else _SURE))
        return sure, any(heard.of(note) >= 0.0 for note in keys if note not in (*awaited.notes, *sure))

    @staticmethod
    def _told(awaited: Awaited, kind: str, heard: _Heard, keys: tuple[int, ...], onset_s: float) -> StrokeVerdict:
        notes = tuple(HeardNote(key, probability(heard.of(key))) for key in keys)
        return StrokeVerdict(awaited.number, kind, notes, onset_s, probability(abs(heard.right)))
