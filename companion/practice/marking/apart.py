"""How the two hands lie against each other over a pass; and each hand by itself.

A melody leads what goes with it by some 30 ms at the string and hardly at the key: Goebl 2001, "Melody lead in piano performance:
Expressive device or artifact?", JASA 110(1):563-572. So at the key 0 is together, and a lead of the melody is no fault up to about twice that; the hands are
judged by the median over a pass, never note by note (the limits are our own choice).

Units: milliseconds, left minus right: above zero the melody comes first.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from companion.groove.model import HAND_PARTS
from companion.practice.marking.marks import figures_of
from companion.practice.model import PassMarks, StrikeMark

TOGETHER_MS = (-35.0, 65.0)
FEWEST_PAIRS = 4  # say how the hands lie over a pass (our own choice)
PAIRS_A_PLACE = 2  # say that they came apart at a place
SAME_S = 0.001  # strikes due this near are due together


@dataclass(frozen=True, slots=True)
class Together:
    """How the hands lay. ms: the median; pairs: of how many strikes that were due together. apart: where the hands came apart: runs of bars,
    indices in the chorus, with the median there."""

    ms: float
    pairs: int
    apart: tuple[tuple[tuple[int, ...], float], ...] = ()

    @property
    def is_together(self) -> bool:
        """Whether the median is no fault."""
        return is_together(self.ms)

    @property
    def late_hand(self) -> str:
        """ "left" or "right" where that hand came late over the pass, else ""."""
        return "" if self.is_together else "left" if self.ms > 0.0 else "right"


def is_together(ms: float) -> bool:
    """Whether hands that far apart are no fault."""
    low, high = TOGETHER_MS
    return low <= ms <= high


def of_hand(marks: PassMarks, part: str) -> PassMarks:
    """The marks of one hand."""
    chords = tuple(chord for chord in marks.chords if chord.part == part)
    extra = tuple(key for key in marks.extra if key.part == part)
    return PassMarks(chords, extra, figures_of(chords, len(extra)), marks.octave if part == "right" else 0)


def by_hand(marks: PassMarks) -> dict[str, PassMarks]:
    """The marks of each hand that had anything to play."""
    return {part: of_hand(marks, part) for part in HAND_PARTS if any(chord.part == part for chord in marks.chords)}


def together_of(marks: PassMarks) -> Together | None:
    """How the hands lay over a pass; None where too little was due and came together to say so."""
    pairs = _pairs(marks)
    if len(pairs) < FEWEST_PAIRS:
        return None
    return Together(median(ms for _, ms in pairs), len(pairs), tuple(_apart(pairs)))


def _pairs(marks: PassMarks) -> list[tuple[int, float]]:
    """Of each pair of strikes that were due together and came: the bar, index in the chorus, and left minus right."""
    strikes = {part: list(_came(marks, part)) for part in HAND_PARTS}
    pairs, place = [], 0
    left = strikes["left"]
    for right in strikes["right"]:
        due_s = right.expected.due_s
        while place < len(left) and left[place].expected.due_s < due_s - SAME_S:
            place += 1
        if place < len(left) and left[place].expected.due_s <= due_s + SAME_S:
            ms = (left[place].offset_ms or 0.0) - (right.offset_ms or 0.0)
            pairs.append((right.expected.group.index, ms))
    return pairs


def _came(marks: PassMarks, part: str) -> Iterable[StrikeMark]:
    """The strikes of a hand of which a due key came, in order of time."""
    strikes = (strike for chord in marks.chords if chord.part == part for strike in chord.strikes)
    return sorted(
        (strike for strike in strikes if strike.offset_ms is not None), key=lambda strike: strike.expected.due_s
    )


def _apart(pairs: Sequence[tuple[int, float]]) -> Iterable[tuple[tuple[int, ...], float]]:
    """The places where the hands came apart: a bar, or as many in a row as hold enough pairs."""
    run: list[tuple[int, float]] = []
    for place, (index, ms) in enumerate(pairs):
        run.append((index, ms))
        is_bar_over = place + 1 == len(pairs) or pairs[place + 1][0] != index
        if is_bar_over and len(run) >= PAIRS_A_PLACE:
            middle = median(ms for _, ms in run)
            if not is_together(middle):
                yield tuple(dict.fromkeys(index for index, _ in run)), middle
            run = []
