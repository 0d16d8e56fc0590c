"""Slides and tremolos as they were played: measured and told in a sentence, never graded note by note.

A tremolo is marked by its first stroke alone; what its keys strike after that is no key too many. Sources for the rate: groove/ornamented.py.

Units: seconds; MIDI notes.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from statistics import median

from companion.base.text import plural
from companion.groove.model import Arrangement
from companion.groove.ornamented import QUICKEST, SLOWEST, halves
from companion.practice.marking.robust import qn
from companion.practice.model import Expected, PassMarks, Press
from companion.practice.reach import SLID_S

TOGETHER_S = 0.040  # keys so near are one stroke of a tremolo (Hove, Keller and Krumhansl 2007: 25 to 50 ms are heard as one chord)
FEWEST_STROKES = 4  # of a tremolo that can be measured (ours)
EVEN_SHARE = 0.15  # strokes whose gaps spread by no more of their length sound even (ours)
_TURN_S = 0.35  # from one stroke of a tremolo to the next at most: half as often as six a second (ours)
_NEAR = 8  # strikes behind a tremolo that its last keys may run into
_LAST_S = 0.06  # so long before its end the next note may begin with one of its keys


class TremoloKeys:
    """Tells which presses only go on with a tremolo. expected: of both hands, in order of time."""

    def __init__(self, expected: Iterable[Expected]) -> None:
        strikes = list(expected)
        # Each with what may begin while its last keys are still struck.
        self._spans = [
            (strike, [after for after in strikes[place + 1 :][:_NEAR] if after.due_s - after.window_s < _end_s(strike)])
            for place, strike in enumerate(strikes)
            if strike.turns
        ]
        self._came: set[tuple[float, int]] = set()

    def goes_on(self, press: Press) -> bool:
        """Whether the press is one that nothing more is asked of. Each press once, in order of time."""
        for strike, after in self._spans:
            if press.note not in (*strike.notes, *strike.turns):
                continue
            is_next = press.time_s > strike.due_s + strike.tremolo_s - _LAST_S and any(
                press.note in each.notes and abs(press.time_s - each.due_s) <= each.window_s for each in after
            )
            if strike.due_s - strike.window_s <= press.time_s <= _end_s(strike) and not is_next:
                if press.note in strike.turns or (strike.due_s, press.note) in self._came:
                    return True
                self._came.add((strike.due_s, press.note))
        return False


def _end_s(tremolo: Expected) -> float:
    return tremolo.due_s + tremolo.tremolo_s + tremolo.window_s


def without_tremolos(presses: Sequence[Press], arrangement: Arrangement) -> list[Press]:
    """The presses without those that only go on with a tremolo of the arrangement, whenever that is played: from the second change on between its two
    chords. What went down with the rest of a shell is the left hand's. presses: in order of time."""
    both = {
        halves(strike.notes, strike.turns)
        for bar in arrangement.bars
        for strike in bar.written
        if strike.turns and not strike.held
    }
    if not both:
        return list(presses)
    going = {id(press) for first, second in both for press in _going_on(presses, first, second)}
    shells = {frozenset(chord.notes) for bar in arrangement.bars for chord in bar.chords if len(chord.notes) > 1}
    times = [press.time_s for press in presses]

    def is_of_shell(press: Press) -> bool:
        low, high = (bisect_left(times, press.time_s + way * TOGETHER_S) for way in (-1, 1))
        along = {other.note for other in presses[low:high]}
        return any(press.note in shell and shell <= along for shell in shells)

    return [press for press in presses if id(press) not in going or is_of_shell(press)]


def _going_on(presses: Sequence[Press], first: Sequence[int], second: Sequence[int]) -> Iterator[Press]:
    own = [press for press in presses if press.note in first or press.note in second]
    begins = [0, *(place + 1 for place, (a, b) in enumerate(pairwise(own)) if b.time_s - a.time_s > _TURN_S)]
    for start, end in pairwise([*begins, len(own)]):
        run = own[start:end]
        changes = [place + 1 for place, (a, b) in enumerate(pairwise(run)) if (a.note in first) != (b.note in first)]
        if len(changes) + 1 >= FEWEST_STROKES:
            yield from run[changes[0] :]


def ornament_words(passes: Sequence[PassMarks], presses: Sequence[Press]) -> str:
    """What is told of the slides and tremolos of some passes, "" where they had none that came. presses: of all of them, in order of time."""
    strikes = [mark for marks in passes for chord in marks.chords for mark in chord.strikes if mark.keys]
    slid = [_slid_s(mark.expected.grace, mark.keys, presses) for mark in strikes if mark.expected.grace is not None]
    return " ".join(filter(None, (_slides(slid), _tremolos([mark.expected for mark in strikes], presses))))


def _slides(lasted_s: Sequence[float | None]) -> str:
    """lasted_s: how long each took, None for one that did not come."""
    if not lasted_s:
        return ""
    came_s = [each for each in lasted_s if each is not None]
    plain = len(lasted_s) - len(came_s)
    if not came_s:
        return f"{'The slides were' if plain > 1 else 'The slide was'} left out: the small key just before the note, let go as the note sounds."
    long = f"{1000.0 * median(came_s):.0f} ms long"
    if not plain:
        return f"Every slide came, {long} in the middle." if len(came_s) > 1 else f"The slide came, {long}."
    return f"{len(came_s)} of {plural(len(lasted_s), 'slide')} came, {long}; into the rest you went straight."


def _slid_s(grace: int | None, keys: Sequence[Press], presses: Sequence[Press]) -> float | None:
    """How long before its note the grace was struck."""
    struck_s = keys[-1].time_s
    times = [press.time_s for press in presses]
    near = presses[bisect_left(times, struck_s - SLID_S) : bisect_left(times, struck_s)]
    return next((struck_s - press.time_s for press in reversed(near) if press.note == grace), None)


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
