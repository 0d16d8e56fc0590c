"""Which press was meant for which strike, and what each strike came to but for its time.

A press is taken for the strike in whose window it falls. The windows never overlap (see expected.py), so the best
one-to-one assignment falls apart into single strikes, and in each of them it is exact: first as many due notes as can
be are matched to presses of that note, each to the nearest; then the remaining due notes to the remaining presses, as
wrong notes; what is left is extra. Presses outside the windows that were plainly meant for a strike are taken for it (meant.py).

Units: seconds for moments, milliseconds for offsets, negative = early.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from collections.abc import Iterable, Sequence
from itertools import zip_longest
from math import inf
from statistics import fmean

from companion.groove.model import HAND_PARTS
from companion.practice.marking.hands import KeyShares, is_in_window
from companion.practice.marking.meant import meant_from_s, meant_until_s, reach_s, take_what_was_meant
from companion.practice.marking.ornaments import TremoloKeys
from companion.practice.model import WRONG_KINDS, Expected, ExtraKey, Group, Press, StrikeMark, WrongNote
from companion.practice.reach import HIGHEST_KEY, NEIGHBOUR_SEMITONES, ROLL_S, SMASH_KEYS, octave_higher

# The same key twice within this is one press: a worn contact, or two cables from one keyboard. No finger repeats a
# key so fast (repeated notes reach about 15 a second, from memory).
DOUBLE_S = 0.025


def clean_presses(presses: Iterable[Press]) -> list[Press]:
    """The presses that count, in order of time."""
    last: dict[int, float] = {}
    return [press for press in sorted(presses, key=_in_order) if _counts(press, last)]


def _in_order(press: Press) -> tuple[float, int]:
    return press.time_s, press.note


def _counts(press: Press, last: dict[int, float]) -> bool:
    """last: when each key that counted went down; told here."""
    if press.velocity == 0 or press.time_s - last.get(press.note, -inf) < DOUBLE_S:
        return False
    last[press.note] = press.time_s
    return True


class Matching:
    """The presses of a pass, taken for its strikes as they come.

    expected: of the hands that play, in order of time. asked: those that are marked, None for all of these. ceiling: what is higher is the
    right hand's and, where only the left is asked for, left out, but for a due chord that comes whole an octave higher. What can no longer change is matched once (settle), so that a look at a long pass costs little
    more than one at a short pass, and comes to the same.
    """

    def __init__(
        self, expected: Sequence[Expected], ceiling: int = HIGHEST_KEY, asked: Sequence[str] | None = None
    ) -> None:
        by_part = {part: [strike for strike in expected if strike.part == part] for part in HAND_PARTS}
        asked = asked or [part for part, strikes in by_part.items() if strikes] or ["left"]
        self._shares = KeyShares(by_part, asked, ceiling)
        self._tremolos = TremoloKeys(expected)
        self._last: dict[int, float] = {}
        self._hands = {
            part: _Hand(part, by_part[part], ceiling if list(asked) == ["left"] else HIGHEST_KEY) for part in asked
        }

    def take(self, press: Press) -> None:
        """The next press: none of an earlier time may follow, but by less than what is settled."""
        if _counts(press, self._last) and not self._tremolos.goes_on(press):
            for part, decided in self._shares.take(press):
                if part in self._hands:
                    self._hands[part].take(decided)

    def settle(self, until_s: float) -> None:
        """No press of before until_s will come any more."""
        until_s = min(until_s, self._shares.waits_from_s)
        for hand in self._hands.values():
            hand.settle(until_s)

    def look(self, until_s: float = inf) -> tuple[list[StrikeMark], list[ExtraKey]]:
        """The strikes, timing not yet judged, and the presses nothing was due for, both in order of time. until_s: without the strikes that no
        press of before then may be meant for."""
        waiting = self._shares.waiting
        looks = [hand.look(until_s, waiting if part == "right" else ()) for part, hand in self._hands.items()]
        marks = sorted((mark for marks, _ in looks for mark in marks), key=lambda mark: mark.expected.due_s)
        return marks, sorted((key for _, extra in looks for key in extra), key=lambda key: (key.time_s, key.note))

    def still_open(self, until_s: float) -> tuple[set[tuple[str, Group]], float]:
        """The chords of which a strike may still come at until_s; and since when one may have been meant for them."""
        ends = [pair for hand in self._hands.values() for pair in hand.ends if pair[1] > until_s]
        open_s = min((meant_from_s(strike) for strike, _ in ends), default=until_s)
        return {(strike.part, strike.group) for strike, _ in ends}, open_s


class _Hand:
    """The presses of one hand. _taken, _extra: by strike, and of none, as far as _meant strikes were looked at; of the first of them the
    marks stand."""

    def __init__(self, part: str, expected: Sequence[Expected], ceiling: int) -> None:
        self._part = part
        self._expected = expected
        self._ceiling = ceiling
        self._times = [strike.due_s for strike in expected]
        self._taken: list[list[Press]] = [[] for _ in expected]
        self._extra: list[Press] = []
        self._meant = 0
        self._marks: list[StrikeMark] = []
        self._over: list[Press] = []  # what the strikes marked left
        self.ends = [
            (strike, meant_until_s(strike, after)) for strike, after in zip_longest(expected, expected[1:]) if strike
        ]

    def take(self, press: Press) -> None:
        self._put(press, self._taken, self._extra)

    def _put(self, press: Press, taken: Sequence[list[Press]], extra: list[Press]) -> None:
        times = self._times
        near = bisect_left(times, press.time_s)
        if near == len(times) or (near and press.time_s - times[near - 1] <= times[near] - press.time_s):
            near -= 1
        is_taken = near >= 0 and is_in_window(self._expected[near], press)
        insort(taken[near] if is_taken else extra, press, key=_in_order)

    def settle(self, until_s: float) -> None:
        """Look once and for all at the strikes that nothing of until_s or later is meant for."""
        before = self._meant
        while self._meant + 1 < len(self._expected) and reach_s(self._expected, self._meant)[1] < until_s:
            self._meant += 1
        take_what_was_meant(self._expected, self._taken, self._extra, self._ceiling, range(before, self._meant))
        # The strike looked at next may still take presses of the one before it.
        for place in range(len(self._marks), self._meant - 1):
            self._mark(place, self._taken[place], self._marks, self._over)

    def look(self, until_s: float, more: Sequence[Press] = ()) -> tuple[list[StrikeMark], list[ExtraKey]]:
        """more: presses that it has not taken yet."""
        done = len(self._marks)
        marks, over, extra = list(self._marks), list(self._over), list(self._extra)
        taken = [*self._taken[:done], *map(list, self._taken[done:])]
        for press in more:
            self._put(press, taken, extra)
        end = len(self._expected)
        while end > done and not taken[end - 1] and reach_s(self._expected, end - 1)[0] > until_s:
            end -= 1
        take_what_was_meant(self._expected, taken, extra, self._ceiling, range(self._meant, end))
        for place in range(done, end):
            self._mark(place, taken[place], marks, over)
        extra = [press for press in extra + over if press.note <= self._ceiling]
        return marks, extra_keys(self._expected, extra, self._part)

    def _mark(self, place: int, presses: Sequence[Press], marks: list[StrikeMark], over: list[Press]) -> None:
        strike = self._expected[place]
        mark, left = mark_strike(strike, of_left_hand(strike, presses, self._ceiling))
        marks.append(mark)
        over += left


def extra_keys(expected: Sequence[Expected], presses: Iterable[Press], part: str = "left") -> list[ExtraKey]:
    """Presses that nothing was due for, in order of time, in the bar of the latest strike whose window had opened, else of the
    first; -1 where nothing is due. expected: in order of time; part: whose they are."""
    opens = [strike.due_s - strike.window_s for strike in expected]
    bars = [strike.group.index for strike in expected] or [-1]
    return [
        ExtraKey(press.time_s, press.note, bars[max(0, bisect_right(opens, press.time_s) - 1)], part)
        for press in sorted(presses, key=_in_order)
    ]


def of_left_hand(strike: Expected, presses: Sequence[Press], ceiling: int) -> list[Press]:
    """The presses at a strike without the right hand's: what is higher than ceiling, but for the whole chord an octave higher."""
    played = {press.note for press in presses}
    higher = octave_higher(strike.notes)
    meant = higher if higher <= played and not played.issuperset(strike.notes) else frozenset[int]()
    return [press for press in presses if press.note <= ceiling or press.note in meant]


def mark_strike(strike: Expected, presses: Sequence[Press]) -> tuple[StrikeMark, list[Press]]:
    """The notes of one strike marked, its time not yet judged, and the presses that it leaves over."""
    right: dict[int, Press] = {}
    for press in sorted(presses, key=lambda press: abs(press.time_s - strike.due_s)):
        if press.note in strike.notes:
            right.setdefault(press.note, press)
    open_notes = [note for note in strike.notes if note not in right]
    # A due note struck twice is an extra press, never a wrong note for the other.
    strangers = [press for press in presses if press.note not in strike.notes]
    wrong = _wrong_notes(strike, open_notes, strangers)
    stroke = [*right.values(), *wrong.values()]
    used = {id(press) for press in stroke}
    along = tuple(press.note for press in strangers if id(press) not in used and _is_with(press, stroke))
    offsets_ms = () if strike.free else tuple(1000.0 * (press.time_s - strike.due_s) for press in right.values())
    missing = tuple(note for note in open_notes if note not in wrong)
    mark = StrikeMark(
        expected=strike,
        verdict="wrong" if wrong or len(along) >= SMASH_KEYS else "missing" if missing else "right",
        offset_ms=fmean(offsets_ms) if offsets_ms else None,
        played=tuple(press.note for press in presses if id(press) in used),
        wrong=tuple(WrongNote(press.note, note, wrong_kind(press.note, note, strike)) for note, press in wrong.items()),
        missing=missing,
        note_offsets_ms=offsets_ms,
        along=along,
        keys=tuple(right[note] for note in strike.notes if note in right),
    )
    return mark, [press for press in presses if id(press) not in used]


def _is_with(press: Press, stroke: Sequence[Press]) -> bool:
    """Whether a key was struck with the keys of a stroke, if there are any."""
    return not stroke or min(abs(press.time_s - other.time_s) for other in stroke) <= ROLL_S


def _wrong_notes(strike: Expected, open_notes: list[int], strangers: list[Press]) -> dict[int, Press]:
    """Due note -> the press that stands for it: as many as can be, the most telling kinds in sum, then the fewest
    semitones, then the least time."""
    if not open_notes or not strangers:
        return {}
    # Which of the open notes are taken -> (cost, pairs of places), press by press: exact, and quick for a whole fist.
    best: dict[frozenset[int], tuple[tuple[int, int, float], tuple[tuple[int, int], ...]]] = {
        frozenset(): ((0, 0, 0.0), ())
    }
    for number, press in enumerate(strangers):
        for taken, ((kinds, semitones, off_s), pairs) in list(best.items()):
            for place, note in enumerate(open_notes):
                if place in taken:
                    continue
                cost = (
                    kinds + WRONG_KINDS.index(wrong_kind(press.note, note, strike)),
                    semitones + abs(press.note - note),
                    off_s + abs(press.time_s - strike.due_s),
                )
                way = (cost, tuple(sorted((*pairs, (place, number)))))
                best[taken | {place}] = min(best.get(taken | {place}, way), way)
    most = max(map(len, best))
    _, pairs = min(way for taken, way in best.items() if len(taken) == most)
    return {open_notes[place]: strangers[number] for place, number in pairs}


def wrong_kind(note: int, instead_of: int, strike: Expected) -> str:
    """What a wrong note was: one of WRONG_KINDS. The same note in another octave is that, even where another legal
    shell has it."""
    if (note - instead_of) % 12 == 0:
        return "wrong octave"
    if any(note in shell for shell in strike.options):
        return "other shell"
    return "neighbour" if abs(note - instead_of) <= NEIGHBOUR_SEMITONES else "other"
