"""Marks without what was not surely heard: it counts for nothing, neither for nor against the player."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Sequence
from dataclasses import replace

from companion.practice.marking.marks import figures_of
from companion.practice.marking.playthrough import Pass
from companion.practice.model import ChordMark, StrikeMark

NOT_SURE = "not sure"


def without_unsure(
    passes: Sequence[Pass], unsure_s: Sequence[float]
) -> tuple[tuple[Pass, ...], tuple[tuple[int, ChordMark], ...]]:
    """The passes without what was not sure, and (pass from 0, chord) of the chords of which nothing is left. unsure_s: when such strikes came.
    A chord is judged by its first strike, so it goes with that one; a later strike goes alone."""
    if not unsure_s:
        return tuple(passes), ()
    times = sorted(unsure_s)
    kept: list[Pass] = []
    gone: list[tuple[int, ChordMark]] = []
    for number, each in enumerate(passes):
        chords = []
        for chord in each.marks.chords:
            sure = tuple(strike for strike in chord.strikes if not _is_unsure(strike, times))
            if not sure or sure[0] is not chord.strikes[0]:
                gone.append((number, replace(chord, verdict=NOT_SURE, offset_ms=None, reason="")))
            else:
                chords.append(replace(chord, strikes=sure))
        marks = replace(each.marks, chords=tuple(chords), figures=figures_of(chords, len(each.marks.extra)))
        kept.append(replace(each, marks=marks))
    return tuple(kept), tuple(gone)


def melody_where_sure(
    passes: Sequence[Pass], sure: Collection[tuple[float, int]]
) -> tuple[tuple[Pass, ...], tuple[tuple[int, ChordMark], ...]]:
    """The same of the right hand: its notes are listened for one by one, so that none is called missing, and another in its place, or a key too many, only where
    that is sure. sure: second and note of such keys."""
    kept: list[Pass] = []
    gone: list[tuple[int, ChordMark]] = []
    for number, each in enumerate(passes):
        chords = []
        for chord in each.marks.chords:
            if chord.part == "right" and not chord.is_right and not _stands(chord, sure):
                gone.append((number, replace(chord, verdict=NOT_SURE, offset_ms=None, reason="")))
            else:
                chords.append(chord)
        extra = tuple(key for key in each.marks.extra if (key.time_s, key.note) in sure)
        marks = replace(each.marks, chords=tuple(chords), extra=extra, figures=figures_of(chords, len(extra)))
        kept.append(replace(each, marks=marks))
    return tuple(kept), tuple(gone)


def _stands(chord: ChordMark, sure: Collection[tuple[float, int]]) -> bool:
    if chord.verdict == "missing":
        return False
    wrong = [(strike.expected, other.note) for strike in chord.strikes for other in strike.wrong]
    return all(
        any(note == other and abs(time_s - due.due_s) <= due.window_s for time_s, note in sure) for due, other in wrong
    )


def _is_unsure(strike: StrikeMark, times: Sequence[float]) -> bool:
    due = strike.expected
    if due.part != "left":
        return False
    place = bisect_left(times, due.due_s)
    return any(abs(time_s - due.due_s) <= due.window_s for time_s in times[max(0, place - 1) : place + 1])
