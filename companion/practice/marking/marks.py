"""Marking what was played against what was due.

A press is taken for the strike in whose window it falls. The windows never overlap (see expected.py), so the best
one-to-one assignment falls apart into single strikes, and in each of them it is exact: first as many due notes as can
be are matched to presses of that note, each to the nearest; then the remaining due notes to the remaining presses, as
wrong notes; what is left is extra.

Units: seconds for moments, milliseconds for offsets, negative = early.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import fmean, median, pstdev

from companion.groove.model import HANDS
from companion.practice.model import (
    VERDICTS,
    WRONG_KINDS,
    ChordMark,
    Expected,
    ExtraKey,
    Figures,
    Group,
    PassMarks,
    Press,
    StrikeMark,
    WrongNote,
)
from companion.practice.reach import HIGHEST_KEY, octave_higher

# The same key twice within this is one press: a worn contact, or two cables from one keyboard. No finger repeats a
# key so fast (repeated notes reach about 15 a second, from memory).
DOUBLE_S = 0.025
# Verdicts of a strike that came with all its notes.
WHOLE = ("right", "early", "late")
# Fewer strikes say too little of a player's habit (our own choice).
STRIKES_FOR_HABIT = 8


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far from the beat is still in time: the larger of floor_ms and share of a pulse. The spread of intervals
    grows in proportion to their length above about 300 ms (Repp, on expressive piano timing), so a constant alone
    would not do."""

    name: str
    floor_ms: float
    share: float
    source: str

    def ms(self, beat_s: float) -> float:
        """How far off a strike may be at that length of a beat."""
        return max(self.floor_ms, self.share * beat_s * 1000.0)


TOLERANCES = (
    Tolerance(
        "strike",
        40.0,
        0.10,
        "an order of two onsets is told from 22 ms on and is obvious past 60 ms (mazurka.org.uk); "
        "players spread by 2 to 4 % of the beat (Repp & Su 2013, from memory): 2.5 of their spreads at least",
    ),
    Tolerance(
        "behind",
        20.0,
        0.05,
        "taps precede the beat (Repp 2005); a mean behind it is noticed at twice the 2.5 % at which one "
        "displaced tone is (Friberg & Sundberg 1995)",
    ),
    Tolerance(
        "ahead",
        60.0,
        0.12,
        "taps precede the beat by 10 to 80 ms without the player's rushing (Repp & Su 2013, from memory)",
    ),
    Tolerance(
        "uneven",
        20.0,
        0.06,
        "half as much again as the 4 % of the beat of untrained players (Repp & Su 2013, from memory)",
    ),
)
_MS = {tolerance.name: tolerance.ms for tolerance in TOLERANCES}


def tolerance_ms(name: str, beat_s: float) -> float:
    """The tolerance of that name ("strike", "behind", "ahead", "uneven") where a pulse lasts beat_s."""
    return _MS[name](beat_s)


def mark_pass(
    expected: Sequence[Expected],
    presses: Iterable[Press],
    *,
    own_offset_ms: float | None = None,
    until_s: float | None = None,
    ceiling: int = HIGHEST_KEY,
) -> PassMarks:
    """Mark one pass, or the part of it that is over.

    presses: in any order; a velocity of 0 is a note-off and never counts, nor does the same key doubled within 25 ms.
    own_offset_ms: the player's habit, taken off before a strike is called early or late; None takes it from this pass
    (see habit_ms). until_s: only chords whose last window has closed by then are marked, and a press that an open
    window may still want is not called extra. ceiling: what is higher is the right hand's and, where that is not asked for, left out, but for a due
    chord that comes whole an octave higher.
    """
    expected = sorted(expected, key=lambda strike: strike.due_s)
    strikes, extra = _match_parts(expected, clean_presses(presses), ceiling)
    if own_offset_ms is None:
        own_offset_ms = habit_ms(strikes)
    groups: dict[tuple[str, Group], list[StrikeMark]] = defaultdict(list)
    for mark in strikes:
        groups[mark.expected.part, mark.expected.group].append(_in_time(mark, own_offset_ms))
    chords = tuple(
        _chord_mark(tuple(group)) for group in groups.values() if until_s is None or _is_over(group, until_s)
    )
    if until_s is not None:
        extra = [key for key in extra if key.time_s <= until_s]
    return PassMarks(chords, tuple(extra), figures_of(chords, len(extra)))


def _is_over(group: Iterable[StrikeMark], until_s: float) -> bool:
    return all(mark.expected.due_s + mark.expected.window_s <= until_s for mark in group)


def clean_presses(presses: Iterable[Press]) -> list[Press]:
    """The presses that count, in order of time."""
    last: dict[int, float] = {}
    kept = []
    for press in sorted(presses, key=lambda press: (press.time_s, press.note)):
        if press.velocity == 0 or press.time_s - last.get(press.note, float("-inf")) < DOUBLE_S:
            continue
        last[press.note] = press.time_s
        kept.append(press)
    return kept


# --- strikes


def _match_parts(
    expected: list[Expected], presses: list[Press], ceiling: int
) -> tuple[list[StrikeMark], list[ExtraKey]]:
    """Each hand by itself, both in order of time. Where both are asked for, a press is of the hand that is due to strike
    that key now, else of the one in whose range it lies."""
    hands = {strike.part: [other for other in expected if other.part == strike.part] for strike in expected}
    if len(hands) < 2:
        return _match(expected, presses, HIGHEST_KEY if "right" in hands else ceiling)
    played: dict[str, list[Press]] = {hand: [] for hand in hands}
    for press in presses:
        due = next((hand for hand in HANDS if _is_due(hands[hand], press)), None)
        played[due or ("left" if press.note <= ceiling else "right")].append(press)
    matched = [_match(hands[hand], played[hand], HIGHEST_KEY) for hand in HANDS]
    marks = sorted((mark for marks, _ in matched for mark in marks), key=lambda mark: mark.expected.due_s)
    return marks, sorted((key for _, extra in matched for key in extra), key=lambda key: key.time_s)


def _is_due(expected: list[Expected], press: Press) -> bool:
    first = max(0, bisect_left(expected, press.time_s, key=lambda strike: strike.due_s) - 1)
    return any(press.note in strike.notes and _within(strike, press) for strike in expected[first : first + 2])


def _match(expected: list[Expected], presses: list[Press], ceiling: int) -> tuple[list[StrikeMark], list[ExtraKey]]:
    """Each due strike with its presses, timing not yet judged, and the presses nothing was due for, in order of
    time."""
    times = [strike.due_s for strike in expected]
    taken: list[list[Press]] = [[] for _ in expected]
    extra: list[Press] = []
    for press in presses:
        place = bisect_left(times, press.time_s)
        near = min(
            (p for p in (place - 1, place) if 0 <= p < len(expected)),
            key=lambda p: abs(times[p] - press.time_s),
            default=None,
        )
        if near is not None and _within(expected[near], press):
            taken[near].append(press)
        else:
            extra.append(press)
    marks = []
    for strike, near_presses in zip(expected, taken):
        mark, left = _mark_strike(strike, _of_left_hand(strike, near_presses, ceiling))
        marks.append(mark)
        extra += left
    extra = sorted((press for press in extra if press.note <= ceiling), key=lambda press: press.time_s)
    opens = [strike.due_s - strike.window_s for strike in expected]
    return marks, [ExtraKey(press.time_s, press.note, _bar_at(expected, opens, press.time_s)) for press in extra]


def _bar_at(expected: list[Expected], opens: list[float], time_s: float) -> int:
    """The bar of the latest strike whose window has opened, else the first; -1 where nothing is due."""
    return expected[max(0, bisect_right(opens, time_s) - 1)].group.index if expected else -1


def _of_left_hand(strike: Expected, presses: list[Press], ceiling: int) -> list[Press]:
    """The presses at a strike without the right hand's."""
    played = {press.note for press in presses}
    higher = octave_higher(strike.notes)
    meant = higher if higher <= played and not played.issuperset(strike.notes) else frozenset[int]()
    return [press for press in presses if press.note <= ceiling or press.note in meant]


def _within(strike: Expected, press: Press) -> bool:
    # To a tenth of a millisecond, so that no rounding of binary fractions decides at the window's edge.
    return round(abs(press.time_s - strike.due_s), 4) <= strike.window_s


def _mark_strike(strike: Expected, presses: list[Press]) -> tuple[StrikeMark, list[Press]]:
    right: dict[int, Press] = {}
    for press in sorted(presses, key=lambda press: abs(press.time_s - strike.due_s)):
        if press.note in strike.notes:
            right.setdefault(press.note, press)
    open_notes = [note for note in strike.notes if note not in right]
    # A due note struck twice is an extra press, never a wrong note for the other.
    strangers = [press for press in presses if press.note not in strike.notes]
    wrong = _wrong_notes(strike, open_notes, strangers)
    used = {id(press) for press in [*right.values(), *wrong.values()]}
    offsets_ms = tuple(1000.0 * (press.time_s - strike.due_s) for press in right.values())
    missing = tuple(note for note in open_notes if note not in wrong)
    mark = StrikeMark(
        expected=strike,
        verdict="wrong" if wrong else "missing" if missing else "right",
        offset_ms=fmean(offsets_ms) if offsets_ms else None,
        played=tuple(press.note for press in presses if id(press) in used),
        wrong=tuple(WrongNote(press.note, note, wrong_kind(press.note, note, strike)) for note, press in wrong.items()),
        missing=missing,
        note_offsets_ms=offsets_ms,
    )
    return mark, [press for press in presses if id(press) not in used]


def _wrong_notes(strike: Expected, open_notes: list[int], strangers: list[Press]) -> dict[int, Press]:
    """Due note -> the press that stands for it: as many as can be, the most telling kinds in sum, then the fewest
    semitones, then the least time."""
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
    return "neighbour" if abs(note - instead_of) <= 2 else "other"


# --- timing


def habit_ms(strikes: Iterable[StrikeMark]) -> float:
    """The offset that is the player's own way of playing with a click: the median of the strikes that came whole, but
    no more than is still in time ("ahead" and "behind" of TOLERANCES). 0 where fewer than eight came."""
    whole = [mark for mark in strikes if mark.verdict in WHOLE]
    if len(whole) < STRIKES_FOR_HABIT:
        return 0.0
    beat_s = median(mark.expected.beat_s for mark in whole)
    usual_ms = median(mark.offset_ms or 0.0 for mark in whole)
    return min(tolerance_ms("behind", beat_s), max(-tolerance_ms("ahead", beat_s), usual_ms))


def _in_time(mark: StrikeMark, own_offset_ms: float) -> StrikeMark:
    if mark.verdict != "right" or mark.offset_ms is None:
        return mark
    off_ms = mark.offset_ms - own_offset_ms
    if abs(off_ms) <= tolerance_ms("strike", mark.expected.beat_s):
        return mark
    return replace(mark, verdict="early" if off_ms < 0 else "late")


def timing_words(figures: Figures, beat_s: float) -> str:
    """A pass's time in a word or two: "in time", "early", "late", "uneven", "early and uneven", "late and uneven"; ""
    where nothing was heard.

    Offset and spread are kept apart. The average of a player who keeps to the click lies a little before it, and that
    is in time ("ahead" of TOLERANCES). beat_s: the length of a pulse.
    """
    if figures.offset_ms is None or figures.spread_ms is None:
        return ""
    words = []
    if figures.offset_ms > tolerance_ms("behind", beat_s):
        words.append("late")
    elif figures.offset_ms < -tolerance_ms("ahead", beat_s):
        words.append("early")
    if figures.spread_ms > tolerance_ms("uneven", beat_s):
        words.append("uneven")
    return " and ".join(words) or "in time"


# --- chords


def _chord_mark(strikes: tuple[StrikeMark, ...]) -> ChordMark:
    """The first strike decides, for the change is what is practised; a shell that came whole only with a later strike
    came late. The repeats may make it worse, never better, and only where more than one strike in four slipped; a
    single one is always forgiven. No strike whole: wrong where the first or half of them had a wrong note, else
    missing."""
    whole = [mark for mark in strikes if mark.verdict in WHOLE]
    first = strikes[0]
    offset_ms = None
    if whole:
        offset_ms = (whole[0].offset_ms or 0.0) + 1000.0 * (whole[0].expected.due_s - first.expected.due_s)
        verdict = "late" if first.verdict == "missing" else first.verdict
    else:
        wrong = sum(mark.verdict == "wrong" for mark in strikes)
        verdict = "wrong" if first.verdict == "wrong" or 2 * wrong >= len(strikes) else "missing"
    slips = Counter(mark.verdict for mark in strikes[1:] if mark.verdict != "right")
    if whole and slips.total() > max(1, len(strikes) // 4):
        commonest = max(slips, key=lambda slip: (slips[slip], VERDICTS.index(slip)))
        verdict = max(verdict, commonest, key=VERDICTS.index)
    group = first.expected.group
    return ChordMark(group.index, group.chord, verdict, offset_ms, strikes, first.expected.part)


# --- figures


def figures_of(chords: Sequence[ChordMark], extra: int) -> Figures:
    """The numbers of a pass, or of several end to end."""
    strikes = [mark for chord in chords for mark in chord.strikes]
    offsets = [offset_ms for mark in strikes for offset_ms in mark.note_offsets_ms]
    heard_ms = [mark.offset_ms for mark in strikes if mark.offset_ms is not None]
    stretch = [after_ms - before_ms for before_ms, after_ms in pairwise(heard_ms)]
    verdicts = Counter(chord.verdict for chord in chords)
    return Figures(
        chords=len(chords),
        right=verdicts["right"],
        missing=verdicts["missing"],
        extra=extra,
        offset_ms=fmean(offsets) if offsets else None,
        spread_ms=pstdev(offsets) if offsets else None,
        evenness_ms=pstdev(stretch) if len(stretch) > 1 else None,
    )
