"""A pass that is heard through a microphone: the strikes asked for, what was told of them as presses, and the marks without what was not sure.

A strike of which it is not sure is taken as played when it was due, so that the rest is judged as if it had been, and is taken out of the marks then: it counts
for nothing. So is one that nothing was told of in time.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import count

from companion.base.text import plural
from companion.practice.marking.marks import figures_of
from companion.practice.model import ChordMark, Expected, PassMarks, Press, StrikeMark
from companion.sound.listening.messages import Expect
from companion.sound.listening.verdicts import HIGHEST_MELODY, NOT_SURE, Due, Verdict

TOLD_S = 0.45  # so long after a strike was due it is told at the latest
AFTER_S = 0.22  # so long after its window is over a strike is told
SHORTEST_S = 0.1  # a window is no shorter, whatever the tempo: a later last strike is not sure then
ALSO_S = 0.08  # a note of the melody so near is due together with the strike
MOST_UNSURE = 0.25  # of the chords; with more the student is asked. Our own choice


class HeardStrikes:
    """Each strike has a number of its own, over all passes."""

    _numbers = count(1)

    def __init__(self) -> None:
        self._due: Sequence[Expected] | None = None
        self._asked: dict[int, Expected] = {}
        self._told: set[tuple[float, tuple[int, ...]]] = set()
        self._unsure: set[tuple[float, tuple[int, ...]]] = set()
        self._confidences: dict[tuple[float, tuple[int, ...]], float] = {}

    @property
    def has_told_all(self) -> bool:
        """Whether of every strike that was asked for it was told how it was."""
        return self._due is not None and not self._asked

    def ask(self, due: Sequence[Expected], by_s: float = math.inf) -> list[object]:
        """The message about the strikes of the left hand that were not told yet, as they are due now, with each the notes of the melody that are due with it; none
        where that is no news. by_s: until then all is to be told, so the last strikes may be waited for a little less."""
        if due is self._due:
            return []
        self._due = due
        melody = [strike for strike in due if strike.part == "right"]
        self._asked = {
            next(self._numbers): strike for strike in due if strike.part == "left" and _key(strike) not in self._told
        }
        dues = [
            Due(number, strike.due_s, strike.notes, due_with(strike, melody), _window_s(strike, by_s))
            for number, strike in self._asked.items()
        ]
        return [Expect(tuple(dues), afresh=True)]

    def take(self, verdict: Verdict) -> Iterable[Press]:
        """What a verdict says was pressed. One that was not asked for says nothing."""
        strike = self._asked.pop(verdict.due.index, None)
        if strike is None:
            return ()
        self._told.add(_key(strike))
        if verdict.kind == NOT_SURE:
            return self._take_for_played(strike)
        self._confidences[_key(strike)] = verdict.confidence
        if verdict.onset_s is None:
            return ()
        return [Press(verdict.onset_s, note.midi) for note in verdict.notes]

    def close(self) -> Iterable[Press]:
        """What was not told in time is not sure."""
        left, self._asked = list(self._asked.values()), {}
        return [press for strike in left for press in self._take_for_played(strike)]

    def _take_for_played(self, strike: Expected) -> list[Press]:
        self._unsure.add(_key(strike))
        return [Press(strike.due_s, note) for note in strike.notes]

    def sure(self, marks: PassMarks) -> PassMarks:
        """The marks without what was not sure: a chord goes with its first strike, a later strike alone; a note of the melody that did not come goes too, as
        it is listened for only with a strike of the left hand; another in its place was named only where that is sure."""
        chords: list[ChordMark] = []
        unsure: list[ChordMark] = []
        for chord in marks.chords:
            if chord.part == "right":
                if any(strike.played for strike in chord.strikes):
                    chords.append(chord)
                continue
            strikes = tuple(strike for strike in chord.strikes if not self._is_unsure(strike))
            if not strikes or strikes[0] is not chord.strikes[0]:
                unsure.append(replace(chord, verdict=NOT_SURE, offset_ms=None, reason=""))
            else:
                chords.append(replace(chord, strikes=strikes))
        figures = replace(figures_of(chords, len(marks.extra)), weight_right=self._weight_right(chords))
        return replace(marks, chords=tuple(chords), figures=figures, unsure=tuple(unsure))

    def _weight_right(self, chords: Sequence[ChordMark]) -> float | None:
        """Each chord weighs as much as it is sure how its first strike was."""
        weights = [self._confidences.get(_key(chord.strikes[0].expected), 1.0) for chord in chords]
        right = sum(weight for weight, chord in zip(weights, chords) if chord.is_right)
        return right / sum(weights) if sum(weights) > 0 else None

    def _is_unsure(self, mark: StrikeMark) -> bool:
        return _key(mark.expected) in self._unsure


def _key(strike: Expected) -> tuple[float, tuple[int, ...]]:
    return round(strike.due_s, 3), strike.notes


def _window_s(strike: Expected, by_s: float) -> float:
    return min(strike.window_s, max(SHORTEST_S, by_s - AFTER_S - strike.due_s))


def due_with(strike: Expected, melody: Iterable[Expected]) -> tuple[int, ...]:
    """The notes of the melody that are due together with a strike of the left hand, as high as is listened for."""
    notes = {note for other in melody if abs(other.due_s - strike.due_s) <= ALSO_S for note in other.notes}
    return tuple(sorted(note for note in notes if note <= HIGHEST_MELODY))


def unsure_words(marks: PassMarks, *, asked: bool) -> str:
    """Where it is not sure of so much that the student's word is asked for, or the pass counts for nothing; else "". asked: whether a word is asked for."""
    unsure = len(marks.unsure)
    chords = plural(unsure + len(marks.chords), "chord")
    what = "how did it go?" if asked else "the pass counts for nothing."
    return f"Not sure of {unsure} of {chords}: {what}" if marks.unsure_share > MOST_UNSURE else ""
