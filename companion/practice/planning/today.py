"""A plan for the minutes the student has today, and the ticks it gets from what was played.

What it is made of, in the order in which it is played:

    recall  a section that is due, from memory, before the page is looked at
    change  two bars around a change of chord that keeps slipping
    step    the next step of the song's lesson
    climb   up to tempo, where the tempo is still below the target
    rest    after 25 minutes of playing
    last    something that goes well

That recalling keeps better over days than reading again: Roediger and Karpicke 2006 (Psychological Science 17:249-255).
That several short tasks in turn may keep better than long blocks: Carter and Grahn 2016 (Frontiers in Psychology
7:1251; ten clarinetists, so no more than a hint). The shares of the minutes are our own choice. A plan is made once a
day and then only ticked off: what was recalled this morning is no longer due, and yet it stays on the list.

Pure: passes, memories and the date are arguments.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import islice
from typing import Any

from companion.chart.lesson import Step
from companion.chart.loops import loop_name
from companion.chart.model import Song
from companion.practice.drills.rest import REST_AFTER_MIN, REST_MIN
from companion.practice.marking.summary import logged_chords, weakest_changes
from companion.practice.model import PassRecord
from companion.practice.planning.lessons import StepState, lesson_states, step_words
from companion.practice.planning.plan import KINDS, Plan, PlanItem
from companion.practice.planning.progress import (
    RECENT_PASSES,
    SectionMemory,
    latest_tempo,
    section_strengths,
    tells,
    weak_bars,
)
from companion.practice.planning.totals import Tally, best_of

MINUTES = (10, 20, 40)  # what the screen offers; any other number will do
LEAST_MINUTES, MOST_MINUTES = 5, 120
WHOLE_FORM = "whole form"
# kind -> weight of its minutes. The order is that of importance where there is not time for all.
_WEIGHTS = {"recall": 2.0, "step": 3.0, "change": 2.0, "climb": 2.0, "last": 1.5}
_SHORTEST_MIN, _LONGEST_MIN = 2, 10  # of one thing
_MINUTES_A_THING, _FEWEST_THINGS = 4, 3
_MOST_STEPS, _MOST_CHANGES = 3, 2  # of one song on one day
_WORTH_MENDING = 0.15  # of its tries a change or a bar slips
ACTIVE_DAYS = 14
_MOST_SONGS = 3
_EASY, _SLOW = 0.85, 0.6  # shares of the tempo reached: to end with, and to mend a change at


@dataclass(frozen=True, slots=True)
class SongView:
    """What the plan knows of a song. passes: the newer ones in the order of time. working_bpm: where its last climb
    settled. ticked: keys of lesson steps ticked by hand."""

    song: Song
    passes: tuple[PassRecord, ...] = ()
    tallies: tuple[Tally, ...] = ()
    memories: tuple[SectionMemory, ...] = ()
    working_bpm: float | None = None
    ticked: frozenset[str] = frozenset()


def plan_today(minutes: int, views: Sequence[SongView], now: datetime) -> Plan:
    """The plan of a day that nothing was played on yet. now: aware, in the student's own zone. views: every song there
    is; with nothing in the log the easiest one with a lesson is begun. Without a song the plan is empty."""
    minutes = min(max(minutes, LEAST_MINUTES), MOST_MINUTES)
    if not views:
        return Plan(now.date().isoformat(), now.isoformat(), minutes, ())
    active = active_songs(views, now)
    streams = {
        "recall": _recalls(views, now),
        "change": _in_turn([islice(_changes(view), _MOST_CHANGES) for view in active]),
        "step": _in_turn([islice(_steps(view), _MOST_STEPS) for view in active]),
        "climb": _in_turn([_climbs(view) for view in active]),
    }
    others = [view for view in views if not view.passes and view.song.id not in {each.song.id for each in active}]
    chosen = _choose(streams, _new(others), minutes)
    items = [*sorted(chosen, key=lambda item: KINDS.index(item.kind)), _ending(active)]
    return Plan(now.date().isoformat(), now.isoformat(), minutes, _with_minutes(items, minutes))


def active_songs(views: Sequence[SongView], now: datetime) -> list[SongView]:
    """The songs being practised, the latest first; else the one to begin with."""
    since = now - timedelta(days=ACTIVE_DAYS)
    last = {view.song.id: datetime.fromisoformat(view.passes[-1].started_at) for view in views if view.passes}
    fresh = [view for view in views if view.song.id in last and last[view.song.id] >= since]
    if not fresh:
        fresh = [view for view in views if view.song.id in last] or [first_song(views)]
    return sorted(fresh, key=lambda view: last.get(view.song.id, now), reverse=True)[:_MOST_SONGS]


def first_song(views: Sequence[SongView]) -> SongView:
    """The easiest: with a lesson, few different chords, short, slow."""

    def ease(view: SongView) -> tuple:
        bars = view.song.unroll()
        symbols = {placed.chord.symbol for bar in bars for placed in bar.chords if placed.chord}
        return view.song.lesson is None, len(symbols), len(bars), view.song.tempo_bpm, view.song.id

    return min(views, key=ease)


# --- what could be done, most wanted first


def _recalls(views: Sequence[SongView], now: datetime) -> Iterator[PlanItem]:
    """Sections due today, the likeliest to be lost first."""
    midnight = datetime.combine(now.date() + timedelta(days=1), datetime.min.time(), now.tzinfo)
    due = [
        (memory.chance, view, memory)
        for view in views
        for memory in view.memories
        if memory.chance is not None and memory.due_at < midnight and memory.section in view.song.sections
    ]
    for _, view, memory in sorted(due, key=lambda row: (row[0], row[1].song.id, row[2].section)):
        late = (now.date() - memory.due_at.astimezone(now.tzinfo).date()).days
        since = "due today" if late <= 0 else "due since yesterday" if late == 1 else f"due for {late} days"
        words = f"Section {memory.section} from memory: {since}."
        yield _item("recall", view, memory.section, words, drill="dark", tempo_bpm=_reached(view), passes=1)


def _changes(view: SongView) -> Iterator[PlanItem]:
    """The bars around the costliest changes; without a keyboard, around the bars that slipped."""
    told = [record for record in view.passes if tells(record)][-RECENT_PASSES:]
    bars = view.song.unroll()
    tempo_bpm = max(20.0, _SLOW * _reached(view))
    used: set[tuple[int, ...]] = set()
    for cost in weakest_changes(logged_chords(record.chords) for record in told):
        loop = _loop_of_change(told, cost.before, cost.after, len(bars))
        if loop and loop not in used and _is_worth_mending(cost.slips, cost.tries):
            used.add(loop)
            yield _item("change", view, loop, f"{cost.words}. Slowly, until it is a single move.", tempo_bpm=tempo_bpm)
    for bar in weak_bars(bars, told):
        loop = tuple(sorted({max(0, bar.index - 1), bar.index}))
        if _is_worth_mending(bar.slips, bar.tries) and not any(set(loop) & set(other) for other in used):
            used.add(loop)
            yield _item(
                "change", view, loop, f"{bar.words}. Take it with the bar before it, slowly.", tempo_bpm=tempo_bpm
            )


def _is_worth_mending(slips: int, tries: int) -> bool:
    return slips > 1 and slips >= _WORTH_MENDING * tries


def _loop_of_change(passes: Iterable[PassRecord], before: str, after: str, bars: int) -> tuple[int, ...]:
    """The bars where the change slipped last."""
    loop: tuple[int, ...] = ()
    for record in passes:
        for first, second in zip(record.chords, record.chords[1:]):
            names = (first["symbol"], second["symbol"])
            if names == (before, after) and second["verdict"] != "right" and first["index"] <= second["index"] < bars:
                loop = tuple(range(first["index"], second["index"] + 1))
    return loop


def _steps(view: SongView) -> Iterator[PlanItem]:
    states = lesson_states(view.song, view.tallies, view.ticked)
    for state in states:
        if not state.done:
            yield _step_item(view, state, len(states))


def _step_item(view: SongView, state: StepState, count: int) -> PlanItem:
    step = state.step
    words = f"Step {state.number} of {count}: {step_words(step, view.song)}. {step.note}".strip()
    return _item(
        "step",
        view,
        step.section,
        words,
        drill=_drill_of(step),
        pattern=step.pattern,
        hands=step.hands,
        tempo_bpm=step.tempo_bpm or 0.0,
        passes=step.passes - state.clean,
    )


def _drill_of(step: Step) -> str:
    if step.tempo_bpm is None:
        return "free"
    return "play" if step.cues else "fade"


def _climbs(view: SongView) -> Iterator[PlanItem]:
    """The whole form towards its tempo, once it was played in time at all."""
    tempo_bpm = view.working_bpm or _best(view)
    if tempo_bpm and tempo_bpm < view.song.tempo_bpm - 0.5:
        words = f"Up to tempo: {tempo_bpm:.0f} now, {view.song.tempo_bpm:g} is the target."
        yield _item("climb", view, "", words, drill="climb", tempo_bpm=tempo_bpm)


def _new(waiting: Sequence[SongView]) -> Iterator[PlanItem]:
    """The first steps of a song that was not played yet, for a day with time to spare."""
    return islice(_steps(first_song(waiting)), _MOST_STEPS) if waiting else iter(())


def _ending(active: Sequence[SongView]) -> PlanItem:
    """Something that goes well: the surest section, a little below the tempo it was played at."""
    sure = [
        (section.strength, view, section.section)
        for view in active
        for section in section_strengths(view.song, [record for record in view.passes if tells(record)], view.memories)
        if section.strength is not None
    ]
    if not sure:
        view = active[0]
        section = view.song.form[0]
        words = f"To end with: section {section}, slowly and as softly as you can. Listen to the upper note."
        return _item("last", view, section, words, pattern="whole", tempo_bpm=max(20.0, _SLOW * view.song.tempo_bpm))
    strength, view, section = max(sure, key=lambda row: row[0])
    words = f"To end with: section {section}, which goes well ({100 * strength:.0f} %). Enjoy it."
    return _item("last", view, section, words, tempo_bpm=max(20.0, _EASY * _reached(view)))


def _best(view: SongView) -> float | None:
    return max(filter(None, map(best_of, view.passes)), default=None)


def _reached(view: SongView) -> float:
    """A tempo at which the song went, as far as is known."""
    return view.working_bpm or _best(view) or latest_tempo(view.passes) or _SLOW * view.song.tempo_bpm


def _item(
    kind: str, view: SongView, where: str | tuple[int, ...], words: str, tempo_bpm: float, **fields: Any
) -> PlanItem:
    """where: a section, "" for the whole form, or bars by index."""
    bars = view.song.unroll()
    if isinstance(where, tuple):
        name, loop = loop_name(where), where
    else:
        name = where or WHOLE_FORM
        loop = tuple(bar.index for bar in bars if not where or (bar.section == where and bar.occurrence == 1))
    return PlanItem(
        kind, 0, words, view.song.id, view.song.title, name, loop, tempo_bpm=float(round(tempo_bpm)), **fields
    )


# --- which of it, and for how long


def _in_turn(streams: Sequence[Iterator[PlanItem]]) -> Iterator[PlanItem]:
    """The first of every song, then the second of every song."""
    waiting = list(streams)
    while waiting:
        for stream in tuple(waiting):
            item = next(stream, None)
            if item is None:
                waiting.remove(stream)
            else:
                yield item


def _choose(streams: dict[str, Iterator[PlanItem]], spare: Iterator[PlanItem], minutes: int) -> list[PlanItem]:
    """One of each kind by importance, then seconds of each, until there are enough. Spare ones only where the others
    would grow too long. One place is left for the ending."""
    enough = min(max(_FEWEST_THINGS, minutes // _MINUTES_A_THING), minutes // _SHORTEST_MIN) - 1
    least = min(-(-minutes // _LONGEST_MIN) - 1, enough)
    chosen = list(islice(_in_turn([streams[kind] for kind in _WEIGHTS if kind in streams]), enough))
    return chosen + list(islice(spare, max(0, least - len(chosen))))


def _with_minutes(items: list[PlanItem], minutes: int) -> tuple[PlanItem, ...]:
    """The minutes shared out by weight; a rest where the playing grows long, at the latest before the ending."""
    rest = round(REST_MIN) if minutes > REST_AFTER_MIN else 0
    shares = share_out(minutes - rest, [_WEIGHTS[item.kind] for item in items])
    planned: list[PlanItem] = []
    played = 0
    for item, share in zip(items, shares):
        if rest and planned and (played + share > REST_AFTER_MIN or item is items[-1]):
            planned.append(PlanItem("rest", rest, "Stand up, shake out the arms, look out of the window."))
            rest = 0
        planned.append(replace(item, minutes=share))
        played += share
    return tuple(planned)


def share_out(minutes: int, weights: Sequence[float]) -> list[int]:
    """Whole minutes in proportion to the weights, at least two each, adding up exactly (largest remainders)."""
    spare = minutes - _SHORTEST_MIN * len(weights)
    exact = [spare * weight / sum(weights) for weight in weights]
    shares = [int(part) for part in exact]
    for at in sorted(range(len(exact)), key=lambda at: shares[at] - exact[at])[: spare - sum(shares)]:
        shares[at] += 1
    return [_SHORTEST_MIN + share for share in shares]
