"""What the log knows of the songs, gathered for Today, Progress and the report."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime

from companion.chart.loops import loop_key
from companion.chart.model import Song
from companion.errors import LogError
from companion.practice.drills import recall
from companion.practice.model import PassRecord
from companion.practice.planning.lessons import StepState, lesson_states
from companion.practice.planning.plan import Plan, plan_from_dict, plan_to_dict, tick
from companion.practice.planning.progress import SectionMemory, SongProgress, song_progress
from companion.practice.planning.today import SongView, active_songs, plan_today
from companion.session.wall_clock import within_calendar
from companion.store.log.patient_log import PatientLog
from companion.store.log.practice_log import PracticeLog, State
from companion.store.paths import Paths

_LATEST_PASSES = 150
_PLAN_PASSES = 40
USUAL_MINUTES = 20
_PLAN, _TICKED = "plan", "lesson"  # kinds of what is kept between sessions


def now_here() -> datetime:
    """This moment, with the zone of the computer."""
    return within_calendar(datetime.now(UTC)).astimezone()


def open_log(paths: Paths) -> tuple[PatientLog, list[str]]:
    """The student's log and what is to be said of it; where it cannot be had, one in memory, so that practice goes on."""
    log = PatientLog.begin(paths)
    return log, list(log.messages)


def progress_of(log: PracticeLog, song: Song, now: datetime) -> SongProgress:
    """Where a song stands. now: aware, in the student's zone."""
    states = log.states(song_id=song.id)
    passes = recent_passes(log, song)
    days = log.day_totals(song.id)
    working_bpm = _working_bpm(states, len(song.unroll()))
    return song_progress(song, passes, days, _memories(states, now), now.date(), now.tzinfo, working_bpm)


def recent_passes(log: PracticeLog, song: Song) -> list[PassRecord]:
    """The single passes that Progress and the report look at; sums reach back to the first day."""
    return log.passes(song.id, limit=_LATEST_PASSES)


def lesson_of_song(log: PracticeLog, song: Song) -> tuple[StepState, ...]:
    """Where the steps of a song's lesson stand."""
    return lesson_states(song, log.tallies(song.id), _ticked(log.states(_TICKED, song.id)))


def tick_step(log: PracticeLog, song: Song, key: str, done: bool = True) -> None:
    """Tick a step of a lesson by hand, or take the tick away. key: see lessons.step_key."""
    ticked = _ticked(log.states(_TICKED, song.id))
    log.put_state(song.id, "", _TICKED, sorted(ticked | {key} if done else ticked - {key}) or None)


def views_of(log: PracticeLog, songs: Sequence[Song], now: datetime) -> list[SongView]:
    """What the plan looks at. Only of the songs being practised is more than the latest pass read, so that a long log
    takes no longer than a short one."""
    memories: dict[str, list[SectionMemory]] = {}
    for memory in _memories(log.states("recall"), now):
        memories.setdefault(memory.song_id, []).append(memory)
    views = [
        SongView(song, tuple(log.passes(song.id, limit=1)), (), tuple(memories.get(song.id, ()))) for song in songs
    ]
    active = {view.song.id for view in active_songs(views, now)}
    return [_whole_view(log, view) if view.song.id in active else view for view in views]


def _whole_view(log: PracticeLog, view: SongView) -> SongView:
    song, states = view.song, log.states(song_id=view.song.id)
    return replace(
        view,
        passes=tuple(log.passes(song.id, limit=_PLAN_PASSES)),
        tallies=tuple(log.tallies(song.id)),
        working_bpm=_working_bpm(states, len(song.unroll())),
        ticked=_ticked(states),
    )


def todays_plan(
    log: PracticeLog, songs: Sequence[Song], minutes: int | None, now: datetime, afresh: bool = False
) -> Plan:
    """The plan of this day with its ticks. It is made once, kept in the log, and made anew where other minutes are
    wanted or a song in it is gone. minutes: None for those of the plan there is, else USUAL_MINUTES. now: aware, in the
    student's zone."""
    day = now.date().isoformat()
    kept = None if afresh else plan_from_dict(log.state("", "", _PLAN))
    known = {song.id for song in songs}
    is_gone = kept is not None and any(item.song_id and item.song_id not in known for item in kept.items)
    if kept is None or kept.day != day or is_gone or minutes not in (None, kept.minutes):
        kept = plan_today(minutes or USUAL_MINUTES, views_of(log, songs, now), now)
        keep_plan(log, kept)
    midnight = now.replace(hour=0, minute=0, second=0, microsecond=0)
    return tick(kept, log.passes(since=midnight))


def keep_plan(log: PracticeLog, plan: Plan) -> None:
    """Keep a plan, for instance with a tick made by hand."""
    log.put_state("", "", _PLAN, plan_to_dict(plan))


def _memories(states: Sequence[State], now: datetime) -> list[SectionMemory]:
    """The memories among what is kept. A damaged one is left out: the section is then learned anew."""
    memories = []
    for state in states:
        if state.kind == "recall":
            with contextlib.suppress(LogError):
                card = recall.from_json(state.value)
                likely = recall.chance(card, now.astimezone(UTC))
                memories.append(SectionMemory(card.song_id, card.section, card.due_at, likely))
    return memories


def _working_bpm(states: Sequence[State], bars: int) -> float | None:
    """The tempo at which the climb over the whole form settled."""
    for state in states:
        if (state.kind, state.loop_key) == ("working_bpm", loop_key(range(bars))):
            with contextlib.suppress(TypeError, ValueError):
                return float(state.value)
    return None


def _ticked(states: Sequence[State]) -> frozenset[str]:
    lists = [state.value for state in states if state.kind == _TICKED and isinstance(state.value, list)]
    return frozenset(key for keys in lists for key in keys if isinstance(key, str))
