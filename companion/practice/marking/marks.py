"""Marking what was played against what was due.

A press is taken for the strike in whose window it falls. The windows never overlap (see expected.py), so the best
one-to-one assignment falls apart into single strikes, and in each of them it is exact: first as many due notes as can
be are matched to presses of that note, each to the nearest; then the remaining due notes to the remaining presses, as
wrong notes; what is left is extra. Presses outside the windows that were plainly meant for a strike are taken for it (meant.py).

Units: seconds for moments, milliseconds for offsets, negative = early.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import pairwise, zip_longest
from statistics import fmean, median, pstdev

from companion.groove.model import HAND_PARTS
from companion.practice.marking.meant import meant_from_s, meant_until_s, take_what_was_meant
from companion.practice.marking.timing import ROLLED_MS, WHOLE, habit_ms, in_time, own_spread_ms, usual_roll_ms
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
from companion.practice.reach import HIGHEST_KEY, NEIGHBOUR_SEMITONES, ROLL_S, SMASH_KEYS, octave_higher

# The same key twice within this is one press: a worn contact, or two cables from one keyboard. No finger repeats a
# key so fast (repeated notes reach about 15 a second, from memory).
DOUBLE_S = 0.025
# Early by this share of a pulse or more is a push: it is told in beats.
PUSH_SHARE = 1.0 / 3.0


def mark_pass(
    expected: Sequence[Expected],
    presses: Iterable[Press],
    *,
    own_offset_ms: float | None = None,
    spread_ms: float | None = None,
    from_s: float | None = None,
    until_s: float | None = None,
    ceiling: int = HIGHEST_KEY,
) -> PassMarks:
    """Mark one pass that was played to a clock, or the part of it that is over.

    presses: in any order; a velocity of 0 is a note-off and never counts, nor does the same key doubled within 25 ms.
    own_offset_ms: the player's habit, taken off before a strike is called early or late; None takes it from this pass
    (see habit_ms). spread_ms: how far the player's strikes lie about it; None takes it from this pass as well, or 0
    where own_offset_ms is told. from_s: what nothing was due for before then lies before the pass and is left out. until_s: only chords that
    can no longer come by then are marked, and a press that a chord to come may still want is not called extra. ceiling: what is higher is the right hand's and, where that is not asked for, left out, but for a
    due chord that comes whole an octave higher.
    """
    expected = sorted(expected, key=lambda strike: strike.due_s)
    strikes, extra = _match_parts(expected, clean_presses(presses), ceiling)
    chords = _judged(strikes, own_offset_ms, spread_ms)
    if from_s is not None:
        extra = [key for key in extra if key.time_s > from_s]
    if until_s is not None:
        over_s = _ends(expected)
        open_s = min((meant_from_s(strike) for strike in expected if over_s[id(strike)] > until_s), default=until_s)
        chords = [chord for chord in chords if all(over_s[id(mark.expected)] <= until_s for mark in chord.strikes)]
        extra = [key for key in extra if key.time_s <= min(open_s, until_s)]
    return PassMarks(tuple(chords), tuple(extra), figures_of(chords, len(extra)))


def judge(
    strikes: Sequence[StrikeMark],
    extra: Sequence[ExtraKey],
    own_offset_ms: float | None = None,
    spread_ms: float | None = None,
) -> PassMarks:
    """The verdicts on strikes whose notes are marked (mark_strike), in order of the form.

    own_offset_ms, spread_ms: as in mark_pass.
    """
    chords = _judged(strikes, own_offset_ms, spread_ms)
    return PassMarks(tuple(chords), tuple(extra), figures_of(chords, len(extra)))


def _judged(strikes: Sequence[StrikeMark], own_offset_ms: float | None, spread_ms: float | None) -> list[ChordMark]:
    if spread_ms is None:
        spread_ms = own_spread_ms(strikes) if own_offset_ms is None else 0.0
    if own_offset_ms is None:
        own_offset_ms = habit_ms(strikes)
    roll_ms = usual_roll_ms(strikes, own_offset_ms)
    groups: dict[tuple[str, Group], list[StrikeMark]] = defaultdict(list)
    for mark in strikes:
        groups[mark.expected.part, mark.expected.group].append(mark)
    before: dict[str, tuple[int, ...]] = {}
    chords = []
    for (part, _), group in groups.items():
        timed = in_time(group, own_offset_ms, spread_ms, roll_ms)
        chords.append(_chord_mark(tuple(_with_reason(mark, before.get(part, ())) for mark in timed)))
        before[part] = group[0].expected.notes
    return chords


def _ends(expected: Sequence[Expected]) -> dict[int, float]:
    """Until when each strike, by its identity, may come."""
    ends = {}
    for part in HAND_PARTS:
        hand = [strike for strike in expected if strike.part == part]
        for strike, after in zip_longest(hand, hand[1:]):
            ends[id(strike)] = meant_until_s(strike, after)
    return ends


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
        due = next((hand for hand in HAND_PARTS if _is_due(hands[hand], press)), None)
        played[due or ("left" if press.note <= ceiling else "right")].append(press)
    matched = [_match(hands[hand], played[hand], HIGHEST_KEY) for hand in HAND_PARTS]
    marks = sorted((mark for marks, _ in matched for mark in marks), key=lambda mark: mark.expected.due_s)
    return marks, sorted((key for _, extra in matched for key in extra), key=lambda key: key.time_s)


def _is_due(expected: list[Expected], press: Press) -> bool:
    first = max(0, bisect_left(expected, press.time_s, key=lambda strike: strike.due_s) - 1)
    return any(press.note in strike.notes and _within(strike, press) for strike in expected[first : first + 2])


def _match(expected: list[Expected], presses: list[Press], ceiling: int) -> tuple[list[StrikeMark], list[ExtraKey]]:
    """Each due strike with its presses, timing not yet judged, and the presses nothing was due for, in order of
    time."""
    taken, extra = share_out(expected, presses, ceiling)
    marks = []
    for strike, near_presses in zip(expected, taken):
        mark, left = mark_strike(strike, _of_left_hand(strike, near_presses, ceiling))
        marks.append(mark)
        extra += left
    return marks, extra_keys(expected, [press for press in extra if press.note <= ceiling])


def share_out(
    expected: Sequence[Expected], presses: Iterable[Press], ceiling: int
) -> tuple[list[list[Press]], list[Press]]:
    """The presses of one hand taken for each strike, and those taken for none. expected, presses: in order of time."""
    times = [strike.due_s for strike in expected]
    taken: list[list[Press]] = [[] for _ in expected]
    extra: list[Press] = []
    for press in presses:
        near = bisect_left(times, press.time_s)
        if near == len(times) or (near and press.time_s - times[near - 1] <= times[near] - press.time_s):
            near -= 1
        if near >= 0 and _within(expected[near], press):
            taken[near].append(press)
        else:
            extra.append(press)
    take_what_was_meant(expected, taken, extra, ceiling)
    return taken, extra


def extra_keys(expected: Sequence[Expected], presses: Iterable[Press]) -> list[ExtraKey]:
    """Presses that nothing was due for, in order of time, in the bar of the latest strike whose window had opened, else of the
    first; -1 where nothing is due. expected: in order of time."""
    opens = [strike.due_s - strike.window_s for strike in expected]
    bars = [strike.group.index for strike in expected] or [-1]
    return [
        ExtraKey(press.time_s, press.note, bars[max(0, bisect_right(opens, press.time_s) - 1)])
        for press in sorted(presses, key=lambda press: press.time_s)
    ]


def _of_left_hand(strike: Expected, presses: list[Press], ceiling: int) -> list[Press]:
    """The presses at a strike without the right hand's."""
    played = {press.note for press in presses}
    higher = octave_higher(strike.notes)
    meant = higher if higher <= played and not played.issuperset(strike.notes) else frozenset[int]()
    return [press for press in presses if press.note <= ceiling or press.note in meant]


def _within(strike: Expected, press: Press) -> bool:
    # To a tenth of a millisecond, so that no rounding of binary fractions decides at the window's edge.
    return round(abs(press.time_s - strike.due_s), 4) <= strike.window_s


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
    offsets_ms = tuple(1000.0 * (press.time_s - strike.due_s) for press in right.values())
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


# --- reasons


def _with_reason(mark: StrikeMark, before: Sequence[int]) -> StrikeMark:
    """The mark with the reason that it has not yet; most have none."""
    reason = mark.reason or reason_of(mark, before)
    return mark if reason == mark.reason else replace(mark, reason=reason)


def reason_of(mark: StrikeMark, before: Sequence[int]) -> str:
    """Why the strike is what it is, "" where the verdict says it all: "smash", more keys than a hand means; "held on", the chord before
    again (before: its notes); "octave", the shell an octave off; "other shell", another legal one; "neighbour along", a neighbouring key
    struck too; "push", early by a share of the beat."""
    strike, came = mark.expected, set(mark.played)
    if len(mark.along) >= SMASH_KEYS:
        return "smash"
    if mark.verdict == "wrong" and mark.wrong:
        if before and came == set(before) and came != set(strike.notes):
            return "held on"
        if all(wrong.kind == "wrong octave" for wrong in mark.wrong) and len(mark.wrong) == len(strike.notes):
            return "octave"
        if any(came == set(shell) for shell in strike.options):
            return "other shell"
    if mark.along and all(min(abs(note - own) for own in strike.notes) <= NEIGHBOUR_SEMITONES for note in mark.along):
        return "neighbour along"
    if (
        mark.verdict == "early"
        and mark.offset_ms is not None
        and -mark.offset_ms >= 1000.0 * PUSH_SHARE * strike.beat_s
    ):
        return "push"
    return ""


# --- chords


def _chord_mark(strikes: tuple[StrikeMark, ...]) -> ChordMark:
    """A chord is right when its first strike is and of the later ones no more than one in four is not: of one to three all must
    be right, of four to seven all but one. The first strike's verdict comes first, for the change is what is practised; a shell
    that came whole only with a later strike came late. No strike whole: wrong where the first or half of them had a wrong note,
    else missing."""
    first, later = strikes[0], strikes[1:]
    whole = next((mark for mark in strikes if mark.verdict in WHOLE), None)
    offset_ms = None
    if whole is None or whole.offset_ms is None:
        wrong = sum(mark.verdict == "wrong" for mark in strikes)
        verdict = "wrong" if first.verdict == "wrong" or 2 * wrong >= len(strikes) else "missing"
    else:
        verdict = "late" if first.verdict == "missing" else first.verdict
        offset_ms = whole.offset_ms + 1000.0 * (whole.expected.due_s - first.expected.due_s)
    slips = Counter(mark.verdict for mark in later if mark.verdict != "right")
    if verdict == "right" and slips.total() > len(later) // 4:
        verdict = max(slips, key=lambda slip: (slips[slip], VERDICTS.index(slip)))
        if verdict in WHOLE:
            offset_ms = max((m.offset_ms or 0.0 for m in later if m.verdict == verdict), key=abs)
    reason = first.reason or next((mark.reason for mark in later if mark.verdict == verdict and mark.reason), "")
    group = first.expected.group
    return ChordMark(group.index, group.chord, verdict, offset_ms, strikes, first.expected.part, reason)


# --- figures


def figures_of(chords: Sequence[ChordMark], extra: int) -> Figures:
    """The numbers of a pass, or of several end to end."""
    strikes = [mark for chord in chords for mark in chord.strikes]
    offsets = _without_usual_roll(strikes)
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


def _without_usual_roll(strikes: Sequence[StrikeMark]) -> list[float]:
    """The offsets of all matched notes, in ms. Where the student's shells are rolled as a rule, each note counts from when the first came:
    a roll is told by its own sentence, and is neither late nor uneven."""
    lags_s = [mark.keys[1].time_s - mark.keys[0].time_s for mark in strikes if _is_whole_shell(mark)]
    lag_ms = 1000.0 * median(lags_s) if lags_s else 0.0
    offsets: list[float] = []
    for mark in strikes:
        if abs(lag_ms) <= ROLLED_MS or not _is_whole_shell(mark):
            offsets += mark.note_offsets_ms
        else:
            lower_ms, upper_ms = (1000.0 * (key.time_s - mark.expected.due_s) for key in mark.keys)
            offsets += [lower_ms + min(0.0, lag_ms), upper_ms - max(0.0, lag_ms)]
    return offsets


def _is_whole_shell(mark: StrikeMark) -> bool:
    return len(mark.keys) == len(mark.expected.notes) == 2
