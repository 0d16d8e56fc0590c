"""What the log knows of the songs, gathered for Today, Progress and the report."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

from companion.chart.model import Song
from companion.errors import LogError
from companion.log.paths import Paths
from companion.log.practice_log import PracticeLog, State
from companion.practice import recall
from companion.practice.lessons import StepState, lesson_states
from companion.practice.plan import Plan, plan_from_dict, plan_to_dict, tick
from companion.practice.progress import SectionMemory, SongProgress, song_progress
from companion.practice.today import SongView, plan_today
from companion.session.passes import loop_key

# How far back single passes are looked at; sums reach back to the first day.
_WEEKS = 6
_MOST_PASSES = 300
USUAL_MINUTES = 20
_PLAN, _TICKED = "plan", "lesson"  # kinds of what is kept between sessions


def now_here() -> datetime:
    """This moment, with the zone of the computer."""
    return datetime.now().astimezone()


def open_log(paths: Paths) -> tuple[PracticeLog, list[str]]:
    """The student's log and what is to be said of it; where it cannot be had, one that forgets, so that practice goes on."""
    try:
        log = PracticeLog.open(paths)
        return log, log.messages
    except LogError as error:
        return PracticeLog.in_memory(), [str(error)]


def progress_of(log: PracticeLog, song: Song, now: datetime) -> SongProgress:
    """Where a song stands. now: aware, in the student's zone."""
    view = view_of(log, song, now)
    days = log.day_totals(song.id)
    return song_progress(song, view.passes, days, view.memories, now.date(), now.tzinfo, view.working_bpm)


def lesson_of_song(log: PracticeLog, song: Song) -> tuple[StepState, ...]:
    """Where the steps of a song's lesson stand."""
    return lesson_states(song, log.tallies(song.id), _ticked(log.states(_TICKED, song.id)))


def tick_step(log: PracticeLog, song: Song, key: str, done: bool = True) -> None:
    """Tick a step of a lesson by hand, or take the tick away. key: see lessons.step_key."""
    ticked = _ticked(log.states(_TICKED, song.id))
    log.put_state(song.id, "", _TICKED, sorted(ticked | {key} if done else ticked - {key}) or None)


def view_of(log: PracticeLog, song: Song, now: datetime) -> SongView:
    """What Today and Progress look at of one song."""
    states = log.states(song_id=song.id)
    kept = {kind: [state for state in states if state.kind == kind] for kind in ("recall", "working_bpm", _TICKED)}
    return SongView(
        song=song,
        passes=tuple(log.passes(song.id, since=now - timedelta(weeks=_WEEKS), limit=_MOST_PASSES)),
        tallies=tuple(log.tallies(song.id)),
        memories=tuple(filter(None, (_memory(state, now) for state in kept["recall"]))),
        working_bpm=_working_bpm(kept["working_bpm"], len(song.unroll())),
        ticked=_ticked(kept[_TICKED]),
    )


def todays_plan(
    log: PracticeLog, songs: Sequence[Song], minutes: int | None, now: datetime, afresh: bool = False
) -> Plan:
    """The plan of this day with its ticks. It is made once, kept in the log, and made anew where other minutes are wanted or
    a song in it is gone. minutes: None for those of the plan there is, else USUAL_MINUTES. now: aware, in the student's zone."""
    day = now.date().isoformat()
    kept = None if afresh else plan_from_dict(log.state("", "", _PLAN))
    known = {song.id for song in songs}
    is_gone = kept is not None and any(item.song_id and item.song_id not in known for item in kept.items)
    if kept is None or kept.day != day or is_gone or minutes not in (None, kept.minutes):
        views = [view_of(log, song, now) for song in songs]
        kept = plan_today(minutes or USUAL_MINUTES, views, now)
        keep_plan(log, kept)
    midnight = now.replace(hour=0, minute=0, second=0, microsecond=0)
    return tick(kept, log.passes(since=midnight))


def keep_plan(log: PracticeLog, plan: Plan) -> None:
    """Keep a plan, for instance with a tick made by hand."""
    log.put_state("", "", _PLAN, plan_to_dict(plan))


def _memory(state: State, now: datetime) -> SectionMemory | None:
    """None where the kept memory is damaged: the section is then learned anew."""
    try:
        card = recall.from_json(state.value)
    except LogError:
        return None
    return SectionMemory(card.song_id, card.section, card.due_at, recall.chance(card, now.astimezone(UTC)))


def _working_bpm(states: Sequence[State], bars: int) -> float | None:
    """The tempo at which the climb over the whole form settled."""
    for state in states:
        if state.loop_key == loop_key(range(bars)):
            with contextlib.suppress(TypeError, ValueError):
                return float(state.value)
    return None


def _ticked(states: Sequence[State]) -> frozenset[str]:
    return frozenset(key for state in states if isinstance(state.value, list) for key in state.value if isinstance(key, str))
