"""The listener: blocks of sound in, a verdict for every strike that is due out.

    listener = Listener(piano)
    listener.expect([Due(0, 12.5, (41, 51)), Due(1, 13.0, (46, 56))])
    for block, start_s in blocks:
        for verdict in listener.hear(block, start_s): ...

Right is said as soon as it is sure, some 0.18 s after the strike; all else when the strike can no longer come.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from companion.sound.listening.decompose import Attack
from companion.sound.listening.hearing import Hearing
from companion.sound.listening.judge import Figures, odds, probability, strike_figures
from companion.sound.listening.piano import HIGHEST, Piano
from companion.sound.listening.spectra import AFTER_S, RATE, WINDOW_S, Array
from companion.sound.listening.verdicts import (
    HIGHEST_MELODY,
    MISSING,
    NOT_SURE,
    RIGHT,
    WRONG,
    Due,
    HeardNote,
    Thresholds,
    Verdict,
)

__all__ = ["Due", "HeardNote", "Listener", "Thresholds", "Verdict"]

# An octave around what was learned, without what lies below all partials heard.
LOWEST_HEARD, HIGHEST_HEARD = 33, HIGHEST + 12
PARTIALS_ABOVE = (12, 19, 24, 28, 31, 34, 36)  # semitones from a string's first partial to its second, third ... eighth
ATTACKS = 5  # the strongest in a window
EDGE_S = 0.020  # an attack a little outside of the window is looked at as well
ADAPT = 0.12
_SAME_S = 0.012
LOST_BESIDE_S = 0.05
_WEAKEST = 0.12  # of the strongest attack in the window
FOLLOWS_S, _WEAK = 0.13, 0.4  # weaker than this share of one that follows within this time


@dataclass(frozen=True, slots=True, eq=False)
class Heard:
    """An attack judged against what was due. notes: log odds by candidate; right, struck: log odds of the strike."""

    attack: Attack
    notes: Figures
    right: float
    struck: float


@dataclass(slots=True, eq=False)
class _Open:
    due: Due
    heard: list[Heard] = field(default_factory=list)
    looked_at: set[float] = field(default_factory=set)


def attacks_for(hearing: Hearing, piano: Piano, due: Due) -> list[tuple[float, float]]:
    """(time, flux) of the strongest attacks so far in a strike's window, and of the strongest at the partials of what is due; without those that are little beside
    one that follows at once: what comes up before it in the same spectrum is its own."""
    from_s, until_s = due.time_s - due.window_s - EDGE_S, due.time_s + due.window_s + EDGE_S
    around = hearing.attacks(from_s, until_s + FOLLOWS_S, 2 * ATTACKS)
    hz = np.concatenate([piano.partials_hz(note)[:8] for note in due.notes])
    around += [
        (onset_s, flux)
        for onset_s, flux in hearing.attacks(from_s, until_s, 1, hz)
        if all(abs(onset_s - other) >= 2 * _SAME_S for other, _ in around)
    ]
    strongest = max((flux for onset_s, flux in around if onset_s <= until_s), default=0.0)
    found = [
        (onset_s, flux)
        for onset_s, flux in around
        if onset_s <= until_s
        and flux >= _WEAKEST * strongest
        and not any(0.0 < other_s - onset_s <= FOLLOWS_S and flux < _WEAK * other for other_s, other in around)
    ]
    return sorted(sorted(found, key=lambda peak: -peak[1])[: ATTACKS + 1])


class Listener:
    """rate: of the blocks in Hz; the engine takes RATE only."""

    def __init__(self, piano: Piano, thresholds: Thresholds | None = None, rate: int = RATE) -> None:
        self._piano = piano
        self._thresholds = thresholds or Thresholds()
        self._hearing = Hearing(piano, LOWEST_HEARD, HIGHEST_MELODY, rate)
        self._open: list[_Open] = []

    def expect(self, dues: Iterable[Due]) -> None:
        """More strikes that are due. Those of one pass come in one go or bar by bar, in any order."""
        self._open += [_Open(due) for due in dues]
        self._open.sort(key=lambda open_: open_.due.time_s)

    def forget(self) -> None:
        """Nothing is due any more: the pass was stopped."""
        self._open.clear()

    def hear(self, block: Array, start_s: float) -> list[Verdict]:
        """The next block and when its first sample was heard; the verdicts that are known by now."""
        self._hearing.hear(block, start_s)
        ready_s = self._hearing.ready_s
        said: list[Verdict] = []
        for open_ in list(self._open):
            if open_.due.time_s - open_.due.window_s - EDGE_S > ready_s:
                break
            verdict = self._look(open_, ready_s)
            if verdict:
                self._open.remove(open_)
                said.append(verdict)
        return said

    def _look(self, open_: _Open, ready_s: float) -> Verdict | None:
        due = open_.due
        if not all(LOWEST_HEARD <= note <= HIGHEST_MELODY for note in due.notes):  # as the last low root of an ending
            return Verdict(due, NOT_SURE, (), None, 0.0) if ready_s >= due.time_s + due.window_s + EDGE_S else None
        for onset_s, flux in attacks_for(self._hearing, self._piano, due):
            if onset_s > ready_s or any(abs(onset_s - done) < _SAME_S for done in open_.looked_at):
                continue
            open_.looked_at.add(onset_s)
            # Where sound was lost whatever comes after it looks struck.
            if not self._hearing.is_whole(onset_s - LOST_BESIDE_S, onset_s + AFTER_S + WINDOW_S):
                continue
            open_.heard.append(self._judge(due, onset_s, flux))
        best = max(open_.heard, key=lambda heard: heard.right, default=None)
        if best and best.right >= self._thresholds.right and self._least(best, due) >= self._thresholds.each:
            return self._right(due, best)
        is_over = ready_s >= due.time_s + due.window_s + EDGE_S
        return self._at_the_end(due, open_.heard, best) if is_over else None

    def _judge(self, due: Due, onset_s: float, flux: float) -> Heard:
        attack = self._hearing.take_apart(onset_s, flux)
        notes = odds("note").log_odds(attack.features)
        figures = strike_figures(attack, notes, due.notes, due.also)[None, :]
        right, struck = (float(odds(name).log_odds(figures)[0]) for name in ("strike", "struck"))
        return Heard(attack, notes, right, struck)

    def _right(self, due: Due, heard: Heard) -> Verdict:
        self._hearing.decomposer.adapt(heard.attack, due.notes, ADAPT)
        keys = due.notes + self._melody(heard, due)
        return Verdict(due, RIGHT, _told(heard, keys), heard.attack.onset_s, probability(heard.right))

    def _at_the_end(self, due: Due, all_heard: list[Heard], best: Heard | None) -> Verdict:
        limits = self._thresholds
        span_s = due.window_s + EDGE_S + AFTER_S + WINDOW_S
        if not self._hearing.is_whole(due.time_s - span_s, due.time_s + span_s):
            return Verdict(due, NOT_SURE, (), None, 0.0)
        loudest = max(all_heard, key=lambda heard: heard.struck, default=None)
        if best is None or loudest is None:
            return Verdict(due, MISSING, (), None, 1.0)
        if best.right > limits.wrong:
            return Verdict(due, NOT_SURE, _told(best, due.notes), best.attack.onset_s, 1.0 - probability(best.right))
        if loudest.struck < limits.missing:
            return Verdict(due, MISSING, (), None, probability(-loudest.struck))
        named = self._named(loudest, [note for note in loudest.attack.notes if note <= HIGHEST_HEARD])
        all_came = max(self._least(heard, due) for heard in all_heard) >= 0.5
        if not named or loudest.struck < 0.0 or all_came:
            return Verdict(due, NOT_SURE, (), loudest.attack.onset_s, probability(loudest.struck))
        return Verdict(due, WRONG, _told(loudest, named), loudest.attack.onset_s, probability(-best.right))

    def _least(self, heard: Heard, due: Due) -> float:
        """The probability of the due note that is least sure to have been struck."""
        return min(probability(heard.notes[note - heard.attack.notes[0]]) for note in due.notes)

    def _melody(self, heard: Heard, due: Due) -> tuple[int, ...]:
        """The right hand's notes that came. One that nothing was due for is named where it is sure that it came and none of the due ones did; not where it may be
        no more than partials of the left hand's."""
        came = self._named(heard, due.also)
        sure, lowest = self._thresholds.melody, heard.attack.notes[0]
        if came or not due.also or max(heard.notes[key - lowest] for key in due.also) > -sure:
            return came
        partials = {note + step for note in due.notes for step in PARTIALS_ABOVE}
        above = [note for note in heard.attack.notes if note > max(due.notes) + 2 and note not in partials]
        best = max(above, key=lambda note: heard.notes[note - lowest], default=None)
        return (best,) if best is not None and heard.notes[best - lowest] >= sure else ()

    def _named(self, heard: Heard, keys: Iterable[int]) -> tuple[int, ...]:
        lowest = heard.attack.notes[0]
        return tuple(key for key in keys if probability(heard.notes[key - lowest]) >= self._thresholds.named)


def _told(heard: Heard, keys: Iterable[int]) -> tuple[HeardNote, ...]:
    lowest = heard.attack.notes[0]
    return tuple(HeardNote(key, probability(heard.notes[key - lowest])) for key in sorted(set(keys)))
