"""What the log knows of the songs, gathered for Today, Progress and the report."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime

from companion.chart.lesson import HANDS
from companion.chart.loops import loop_key
from companion.chart.model import Song
from companion.errors import LogError
from companion.hands.hand import Hand
from companion.practice.drills import climbing, recall
from companion.practice.model import PassRecord
from companion.practice.planning.better import Practised, what_got_better
from companion.practice.planning.by_itself import DEFAULT_MOST_LOSS, weeks_words
from companion.practice.planning.layers import PERFORMANCE, LayersKnown, layers_that_run
from companion.practice.planning.lessons import StepState, Swung, lesson_states
from companion.practice.planning.plan import CHORDS, Plan, plan_from_dict, plan_to_dict, tick
from companion.practice.planning.progress import SectionMemory, SongProgress, song_progress
from companion.practice.planning.song_view import SongView
from companion.practice.planning.today import DEFAULT_HAND, active_songs, plan_today
from companion.practice.planning.totals import day_of, local_day, midnight
from companion.practice.planning.whole_chords import new_chords
from companion.session.chords.memory import known_chords
from companion.session.drill import START_SHARE
from companion.session.memory import HEARD, MET, SWUNG, swung_of
from companion.session.wall_clock import within_calendar
from companion.store.log.entry import SavedState
from companion.store.log.patient_log import PatientLog
from companion.store.log.practice_log import PracticeLog
from companion.store.paths import Paths

_LATEST_PASSES = 150
_PLAN_PASSES = 40
_LOSS_PASSES = 200  # of the left hand, and of both: those of some weeks
USUAL_MINUTES = 20
_PLAN = "plan"  # the kind of what is kept between sessions


def now_here() -> datetime:
    """This moment, with the zone of the computer."""
    return within_calendar(datetime.now(UTC)).astimezone()


def open_log(paths: Paths) -> tuple[PatientLog, list[str]]:
    """The student's log and what is to be said of it; where it cannot be had, one in memory, so that practice goes on."""
    log = PatientLog.begin(paths)
    return log, list(log.messages)


def hands_known(log: PracticeLog, song: Song) -> tuple[str, ...]:
    """The hands that played a song, the left before the others; the left alone where none did."""
    played = log.hands_of(song.id)
    return tuple(hands for hands in HANDS if hands in played) or HANDS[:1]


def progress_of(log: PracticeLog, song: Song, now: datetime, hands: str = "left") -> SongProgress:
    """Where these hands stand with a song. now: aware."""
    states = log.states(song_id=song.id)
    passes = recent_passes(log, song, hands)
    days = log.day_totals(song.id, hands=hands)
    memories = [memory for memory in _memories(states, now) if memory.hands == hands]
    working_bpm = _working_bpm(states, len(song.unroll()), hands)
    today = local_day(now, log.zone)
    progress = song_progress(song, passes, days, memories, today, log.zone, working_bpm, hands)
    if hands != "both":
        return progress
    both, alone = (log.passes(song.id, limit=_LOSS_PASSES, hands=each, chords=False) for each in ("both", "left"))
    return replace(progress, by_itself=weeks_words(both, alone, today, log.zone))


def recent_passes(log: PracticeLog, song: Song, hands: str = "left") -> list[PassRecord]:
    """The single passes that Progress and the report look at; sums reach back to the first day."""
    return log.passes(song.id, limit=_LATEST_PASSES, hands=hands)


def lesson_of_song(log: PracticeLog, song: Song, most_loss: float = DEFAULT_MOST_LOSS) -> tuple[StepState, ...]:
    """Where the steps of a song's lesson stand."""
    heard = _heard(log.states(HEARD, song.id)).get(song.id, ())
    swung = _swung(log.states(SWUNG, song.id)).get(song.id, ())
    return lesson_states(song, log.tallies(song.id), heard, swung, layers_known(log, song, most_loss))


def layers_known(log: PracticeLog, song: Song, most_loss: float = DEFAULT_MOST_LOSS) -> LayersKnown:
    """What is known of a song's layers. most_loss: see by_itself.py."""
    met = frozenset(state.loop_key for state in log.states(MET, song.id))
    both = log.passes(song.id, limit=_LOSS_PASSES, hands="both", chords=False)
    alone = log.passes(song.id, limit=_LOSS_PASSES, hands="left", chords=False) if both else []
    return LayersKnown(met, layers_that_run(both, alone, most_loss))


def views_of(
    log: PracticeLog,
    songs: Sequence[Song],
    now: datetime,
    start_share: float = START_SHARE,
    most_loss: float = DEFAULT_MOST_LOSS,
) -> list[SongView]:
    """What the plan looks at, a view of each song and pair of hands. start_share: as the student's settings have it. Only of the songs being practised is more than the latest
    pass read, so that a long log takes no longer than a short one."""
    memories: dict[tuple[str, str], list[SectionMemory]] = {}
    kept = [state for kind in recall.MEMORIES for state in log.states(kind.kind)]
    for memory in _memories(kept, now):
        memories.setdefault((memory.song_id, memory.hands), []).append(memory)
    heard, swung = _heard(log.states(HEARD)), _swung(log.states(SWUNG))
    latest = [
        SongView(
            song,
            tuple(log.passes(song.id, limit=1, chords=False)),
            heard=heard.get(song.id, ()),
            swung=swung.get(song.id, ()),
        )
        for song in songs
    ]
    # Where nothing was ever played there is nothing more to read, whichever song is the one to begin with.
    active = {view.song.id for view in active_songs(latest, now)} if any(view.passes for view in latest) else set()
    views = []
    for view in latest:
        song_id = view.song.id
        known = {record.hands for record in view.passes} | {hands for id_, hands in memories if id_ == song_id}
        if song_id in active:
            known |= set(hands_known(log, view.song)) if view.passes else set()
        tallies = tuple(log.tallies(song_id)) if song_id in active else ()
        for hands in [hands for hands in HANDS if hands in known] or HANDS[:1]:
            mine = replace(
                view,
                passes=tuple(record for record in view.passes if record.hands == hands),
                tallies=tallies,
                memories=tuple(memories.get((song_id, hands), ())),
                hands=hands,
            )
            views.append(_whole_view(log, mine, start_share, most_loss) if song_id in active else mine)
    return views


def _whole_view(log: PracticeLog, view: SongView, start_share: float, most_loss: float) -> SongView:
    song, states = view.song, log.states(song_id=view.song.id)
    return replace(
        view,
        layers=layers_known(log, song, most_loss),
        passes=tuple(log.passes(song.id, limit=_PLAN_PASSES, hands=view.hands)),
        working_bpm=_working_bpm(states, len(song.unroll()), view.hands),
        climb_bpm=_climb_bpm(states, song, view.hands, start_share),
    )


def todays_plan(
    log: PracticeLog,
    songs: Sequence[Song],
    minutes: int | None,
    now: datetime,
    afresh: bool = False,
    usual: int = USUAL_MINUTES,
    start_share: float = START_SHARE,
    hand: Hand = DEFAULT_HAND,
    most_loss: float = DEFAULT_MOST_LOSS,
) -> Plan:
    """The plan of this day with its ticks. It is made once and kept in the log. Where other minutes are wanted what is done stays
    and the rest is planned anew; all of it where a song in it is gone. minutes: None for those of the plan there is, else `usual`.
    start_share: of a climb. hand: the student's. now: aware."""
    today = local_day(now, log.zone)
    kept = plan_from_dict(log.state("", "", _PLAN))
    known = {song.id for song in songs}
    if kept is not None and (
        kept.day != today.isoformat() or any(i.song_id and i.song_id not in known for i in kept.items)
    ):
        kept = None
    if kept is not None:
        if not afresh:
            kept = ticked(log, kept, now, songs)
        if not afresh and minutes in (None, kept.minutes):
            return kept
    wanted = minutes or (kept.minutes if kept is not None else usual)
    done = () if afresh or kept is None else tuple(item for item in kept.items if item.done)
    views = views_of(log, songs, now, start_share, most_loss)
    plan = plan_today(wanted, views, now, log.zone, done, hand, known_chords(log))
    keep_plan(log, plan)
    return plan


def ticked(log: PracticeLog, plan: Plan, now: datetime, songs: Sequence[Song] = ()) -> Plan:
    """A plan with what was played since. songs: those whose chords in root position are asked for, so that they are looked at. now: aware."""
    passes = log.passes(since=midnight(local_day(now, log.zone), log.zone), chords=False)
    performed = {state.song_id for state in log.states(MET) if state.loop_key == PERFORMANCE}
    return tick(plan, passes, _heard(log.states(HEARD)), _chords_found(log, songs, plan), performed)


def better_words(log: PracticeLog, plan: Plan, songs: Sequence[Song], now: datetime) -> str:
    """What got better today in the songs of a plan, in one sentence; "" where nothing was played. songs: at least those of the plan. now: aware."""
    today = local_day(now, log.zone)
    asked = {(item.song_id, item.hands) for item in plan.items}
    practised = []
    for song in songs:
        for hands in [hands for hands in HANDS if (song.id, hands) in asked]:
            passes = log.passes(song.id, limit=_LATEST_PASSES, hands=hands, chords=False)
            new = [day_of(record.started_at, log.zone) == today.isoformat() for record in passes]
            before, after = ([p for p, is_new in zip(passes, new) if is_new is wanted] for wanted in (False, True))
            practised.append(Practised(song, hands, log.day_totals(song.id, hands=hands), before, after))
    return what_got_better(practised, today.isoformat())


def _chords_found(log: PracticeLog, songs: Sequence[Song], plan: Plan) -> set[str]:
    """The songs in a plan of which every chord was found in root position."""
    asked = {item.song_id for item in plan.items if item.kind == CHORDS}
    known = known_chords(log) if asked else {}
    return {song.id for song in songs if song.id in asked and not new_chords(song, known)[0]}


def keep_plan(log: PracticeLog, plan: Plan) -> None:
    """Keep a plan, for instance with a tick made by hand."""
    log.put_state("", "", _PLAN, plan_to_dict(plan))


def _heard(states: Sequence[SavedState]) -> dict[str, tuple[tuple[int, ...], ...]]:
    """song -> the loops that were listened to. A damaged one was not."""
    heard: dict[str, tuple[tuple[int, ...], ...]] = {}
    for state in states:
        if isinstance(state.value, list) and all(isinstance(index, int) for index in state.value):
            heard[state.song_id] = (*heard.get(state.song_id, ()), tuple(state.value))
    return heard


def _swung(states: Sequence[SavedState]) -> dict[str, tuple[Swung, ...]]:
    """song -> the phrases that were played swung from memory. A damaged one was not."""
    found: dict[str, tuple[Swung, ...]] = {}
    for state in states:
        if (swung := swung_of(state.value)) is not None:
            found[state.song_id] = (*found.get(state.song_id, ()), swung)
    return found


def _memories(states: Sequence[SavedState], now: datetime) -> list[SectionMemory]:
    """The memories among what is kept. A damaged one is left out: the section is then learned anew."""
    memories = []
    kinds = [kind.kind for kind in recall.MEMORIES]
    for state in states:
        if state.kind in kinds:
            with contextlib.suppress(LogError):
                card = recall.from_json(state.value)
                likely = recall.chance(card, now.astimezone(UTC))
                of = card.song_id, card.section, card.due_at, likely, state.hands, state.key
                memories.append(SectionMemory(*of, from_symbols=state.kind == recall.FROM_SYMBOLS.kind))
    return memories


def _climb_bpm(states: Sequence[SavedState], song: Song, hands: str, start_share: float) -> float:
    """The tempo at which a climb of these hands over the whole form begins or goes on (see session.drill.take_up)."""
    bars = len(song.unroll())
    for state in states:
        if (state.kind, state.loop_key, state.hands) == ("climb", loop_key(range(bars)), hands) and state.value:
            with contextlib.suppress(LogError):
                saved = climbing.from_json(state.value)
                if saved.target_bpm == song.tempo_bpm:
                    return saved.tempo_bpm
    return _working_bpm(states, bars, hands) or start_share * song.tempo_bpm


def _working_bpm(states: Sequence[SavedState], bars: int, hands: str) -> float | None:
    """The tempo at which the climb of these hands over the whole form settled."""
    for state in states:
        if (state.kind, state.loop_key, state.hands) == ("working_bpm", loop_key(range(bars)), hands):
            with contextlib.suppress(TypeError, ValueError):
                return float(state.value)
    return None
