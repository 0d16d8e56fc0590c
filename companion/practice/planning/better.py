"""What got better on a day, in one sentence: what is new counts before what is more. Pure: passes, sums and the day are arguments.

Only what was played and heard or told is looked at, and nothing is praised that was not better than on every day before."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from companion.base.text import plural
from companion.chart.model import Song
from companion.practice.model import PassRecord
from companion.practice.planning.bars import AT_TEMPO
from companion.practice.planning.lessons import HAND_WORDS
from companion.practice.planning.totals import BY_HEART, DayTotal, by_heart

_NEWS_BPM, _NEWS_SHARE, _FEWEST_PASSES = 2.0, 0.1, 3  # smaller changes are no news (our own choice)


@dataclass(frozen=True, slots=True)
class Practised:
    """A song and a pair of hands. days: every day they played it, oldest first; before, today: passes, the newer ones."""

    song: Song
    hands: str
    days: Sequence[DayTotal]
    before: Sequence[PassRecord]
    today: Sequence[PassRecord]


def what_got_better(practised: Iterable[Practised], day: str) -> str:
    """The best news of all songs; what was played where none is; "" where nothing was played. day: "2026-11-25"."""
    all_of_it = [each for each in practised if any(total.day == day for total in each.days)]
    for news in (_at_target, _from_memory, _faster, _cleaner):
        if found := [words for each in all_of_it if (words := news(each, day))]:
            return found[0]
    totals = [total for each in all_of_it for total in each.days if total.day == day]
    if not totals:
        return ""
    minutes = max(1, round(sum(total.seconds for total in totals) / 60.0))
    passes, clean = sum(total.passes for total in totals), sum(total.clean for total in totals)
    return f"{plural(minutes, 'minute')} played, {plural(passes, 'pass', 'passes')}, {clean} of them clean."


def _whose(each: Practised) -> str:
    return each.song.title if each.hands == "left" else f"{each.song.title}, {HAND_WORDS[each.hands]}"


def _bests(each: Practised, day: str) -> tuple[float | None, float | None]:
    """The fastest clean pass before and today."""
    before = max((t.best_bpm for t in each.days if t.day < day and t.best_bpm is not None), default=None)
    return before, next((total.best_bpm for total in each.days if total.day == day), None)


def _at_target(each: Practised, day: str) -> str:
    before, today = _bests(each, day)
    target = each.song.tempo_bpm - AT_TEMPO
    if today is None or today < target or (before is not None and before >= target):
        return ""
    return f"{_whose(each)}: clean at its tempo, {each.song.tempo_bpm:g}, for the first time."


def _from_memory(each: Practised, day: str) -> str:
    had = {name for record in each.before if _is_from_memory(record) for name in record.sections}
    new = dict.fromkeys(
        name for record in each.today if _is_from_memory(record) for name in record.sections if name not in had
    )
    return f"{_whose(each)}: {' and '.join(new)} from memory, for the first time." if new else ""


def _is_from_memory(record: PassRecord) -> bool:
    return record.clean and by_heart(record) == BY_HEART


def _faster(each: Practised, day: str) -> str:
    before, today = _bests(each, day)
    if before is None or today is None or today - before < _NEWS_BPM:
        return ""
    return f"{_whose(each)}: clean at {today:.0f}, {today - before:.0f} faster than ever before."


def _cleaner(each: Practised, day: str) -> str:
    today = next(total for total in each.days if total.day == day)
    last = next((total for total in reversed(each.days) if total.day < day), None)
    if last is None or min(today.passes, last.passes) < _FEWEST_PASSES:
        return ""
    if today.clean / today.passes - last.clean / last.passes < _NEWS_SHARE:
        return ""
    return f"{_whose(each)}: {today.clean} of {today.passes} passes clean; the last time it was {last.clean} of {last.passes}."
