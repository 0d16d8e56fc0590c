"""Slides and tremolos as they were played: measured and told in a sentence, never graded note by note.

A tremolo is marked by its first stroke alone; what its keys strike after that is no key too many. Sources for the rate: groove/ornamented.py.

Units: seconds; MIDI notes.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from itertools import pairwise, zip_longest
from statistics import median

from companion.base.text import plural
from companion.groove.ornamented import QUICKEST, SLOWEST
from companion.practice.marking.robust import qn
from companion.practice.model import Expected, PassMarks, Press
from companion.practice.reach import GRACE_S

TOGETHER_S = 0.040  # keys so near are one stroke of a tremolo (Hove, Keller and Krumhansl 2007: 25 to 50 ms are heard as one chord)
FEWEST_STROKES = 4  # of a tremolo that can be measured (ours)
EVEN_SHARE = 0.15  # strokes whose gaps spread by no more of their length sound even (ours)
_LAST_S = 0.06  # so long before its end the next note may begin with one of its keys


class TremoloKeys:
    """Tells which presses only go on with a tremolo. expected: of the right hand, in order of time."""

    def __init__(self, expected: Iterable[Expected]) -> None:
        strikes = list(expected)
        self._spans = [
            (strike, after) for strike, after in zip_longest(strikes, strikes[1:]) if strike and strike.turns
        ]
        self._came: set[tuple[float, int]] = set()

    def goes_on(self, press: Press) -> bool:
        """Whether the press is one that nothing more is asked of. Each press once, in order of time."""
        for strike, after in self._spans:
            if press.note not in (*strike.notes, *strike.turns):
                continue
            is_next = after is not None and press.note in after.notes
            end_s = strike.due_s + strike.tremolo_s + (-_LAST_S if is_next else strike.window_s)
            if strike.due_s - strike.window_s <= press.time_s <= end_s:
                if press.note in strike.turns or (strike.due_s, press.note) in self._came:
                    return True
                self._came.add((strike.due_s, press.note))
        return False


def ornament_words(marks: PassMarks, presses: Sequence[Press]) -> str:
    """What is told of the slides and tremolos of a pass, "" where it had none that came. presses: of the pass, in order of time."""
    strikes = [mark for chord in marks.chords for mark in chord.strikes if mark.keys]
    slid = [_slid(mark.expected.grace, mark.keys, presses) for mark in strikes if mark.expected.grace is not None]
    return " ".join(filter(None, (_slides(slid), _tremolos([mark.expected for mark in strikes], presses))))


def _slides(came: Sequence[bool]) -> str:
    if not came:
        return ""
    if all(came):
        return f"{'Every slide' if len(came) > 1 else 'The slide'} came."
    plain = len(came) - sum(came)
    if plain == len(came):
        return f"{'The slides were' if plain > 1 else 'The slide was'} left out: the small key just before the note, let go as the note sounds."
    return f"{sum(came)} of {plural(len(came), 'slide')} came; into the rest you went straight."


def _slid(grace: int | None, keys: Sequence[Press], presses: Sequence[Press]) -> bool:
    struck_s = keys[-1].time_s
    times = [press.time_s for press in presses]
    near = presses[bisect_left(times, struck_s - GRACE_S) : bisect_left(times, struck_s)]
    return any(press.note == grace for press in near)


def _tremolos(strikes: Sequence[Expected], presses: Sequence[Press]) -> str:
    """One sentence for all of them: strokes a second, and how evenly they lie."""
    gaps: list[float] = []
    count = held = 0
    for strike in strikes:
        if strike.turns:
            onsets = strokes_of(strike, presses)
            count += 1
            held += len(onsets) < FEWEST_STROKES
            gaps += [after - before for before, after in pairwise(onsets)] if len(onsets) >= FEWEST_STROKES else []
    if not count:
        return ""
    if not gaps:
        return f"The {'tremolos were' if count > 1 else 'tremolo was'} struck once and held; the two chords take turns, six to nine strokes a second."
    rate, spread = 1.0 / median(gaps), qn(gaps) / median(gaps) if len(gaps) > 1 else 0.0
    how = "evenly" if spread <= EVEN_SHARE else "not yet evenly"
    said = f"Your tremolo has {rate:.1f} strokes a second, {how}"
    if rate < SLOWEST:
        said += "; six to nine sound as one chord"
    elif rate > QUICKEST:
        said += "; six to nine are enough, and easier on the arm"
    return f"{said}."


def strokes_of(strike: Expected, presses: Sequence[Press]) -> list[float]:
    """When each stroke of a tremolo came: keys that go down together are one."""
    times = [press.time_s for press in presses]
    first = bisect_left(times, strike.due_s - strike.window_s)
    last = bisect_right(times, strike.due_s + strike.tremolo_s)
    onsets: list[float] = []
    for press in presses[first:last]:
        is_own = press.note in strike.notes or press.note in strike.turns
        if is_own and (not onsets or press.time_s - onsets[-1] > TOGETHER_S):
            onsets.append(press.time_s)
    return onsets
