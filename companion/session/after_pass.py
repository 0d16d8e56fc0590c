"""What there is to say after a heard pass, from it and those before it: what a teacher would say, and the change to practise by itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from companion.groove.model import Arrangement
from companion.practice.marking.worst import Place, Try, worst_change
from companion.practice.model import ChordMark, PassMarks
from companion.session.stand import Stand

LATEST = 4  # passes that habits are read from


@dataclass(frozen=True, slots=True)
class Advice:
    """says: why the pass is not clean where its chords do not show it, and what a teacher would say, the most useful first. says_by_bars: the
    same with bars named in place of chords, for while a drill hides those. alone: the chord whose change is to be practised by
    itself, None for none."""

    says: tuple[str, ...] = ()
    says_by_bars: tuple[str, ...] = ()
    alone: Place | None = None


NO_ADVICE = Advice()


class LatestPasses:
    """The marks of the latest passes of one loop, in one pattern, key and tempo."""

    def __init__(self) -> None:
        self._of: object = None
        self._passes: tuple[PassMarks, ...] = ()

    def advice(self, stand: Stand, arrangement: Arrangement, tempo_bpm: float, marks: PassMarks) -> Advice:
        """Of a pass that is over, with those before it."""
        # Needed only after a pass, when the next one sounds already; the start of the app need not wait for these.
        from companion.practice.marking.apart import by_hand, of_hand
        from companion.practice.marking.habits import Played, habits_of
        from companion.practice.marking.teacher import MOST_SENTENCES, sentence, why_not_clean
        from companion.session.take_marks import chart_words

        of = (arrangement.bars, arrangement.pattern, arrangement.swing_ratio, tempo_bpm)
        self._passes = (*(self._passes if of == self._of else ()), of_hand(marks, "left"))[-LATEST:]
        self._of = of
        habits = habits_of(Played(arrangement, self._passes))
        # A drill judges each hand by itself, so that the hand that was disturbed is the one told of.
        hands = by_hand(marks)
        reasons = (
            why_not_clean(own, part if len(hands) > 1 else "")
            for part, own in hands.items()
            if own.figures.share_right >= 0.5
        )
        unclean = tuple(filter(None, reasons))
        page = chart_words(stand)
        says, by_bars = (
            (*unclean, *(sentence(habit, each) for habit in habits[:MOST_SENTENCES]))
            for each in (page, replace(page, by_bars=True))
        )
        tries = [[_try(chord) for chord in each.chords] for each in (*self._passes[:-1], marks)]
        return Advice(says, by_bars, worst_change(tries, [habit.where for habit in habits if habit.where]))


def of_slips(slipped: Sequence[int]) -> Advice:
    """Of a pass that the student told: the first bar that slipped is the change to practise."""
    return Advice(alone=(min(slipped), 0) if slipped else None)


def of_waits(tries: Sequence[Try]) -> Advice:
    """Of a time round in free time: the shell found only after other keys; without one that which was thought about longest, where that
    stands out: more than a second, and than twice the middle one."""
    worst = worst_change([tries])
    if worst is None and len(tries) > 1:
        waits = sorted(each.lost for each in tries[1:])  # the first began with reading
        longest = max(tries[1:], key=lambda each: each.lost)
        if longest.lost > max(1.0, 2.0 * waits[(len(waits) - 1) // 2]):
            worst = longest.place
    return Advice(alone=worst)


def _try(chord: ChordMark) -> Try:
    return Try((chord.index, chord.chord), chord.verdict, abs(chord.offset_ms or 0.0))
