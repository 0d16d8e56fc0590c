"""Marking what was played against what was due.

Which press is whose, and what the notes of a strike came to, is found by matching.py; here strikes are judged in time, chords by their
strikes, and a pass by its chords.

Units: seconds for moments, milliseconds for offsets, negative = early.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import pairwise
from statistics import median

from companion.groove.model import HAND_PARTS
from companion.practice.marking.hands import HELD_SHARE, in_octave, octave_played
from companion.practice.marking.matching import Matching, clean_presses
from companion.practice.marking.robust import qn
from companion.practice.marking.timing import ROLLED_MS, WHOLE, habit_ms, in_time, own_spread_ms, usual_roll_ms
from companion.practice.model import (
    VERDICTS,
    ChordMark,
    Expected,
    ExtraKey,
    Figures,
    Group,
    PassMarks,
    Press,
    StrikeMark,
)
from companion.practice.reach import HIGHEST_KEY, NEIGHBOUR_SEMITONES, SMASH_KEYS

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
    asked: Sequence[str] | None = None,
) -> PassMarks:
    """Mark one pass that was played to a clock, or the part of it that is over.

    presses: in any order; a velocity of 0 is a note-off and never counts, nor does the same key doubled within 25 ms.
    own_offset_ms: the player's habit, taken off before a strike is called early or late; None takes it from this pass
    (see habit_ms). spread_ms: how far the player's strikes lie about it; None takes it from this pass as well, or 0
    where own_offset_ms is told. from_s: what nothing was due for before then lies before the pass and is left out. until_s: only chords that
    can no longer come by then are marked, and a press that a chord to come may still want is not called extra. ceiling: what is higher is the right hand's and, where that is not asked for, left out, but for a
    due chord that comes whole an octave higher. asked: the hands that are marked, None for all that are expected; a key of the other marks
    neither. A melody that is played in another octave throughout is taken as right there.
    """
    presses = clean_presses(presses)
    octave = octave_played(expected, presses)
    expected = sorted(in_octave(expected, octave), key=lambda strike: strike.due_s)
    matching = Matching(expected, ceiling, asked)
    for press in presses:
        matching.take(press)
    marks = marks_of(matching, own_offset_ms=own_offset_ms, spread_ms=spread_ms, from_s=from_s, until_s=until_s)
    return replace(marks, octave=octave)


def marks_of(
    matching: Matching,
    *,
    own_offset_ms: float | None = None,
    spread_ms: float | None = None,
    from_s: float | None = None,
    until_s: float | None = None,
) -> PassMarks:
    """As mark_pass, of presses that were matched as they came."""
    strikes, extra = matching.look(math.inf if until_s is None else until_s)
    chords = _judged(strikes, own_offset_ms, spread_ms)
    if from_s is not None:
        extra = [key for key in extra if key.time_s > from_s]
    if until_s is not None:
        still_open, open_s = matching.still_open(until_s)
        chords = [chord for chord in chords if (chord.part, chord.strikes[0].expected.group) not in still_open]
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
    """Each hand by its own habits: the left one's strikes on a chord together, each note of the melody by itself. In the order of their
    first strikes."""
    chords: list[ChordMark] = []
    for part in HAND_PARTS:
        hand = [mark for mark in strikes if mark.expected.part == part]
        chords += _judged_hand(hand, own_offset_ms, spread_ms) if hand else []
    return sorted(chords, key=lambda chord: chord.strikes[0].expected.due_s)


def _judged_hand(
    strikes: Sequence[StrikeMark], own_offset_ms: float | None, spread_ms: float | None
) -> list[ChordMark]:
    if spread_ms is None:
        spread_ms = own_spread_ms(strikes) if own_offset_ms is None else 0.0
    if own_offset_ms is None:
        own_offset_ms = habit_ms(strikes)
    roll_ms = usual_roll_ms(strikes, own_offset_ms)
    groups: dict[tuple[Group, int], list[StrikeMark]] = defaultdict(list)
    for mark in strikes:
        strike = mark.expected
        groups[strike.group, strike.number if strike.part == "right" else 0].append(mark)
    before: tuple[int, ...] = ()
    chords = []
    for group in groups.values():
        timed = map(_held, in_time(group, own_offset_ms, spread_ms, roll_ms))
        chords.append(_chord_mark(tuple(_with_reason(mark, before) for mark in timed)))
        before = group[0].expected.notes
    return chords


def _held(mark: StrikeMark) -> StrikeMark:
    """A note of the melody that was right but for being let go before half of its length is short. (How long shells ring is a habit, see
    habits.py.)"""
    if mark.verdict != "right" or mark.expected.part != "right" or not mark.keys or mark.expected.free:
        return mark
    held_s = max(
        mark.keys, key=lambda key: key.note
    ).held_s  # what lies under the melody may end with its chord, before it
    return (
        replace(mark, verdict="short") if held_s is not None and held_s < HELD_SHARE * mark.expected.length_s else mark
    )


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
    if mark.verdict == "wrong" and mark.wrong and strike.part == "left":
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
    if whole is None:
        wrong = sum(mark.verdict == "wrong" for mark in strikes)
        verdict = "wrong" if first.verdict == "wrong" or 2 * wrong >= len(strikes) else "missing"
    else:
        verdict = "late" if first.verdict == "missing" and not first.expected.free else first.verdict
        if whole.offset_ms is not None:
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
    stretch: list[float] = []
    for part in HAND_PARTS:  # from strike to strike of one hand
        hand = [mark for mark in strikes if mark.expected.part == part]
        heard_ms = [mark.offset_ms for mark in hand if mark.offset_ms is not None]
        stretch += [after_ms - before_ms for before_ms, after_ms in pairwise(heard_ms)]
    verdicts = Counter(chord.verdict for chord in chords)
    return Figures(
        chords=len(chords),
        right=verdicts["right"],
        missing=verdicts["missing"],
        extra=extra,
        offset_ms=median(offsets) if offsets else None,
        spread_ms=qn(offsets) if offsets else None,
        evenness_ms=qn(stretch) if len(stretch) > 1 else None,
    )


def _without_usual_roll(strikes: Sequence[StrikeMark]) -> list[float]:
    """The offsets of all matched notes, in ms. Where the student's shells are rolled as a rule, each note counts from when the first came:
    a roll is told by its own sentence, and is neither late nor uneven."""
    lags_s = [mark.keys[1].time_s - mark.keys[0].time_s for mark in strikes if _is_whole_shell(mark)]
    lag_ms = 1000.0 * median(lags_s) if lags_s else 0.0
    offsets: list[float] = []
    for mark in strikes:
        if mark.expected.free:
            continue
        if abs(lag_ms) <= ROLLED_MS or not _is_whole_shell(mark):
            offsets += mark.note_offsets_ms
        else:
            lower_ms, upper_ms = (1000.0 * (key.time_s - mark.expected.due_s) for key in mark.keys)
            offsets += [lower_ms + min(0.0, lag_ms), upper_ms - max(0.0, lag_ms)]
    return offsets


def _is_whole_shell(mark: StrikeMark) -> bool:
    return len(mark.keys) == len(mark.expected.notes) == 2
