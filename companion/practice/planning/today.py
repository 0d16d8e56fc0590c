"""A plan for the minutes the student has today, and the ticks it gets from what was played.

What it is made of, in the order in which it is played:

    recall  a section that is due, from memory, before the page is looked at
    change  two bars around a change of chord that keeps slipping
    step    the next step of the song's lesson; before the first one its chords in root position, where they are new
    climb   up to tempo, where the tempo is still below the target
    rest    after 25 minutes of playing
    last    something that goes well

What is known is known of a pair of hands, so each item is theirs. An item's tempo is never above the target, and below the one that its
bars failed at last; what the student said counts less than what was heard.

That recalling keeps better over days than reading again: Roediger and Karpicke 2006 (Psychological Science 17:249-255).
That several short tasks in turn may keep better than long blocks: Carter and Grahn 2016 (Frontiers in Psychology
7:1251; ten clarinetists, so no more than a hint). The shares of the minutes are our own choice. A plan is made once a
day and then only ticked off: what was recalled this morning is no longer due, and yet it stays on the list.

Pure: passes, memories and the date are arguments.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, tzinfo
from itertools import islice
from typing import Any

from companion.chart.lesson import SYMBOLS, Step
from companion.chart.loops import WHOLE_FORM, loop_name
from companion.hands.hand import Hand
from companion.practice.drills.rest import REST_AFTER_MIN, REST_MIN
from companion.practice.marking.summary import logged_chords, weakest_changes
from companion.practice.model import PassRecord
from companion.practice.planning.difficulty import bits_a_minute, changes_a_minute, different_shells
from companion.practice.planning.layers import PERFORMANCE
from companion.practice.planning.lessons import (
    StepState,
    lesson_states,
    step_bars,
    step_loop,
    step_words,
)
from companion.practice.planning.plan import CHORDS, ITEM_KINDS, SHORTEST_MIN, Plan, PlanItem, share_out
from companion.practice.planning.progress import (
    RECENT_PASSES,
    section_strengths,
    tells,
    weak_bars,
)
from companion.practice.planning.song_view import SLOW, SLOWEST_BPM, SongView
from companion.practice.planning.totals import local_day, midnight
from companion.practice.planning.whole_chords import before_their_steps, chords_item

LEAST_MINUTES, MOST_MINUTES = 5, 120
DEFAULT_HAND = Hand()
# kind -> weight of its minutes. The order is that of importance where there is not time for all.
_WEIGHTS = {"recall": 2.0, "step": 3.0, "change": 2.0, CHORDS: 2.0, "climb": 2.0, "last": 1.5}
_LONGEST_MIN = 10  # of one thing
_MINUTES_A_THING, _FEWEST_THINGS = 4, 3
_MOST_STEPS, _MOST_CHANGES = 3, 2  # of one song on one day
_WORTH_MENDING = 0.15  # of its tries a change or a bar slips
ACTIVE_DAYS = 14
_MOST_SONGS = 3
_EASY = 0.85  # a share of the tempo reached, to end with
_GOES_WELL = 0.75  # the strength of a section that may be enjoyed: STRENGTH_WORDS calls it coming


def plan_today(
    minutes: int,
    views: Sequence[SongView],
    now: datetime,
    zone: tzinfo | None = UTC,
    done: Sequence[PlanItem] = (),
    hand: Hand = DEFAULT_HAND,
    known_chords: Collection[str] | None = None,
) -> Plan:
    """The plan of a day. now: aware. zone: the student's, None for that of the computer. views: every song there is; with nothing
    in the log the easiest one with a lesson is begun. Without a song the plan is empty. done: items of this day that are done: they
    stay, first, and the minutes that they leave are planned, if they are LEAST_MINUTES. hand: the student's, by which a new song is easy.
    known_chords: found in root position, as in whole_chords.chord_ids; None where nobody knows, and none are offered."""
    minutes = min(max(minutes, LEAST_MINUTES), MOST_MINUTES)
    day = local_day(now, zone)
    left = minutes - sum(item.minutes for item in done)
    if not views or (done and left < LEAST_MINUTES):
        return Plan(day.isoformat(), now.isoformat(), minutes, tuple(done))
    active = active_songs(views, now, hand)
    lessons = {view.song.id: view for view in reversed(active)}  # one of each song
    streams = {
        "recall": _recalls(views, day, zone),
        "change": _in_turn([islice(_changes(view), _MOST_CHANGES) for view in active]),
        "step": _in_turn([islice(_steps(view), _MOST_STEPS) for view in reversed(lessons.values())]),
        CHORDS: iter(_chords(list(lessons.values()), known_chords)),
        "climb": _in_turn([_climbs(view) for view in active]),
    }
    was = {_place(item) for item in done}
    streams = {kind: (item for item in items if _place(item) not in was) for kind, items in streams.items()}
    begun = {view.song.id for view in views if view.passes} | {view.song.id for view in active}
    new = _new([view for view in views if view.song.id not in begun], hand, known_chords)
    chosen = sorted(_choose(streams, new, left), key=lambda item: ITEM_KINDS.index(item.kind))
    items = [*before_their_steps(chosen), _ending(active)]
    return Plan(day.isoformat(), now.isoformat(), minutes, (*done, *_with_minutes(items, left)))


def _place(item: PlanItem) -> tuple[str, str, tuple[int, ...], str, str, str]:
    """What tells one item from another: a step of a lesson by its words too, but for how many passes are left."""
    words = item.words.partition(":")[0] if item.kind == "step" else ""
    return item.kind, item.song_id, item.loop, item.hands, item.key, words


def active_songs(views: Sequence[SongView], now: datetime, hand: Hand = DEFAULT_HAND) -> list[SongView]:
    """The views of the songs being practised, the song played last first; else of the one to begin with."""
    since = now - timedelta(days=ACTIVE_DAYS)
    last: dict[str, datetime] = {}
    for view in views:
        if view.passes:
            played_at = datetime.fromisoformat(view.passes[-1].started_at)
            last[view.song.id] = max(played_at, last.get(view.song.id, played_at))
    fresh = [song_id for song_id, played_at in last.items() if played_at >= since] or list(last)
    ids = sorted(fresh, key=last.__getitem__, reverse=True)[:_MOST_SONGS] or [first_song(views, hand).song.id]
    return [view for song_id in ids for view in views if view.song.id == song_id]


def first_song(views: Sequence[SongView], hand: Hand = DEFAULT_HAND) -> SongView:
    """The easiest with a lesson, as the list of songs has it."""

    def ease(view: SongView) -> tuple[bool, float, str]:
        song = view.song
        bits = bits_a_minute(float(changes_a_minute(song)), different_shells(song, hand))
        return not (song.lesson and song.lesson.steps), bits, song.id

    return min(views, key=ease)


# --- what could be done, most wanted first


def _recalls(views: Sequence[SongView], day: date, zone: tzinfo | None) -> Iterator[PlanItem]:
    """Sections due on the day, the likeliest to be lost first. What is remembered without the page is not asked from its symbols."""
    end = midnight(day + timedelta(days=1), zone)
    due = [
        (memory.chance, view, memory)
        for view in views
        for memory in view.memories
        if memory.chance is not None
        and memory.due_at < end
        and memory.section in view.song.sections
        and not (memory.from_symbols and (memory.section, memory.key) in _by_heart(view))
    ]
    for _, view, memory in sorted(
        due, key=lambda row: (row[0], row[1].song.id, row[2].section, row[1].hands, row[2].key)
    ):
        late = (day - local_day(memory.due_at, zone)).days
        since = "due today" if late <= 0 else "due since yesterday" if late == 1 else f"due for {late} days"
        key = memory.key or view.song.key.name
        how, drill = ("from symbols", "symbols-only") if memory.from_symbols else ("from memory", "dark")
        words = f"Section {memory.section}{f' in {key}' if memory.key else ''} {how}: {since}."
        yield _item("recall", view, memory.section, words, share=1.0, drill=drill, passes=1, key=key)


def _by_heart(view: SongView) -> set[tuple[str, str]]:
    """Section and key of what was recalled without the page."""
    known = (memory for memory in view.memories if not memory.from_symbols and memory.chance is not None)
    return {(memory.section, memory.key) for memory in known}


def _changes(view: SongView) -> Iterator[PlanItem]:
    """The bars around the costliest changes; without a keyboard, around the bars that slipped."""
    told = [record for record in view.passes if tells(record)][-RECENT_PASSES:]
    bars = view.song.unroll()
    used: set[tuple[int, ...]] = set()
    for cost in weakest_changes(logged_chords(record.chords) for record in told):
        loop = _loop_of_change(told, cost.before, cost.after, len(bars))
        if loop and loop not in used and _is_worth_mending(cost.slips, cost.tries):
            used.add(loop)
            yield _item("change", view, loop, f"{cost.words}. Slowly, until it is a single move.", share=SLOW)
    for bar in weak_bars(bars, told):
        loop = tuple(sorted({max(0, bar.index - 1), bar.index}))
        if _is_worth_mending(bar.slips, bar.tries) and not any(set(loop) & set(other) for other in used):
            used.add(loop)
            yield _item("change", view, loop, f"{bar.words}. Take it with the bar before it, slowly.", share=SLOW)


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
    """Of the layers only the next one, behind the first of the other steps."""
    states = lesson_states(view.song, view.tallies, view.heard, view.swung, view.layers)
    due = [state for state in states if not state.done and not state.step.layer]
    layers = [state for state in states if not state.done and state.step.layer]
    for state in (*due[:1], *layers[:1], *due[1:]):
        yield _step_item(view, state, len(states))


def _step_item(view: SongView, state: StepState, count: int) -> PlanItem:
    step = state.step
    words = f"Step {state.number} of {count}: {step_words(step, view.song)}. {step.note}".strip()
    return _item(
        "step",
        view,
        step_loop(step, view.song) if step.swing else step.section,
        words,
        drill=_drill_of(step),
        pattern=step.pattern,
        hands=step.hands,
        tempo_bpm=step.tempo_bpm or 0.0,
        passes=0 if step.layer == PERFORMANCE else step.passes - state.clean,
        layer=step.layer,
        listens_first=bool(step.layer) and step.layer not in (*view.layers.met, PERFORMANCE),
    )


def _drill_of(step: Step) -> str:
    if step.listen or step.swing:
        return "listen" if step.listen else "swing"
    if step.tempo_bpm is None:
        return "free"
    return "symbols" if step.cues == SYMBOLS else "play" if step.cues else "fade"


def _climbs(view: SongView) -> Iterator[PlanItem]:
    """The whole form towards its tempo, once it was played in time at all, from the tempo at which the climb will begin."""
    known_bpm = view.working_bpm or view.proved_bpm
    tempo_bpm = known_bpm and (view.climb_bpm or known_bpm)
    if tempo_bpm and tempo_bpm < view.song.tempo_bpm - 0.5:
        words = f"Up to tempo: {tempo_bpm:.0f} now, {view.song.tempo_bpm:g} is the target."
        yield _item("climb", view, "", words, drill="climb", tempo_bpm=max(SLOWEST_BPM, tempo_bpm))


def _chords(views: Sequence[SongView], known: Collection[str] | None) -> list[PlanItem]:
    """The chords that are new, of songs whose lesson was not begun."""
    fresh = (
        [view.song for view in views if not (view.passes or view.tallies or view.heard)] if known is not None else []
    )
    return [item for song in fresh if (item := chords_item(song, known or ())) is not None]


def _new(waiting: Sequence[SongView], hand: Hand, known: Collection[str] | None) -> Iterator[PlanItem]:
    """The first steps of a song that was not played yet, for a day with time to spare; which one is looked for only then."""
    if waiting:
        view = first_song(waiting, hand)
        steps = islice(_steps(view), _MOST_STEPS)
        yield from islice(steps, 1)  # of two that there is time for, one is the lesson
        yield from _chords([view], known)
        yield from steps


def _ending(active: Sequence[SongView]) -> PlanItem:
    """Something that goes well: the surest section, a little below the tempo it was played at. Where none does, something slow."""
    sure = [
        (section.strength, view, section.section)
        for view in active
        for section in section_strengths(view.song, [record for record in view.passes if tells(record)], view.memories)
        if section.strength is not None and section.strength >= _GOES_WELL
    ]
    if not sure:
        view = active[0]
        section = view.song.form[0]
        words = f"To end with: section {section}, slowly and as softly as you can. Listen to the upper note."
        return _item("last", view, section, words, share=SLOW, pattern="whole")
    strength, view, section = max(sure, key=lambda row: row[0])
    words = f"To end with: section {section}, which goes well ({100 * strength:.0f} %). Enjoy it."
    return _item("last", view, section, words, share=_EASY)


def _item(
    kind: str,
    view: SongView,
    where: str | tuple[int, ...],
    words: str,
    *,
    share: float = 1.0,
    tempo_bpm: float | None = None,
    **fields: Any,
) -> PlanItem:
    """where: a section, "" for the whole form, or bars by index. tempo_bpm: None for a share of the tempo reached."""
    if isinstance(where, tuple):
        name, loop = loop_name(where), where
    else:
        name = where or WHOLE_FORM
        loop = step_bars(where, view.song)
    tempo_bpm = view.tempo_for(loop, share) if tempo_bpm is None else tempo_bpm
    fields = {"hands": view.hands, "key": view.song.key.name} | fields
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
    enough = min(max(_FEWEST_THINGS, minutes // _MINUTES_A_THING), minutes // SHORTEST_MIN) - 1
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
