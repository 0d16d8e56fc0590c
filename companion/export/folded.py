"""Repeats as signs: what comes twice is printed once, with first and second endings where only the end differs (common practice).

Bars keep their numbers in the chorus, as the app names them; those of a second ending are the ones of the second time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from companion.arranging.endings import ENDING_NAME
from companion.export.notation import Span
from companion.export.score import Fingered, Score, ScoreBar, Sung
from companion.export.written_out import Struck

_LEAST_SAVED = 2  # bars; a sign for less is more to read than the bars


@dataclass(frozen=True, slots=True)
class _Fold:
    """start: of the first time; common: bars that all times begin with; times: (first bar, bar after the last) of each."""

    start: int
    common: int
    times: tuple[tuple[int, int], ...]

    @property
    def saved(self) -> int:
        """How many bars need not be printed."""
        return self.common * (len(self.times) - 1)


def folded(score: Score) -> Score:
    """The score with repeats as signs; one without repeats stays as it is."""
    bars = score.bars
    starts = [number for number, bar in enumerate(bars) if bar.section]
    printed: list[ScoreBar] = []
    at = 0
    while at < len(bars):
        seconds = [second for second in starts if second > at] if bars[at].section else []
        if bars[at].section == ENDING_NAME:  # a tag is a phrase that comes again, without a name of its own
            seconds = list(range(at + _LEAST_SAVED, len(bars)))
        folds = [fold for second in seconds if (fold := _fold(bars, starts, at, second))]
        best = max(folds, key=lambda fold: (fold.saved, -fold.times[0][1]), default=None)
        if best is None:
            printed.append(bars[at])
            at += 1
        else:
            printed += _with_signs(bars, best)
            at = best.times[-1][1]
    return replace(score, bars=tuple(printed))


def _fold(bars: Sequence[ScoreBar], starts: Sequence[int], at: int, second: int) -> _Fold | None:
    """What begins at one section and comes again at another, next to it; None where that is not worth a sign."""
    length = second - at
    same_frame = {(bar.meter, bar.length) for bar in bars[at : second + length]}
    common = _alike(bars, at, second, length)
    ends = [end for end in (*starts, len(bars)) if second + common < end <= second + length]
    if not ends and second not in starts and second + length <= len(bars):
        ends = [second + length]
    times = [(at, second)]
    if common == length:
        while _alike(bars, at, times[-1][1], length) == length:
            times.append((times[-1][1], times[-1][1] + length))
    elif ends:
        times.append((second, ends[0]))
    fold = _Fold(at, common, tuple(times))
    longest_end = max(end - start - common for start, end in times)
    if len(times) < 2 or fold.saved < _LEAST_SAVED or common < longest_end or len(same_frame) > 1:
        return None
    return fold


def _alike(bars: Sequence[ScoreBar], one: int, other: int, most: int) -> int:
    """How many bars from two places on are the same."""
    count = 0
    while count < most and other + count < len(bars):
        first, second = _content(bars[one + count]), _content(bars[other + count])
        if first != second and (second.section or replace(first, section="") != second):
            break
        count += 1
    return count


def _content(bar: ScoreBar) -> ScoreBar:
    """What must be the same the second time. Where only fingers differ, by where the hand comes from, those of the first time are printed; where it slows down then, that is said."""
    more = tuple(replace(voice, spans=_bare(voice.spans)) for voice in bar.more)
    found = replace(bar, number=0, ends_section=False, words="", tempo_bpm=None)
    return replace(found, left=_bare(bar.left), melody=_bare(bar.melody), more=more)


def _bare(spans: tuple[Span, ...]) -> tuple[Span, ...]:
    return tuple(replace(span, what=_without_fingers(span.what)) for span in spans)


def _without_fingers(what: object) -> object:
    if isinstance(what, Fingered):
        return replace(what, fingers="")
    if isinstance(what, Sung):
        return replace(what, finger=None)
    if not isinstance(what, Struck):
        return what
    graces = tuple(replace(grace, fingers=()) for grace in what.graces)
    second = None if what.second is None else replace(what.second, fingers=())
    return replace(what, fingers=(), graces=graces, second=second)


def _with_signs(bars: Sequence[ScoreBar], fold: _Fold) -> list[ScoreBar]:
    start, first_end = fold.times[0]
    has_endings = first_end - start > fold.common
    printed = list(bars[start : start + fold.common])
    for number, bar in enumerate(printed):
        later = bars[fold.times[-1][0] + number].words
        if later != bar.words:
            printed[number] = replace(bar, words=f"{later} {'2nd' if len(fold.times) == 2 else 'last'} time")
    if has_endings:  # the bracket says where each begins: no name, and no line but a bar line
        printed[-1] = replace(printed[-1], ends_section=False)
    for number, (begins, ends) in enumerate(fold.times if has_endings else (), 1):
        printed += [replace(bar, ending=number, section="") for bar in bars[begins + fold.common : ends]]
    closing = first_end - start - 1
    printed[0] = replace(printed[0], opens_repeat=True)
    printed[closing] = replace(printed[closing], closes_repeat=len(fold.times))
    return printed
