"""What is asked of the listener and what it answers."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

RIGHT, WRONG, MISSING, NOT_SURE = "right", "wrong", "missing", "not sure"
CHECKED = (48, 53, 58)  # C3, F3, B flat 3: by these a piano is known again
KINDS = (RIGHT, WRONG, MISSING, NOT_SURE)
HIGHEST_MELODY = 84  # C6: up to there the right hand is listened for


@dataclass(frozen=True, slots=True)
class Due:
    """A strike that is due. index: the caller's own number; time_s: on the clock of the blocks that are heard; notes: the left hand's, MIDI numbers; also: the right hand's
    that are due with them, up to C6, told of only where sure; window_s: how far to either side of time_s it may be struck."""

    index: int
    time_s: float
    notes: tuple[int, ...]
    also: tuple[int, ...] = ()
    window_s: float = 0.2


@dataclass(frozen=True, slots=True)
class HeardNote:
    """confidence: 0 to 1, that it was newly struck."""

    midi: int
    confidence: float


@dataclass(frozen=True, slots=True)
class Verdict:
    """kind: one of KINDS; "not sure" counts for nothing. notes: what was struck, with the right hand's notes of `also` that surely were, or the note above that surely
    came in their place. onset_s: when, None for
    missing, and where nothing is known. confidence: 0 to 1, in the kind. Early or late is the caller's to say, by onset_s."""

    due: Due
    kind: str
    notes: tuple[HeardNote, ...]
    onset_s: float | None
    confidence: float

    def unsure(self) -> Verdict:
        """The same strike, of which nothing is sure."""
        return replace(self, kind=NOT_SURE, notes=(), onset_s=None, confidence=0.0)


@dataclass(frozen=True, slots=True)
class Awaited:
    """A shell that is waited for, without a time. number: the caller's own; notes: MIDI numbers; also: of the melody, that may come with them; from_s: what was struck up to then is not for it; ceiling: what
    lies higher is the other hand's, but for the shell an octave up."""

    number: int
    notes: tuple[int, ...]
    also: tuple[int, ...] = ()
    from_s: float = -math.inf
    ceiling: int = 127


@dataclass(frozen=True, slots=True)
class StrokeVerdict:
    """What a stroke was to the shell that was waited for. number: of it; kind: right, wrong or not sure; notes: what was struck, none where that is not sure; onset_s: when;
    confidence: 0 to 1, in the kind."""

    number: int
    kind: str
    notes: tuple[HeardNote, ...]
    onset_s: float
    confidence: float


@dataclass(frozen=True, slots=True)
class Thresholds:
    """From which score on (log odds) a strike is said to be right, wrong or missing; between them it is "not sure". The careful ones are the usual ones: set on six
    pianos (LOOKED_AT in tests/pianos_sampled.py), each judged by weights made without it: of 3,206 clean strikes none was held against the player while 93 of 100
    slips were caught."""

    right: float = 1.5
    each: float = 0.4  # and with no due note less likely struck than this
    wrong: float = -2.5  # and where not all due notes seem to have come: one more above them may be the right hand's
    missing: float = -4.5
    named: float = 0.5  # a note is named with a wrong strike from this probability on
    melody: float = 3.0  # another note than the melody's is named from these log odds on, where the melody's own has as much against it


# For a piano that was not learned from its scale: little is said against the player.
UNLEARNED = Thresholds(right=0.5, wrong=-8.0, missing=-6.0, named=0.8)
