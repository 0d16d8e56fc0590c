"""Where a song stands: how firm its sections are, how the tempo climbs, what costs most, and what changed in a week.

Pure: passes, sums, memories and the date are arguments. A pass that was only played along to, with nothing heard and
nothing said of it, tells of minutes and of nothing else."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo
from itertools import pairwise

from companion.chart.model import FormBar, Song
from companion.practice.facts import UNTOLD
from companion.practice.marking.summary import ChangeCost, HeardChord, logged_chords, weakest_changes
from companion.practice.model import PassRecord
from companion.practice.planning.bars import AT_TEMPO, LATEST_PASSES, BarProgress, chart_progress, lately, share_right
from companion.practice.planning.totals import BY_HEART, FROM_SYMBOLS, DayTotal, by_heart, day_of, is_free

RECENT_PASSES = 30  # say which changes and bars slip: what slipped a month ago and no more is no weakness
WEEK = timedelta(days=7)
MOST_CHANGES = 8
# Shares and tempi move a little from day to day; smaller changes are no news (our own choice).
_NEWS_SHARE, _NEWS_BPM = 0.05, 2.0
_SETTLED_TRIES, _SETTLED_SHARE, _MOST_SETTLED = 3, 0.2, 3
# How sure a section is, in words and signs that need no colour. Strongest first.
STRENGTH_WORDS = ((0.9, "sure"), (0.75, "coming"), (0.5, "patchy"), (0.0, "weak"))
NOT_PLAYED = "not played yet"


@dataclass(frozen=True, slots=True)
class SectionMemory:
    """How a pair of hands remembers a section in a key, "" for the song's own. due_at: when to recall it, aware of its zone.
    chance: that it would be recalled now, 0 to 1, None where it was never recalled. from_symbols: with the chord symbols before the eyes."""

    song_id: str
    section: str
    due_at: datetime
    chance: float | None
    hands: str = "left"
    key: str = ""
    from_symbols: bool = False


@dataclass(frozen=True, slots=True)
class SectionStrength:
    """hand: share of it that went right of late, 0 to 1. memory: chance of recall now. None: unknown. passes: those
    looked at."""

    section: str
    hand: float | None
    memory: float | None
    passes: int

    @property
    def strength(self) -> float | None:
        """Hand and memory together; None where neither is known."""
        known = [value for value in (self.hand, self.memory) if value is not None]
        return sum(known) / len(known) if known else None

    @property
    def words(self) -> str:
        """The strength in a word, see STRENGTH_WORDS."""
        if self.strength is None:
            return NOT_PLAYED
        return next(words for least, words in STRENGTH_WORDS if self.strength >= least)


@dataclass(frozen=True, slots=True)
class WeakBar:
    """A bar that slipped, as the student or the ear named it. index: in the chorus."""

    index: int
    section: str
    bar: int
    slips: int
    tries: int

    @property
    def words(self) -> str:
        """For the screen and the report."""
        return f"{self.section} bar {self.bar}: slipped {self.slips} of {self.tries}"


@dataclass(frozen=True, slots=True)
class SongProgress:
    """sections: in the order of the form, their memory that in the song's own key. in_other_keys: what else is remembered, in words, the
    section likeliest to be lost first; from_symbols: the same of playing from the chord symbols alone, in any key. by_itself: of both hands,
    what the left one lost under the melody, week by week. chart: its bars, see bars.py. days: every day the song was played, oldest first. changes, weak_bars:
    costliest first. news: sentences about the last seven days."""

    song_id: str
    title: str
    target_bpm: float
    today: date
    sections: tuple[SectionStrength, ...]
    days: tuple[DayTotal, ...]
    changes: tuple[ChangeCost, ...]
    weak_bars: tuple[WeakBar, ...]
    news: tuple[str, ...]
    working_bpm: float | None = None
    hands: str = "left"
    in_other_keys: tuple[str, ...] = ()
    from_symbols: tuple[str, ...] = ()
    by_itself: tuple[str, ...] = ()
    chart: tuple[BarProgress, ...] = ()

    @property
    def best_bpm(self) -> float | None:
        """The fastest clean pass ever, None without one."""
        return max((day.best_bpm for day in self.days if day.best_bpm is not None), default=None)

    @property
    def passed_on(self) -> str:
        """The first day with a clean pass at the target or above, as in DayTotal; "" where it is still ahead."""
        return next((day.day for day in self.days if (day.best_bpm or 0) >= self.target_bpm - AT_TEMPO), "")

    @property
    def minutes(self) -> float:
        """Played in all."""
        return sum(day.seconds for day in self.days) / 60


def song_progress(
    song: Song,
    passes: Iterable[PassRecord],
    days: Iterable[DayTotal],
    memories: Iterable[SectionMemory],
    today: date,
    zone: tzinfo | None = UTC,
    working_bpm: float | None = None,
    hands: str = "left",
) -> SongProgress:
    """passes: the latest of the song and these hands in the order of time, those of two weeks if the news are to tell of sections.
    days: all of the song's and these hands'. zone: of the student's days, None for that of the computer."""
    bars = song.unroll()
    memories = tuple(memories)
    told = tuple(record for record in passes if tells(record))
    recent = told[-RECENT_PASSES:]
    days = tuple(sorted(days, key=lambda day: day.day))
    changes = tuple(weakest_changes(map(_chords, recent), MOST_CHANGES))
    return SongProgress(
        song_id=song.id,
        title=song.title,
        target_bpm=song.tempo_bpm,
        today=today,
        sections=section_strengths(song, told, memories),
        days=days,
        changes=changes,
        weak_bars=weak_bars(bars, recent),
        news=news(song, told, days, today, zone),
        working_bpm=working_bpm,
        hands=hands,
        in_other_keys=_remembered(song, [each for each in memories if each.key and not each.from_symbols]),
        from_symbols=_remembered(song, [each for each in memories if each.from_symbols]),
        chart=chart_progress(bars, told, recent, song.tempo_bpm, changes),
    )


def tells(record: PassRecord) -> bool:
    """Whether anything is known of how the pass went."""
    return record.fact != UNTOLD


def section_strengths(
    song: Song, passes: Sequence[PassRecord], memories: Iterable[SectionMemory] = ()
) -> tuple[SectionStrength, ...]:
    """How firm each section is, by the latest passes that touched it."""
    bars = song.unroll()
    recalled = {
        memory.section: memory.chance
        for memory in memories
        if memory.song_id == song.id and not memory.key and not memory.from_symbols
    }
    strengths = []
    for name in dict.fromkeys(song.form):
        indices = frozenset(bar.index for bar in bars if bar.section == name)
        latest = [record for record in passes if indices & set(record.loop)][-LATEST_PASSES:]
        hand = lately([share_right(record, indices) for record in latest])
        strengths.append(SectionStrength(name, hand, recalled.get(name), len(latest)))
    return tuple(strengths)


def _remembered(song: Song, memories: Iterable[SectionMemory]) -> tuple[str, ...]:
    """What is remembered of the song, in words: "A in Eb: 92 %", "B: 80 %" in its own key."""
    known = [
        (memory.chance, memory.section, memory.key)
        for memory in memories
        if memory.song_id == song.id and memory.chance is not None and memory.section in song.sections
    ]
    return tuple(f"{name}{f' in {key}' if key else ''}: {_percent(chance)}" for chance, name, key in sorted(known))


def weak_bars(bars: Sequence[FormBar], passes: Iterable[PassRecord]) -> tuple[WeakBar, ...]:
    """The bars that slipped, by place in their section: that of the second A is the bar of the first."""
    places = [(bar.section, bar.bar) for bar in bars]
    tries: Counter[tuple[str, int]] = Counter()
    slips: Counter[tuple[str, int]] = Counter()
    for record in passes:
        inside = [index for index in record.loop if index < len(places)]  # the chart may have been shortened since
        tries.update(places[index] for index in inside)
        slips.update(places[index] for index in record.slipped if index in inside)
    found = [WeakBar(places.index(place), *place, count, tries[place]) for place, count in slips.items()]
    # As for the changes of chord: caution where there are few tries.
    return tuple(sorted(found, key=lambda bar: (-bar.slips / (bar.tries + 2), bar.index))[:MOST_CHANGES])


def _chords(record: PassRecord) -> tuple[HeardChord, ...]:
    return logged_chords(record.chords)


# --- what changed since last week


def news(
    song: Song, passes: Sequence[PassRecord], days: Sequence[DayTotal], today: date, zone: tzinfo | None = UTC
) -> tuple[str, ...]:
    """The last seven days, today among them, against the seven before, in sentences."""
    start, before = today - WEEK + timedelta(days=1), today - 2 * WEEK + timedelta(days=1)
    is_later = [day_of(record.started_at, zone) >= start.isoformat() for record in passes]
    earlier = [record for record, later in zip(passes, is_later) if not later]
    later = [record for record, is_new in zip(passes, is_later) if is_new]
    sentences = [_minutes_news(days, start, before), _tempo_news(days, start)]
    if later:
        if earlier or not days or days[0].day >= start.isoformat():  # else it is not known how it was
            sentences += _section_news(song, earlier, [*earlier, *later])
        sentences += _memory_news(song, later)
        sentences += _change_news(earlier, later)
    return tuple(filter(None, sentences))


def _minutes_news(days: Sequence[DayTotal], start: date, before: date) -> str:
    first, middle = before.isoformat(), start.isoformat()
    this = sum(day.seconds for day in days if day.day >= middle) / 60
    last = sum(day.seconds for day in days if first <= day.day < middle) / 60
    if not days:
        return "This song was not played yet."
    if round(this) == 0:
        return (
            "It was not played in the last seven days."
            if this == 0
            else "It was played for less than a minute this week."
        )
    difference = round(this) - round(last)
    against = f"{abs(difference)} {'more' if difference > 0 else 'fewer'} than" if difference else "as many as"
    ending = f", {against} in the seven days before" if round(last) else ""
    return f"{_count(round(this), 'minute')} in the last seven days{ending}."


def _tempo_news(days: Sequence[DayTotal], start: date) -> str:
    first = start.isoformat()
    bests = [(day.day >= first, day.best_bpm) for day in days if day.best_bpm is not None]
    now = max((bpm for is_new, bpm in bests if is_new), default=None)
    then = max((bpm for is_new, bpm in bests if not is_new), default=None)
    if now is None or (then is not None and now < then + _NEWS_BPM):
        return ""
    return f"The fastest clean pass is now at {now:.0f}" + (f"; before this week it was {then:.0f}." if then else ".")


def _section_news(song: Song, earlier: Sequence[PassRecord], all_passes: Sequence[PassRecord]) -> list[str]:
    sentences = []
    for old, new in zip(section_strengths(song, earlier), section_strengths(song, all_passes)):
        if old.hand is None and new.hand is not None:
            sentences.append(f"Section {new.section} is new: {_percent(new.hand)} right.")
        elif old.hand is not None and new.hand is not None and abs(new.hand - old.hand) >= _NEWS_SHARE:
            word = "surer" if new.hand > old.hand else "less sure"
            sentences.append(
                f"Section {new.section} is {word}: {_percent(new.hand)} right, {_percent(old.hand)} a week ago."
            )
    return sentences


def _memory_news(song: Song, later: Sequence[PassRecord]) -> list[str]:
    counts = Counter((name, by_heart(record)) for record in later if record.clean for name in record.sections)
    return [
        f"Section {name} went {words} {_count(counts[name, level], 'time')}."
        for name in dict.fromkeys(song.form)
        for level, words in ((FROM_SYMBOLS, "from symbols"), (BY_HEART, "from memory"))
        if counts[name, level]
    ]


def _change_news(earlier: Sequence[PassRecord], later: Sequence[PassRecord]) -> list[str]:
    """Changes that used to slip and do so no more."""
    pairs: Counter[tuple[str, str]] = Counter()
    slips: Counter[tuple[str, str]] = Counter()
    for record in later:
        chords = _chords(record)
        for first, second in pairwise(chords):
            pairs[first.symbol, second.symbol] += 1
            slips[first.symbol, second.symbol] += second.verdict != "right"
    sentences = []
    for cost in weakest_changes(map(_chords, earlier), MOST_CHANGES):
        pair = cost.before, cost.after
        if cost.slips >= 2 and pairs[pair] >= _SETTLED_TRIES and slips[pair] <= _SETTLED_SHARE * pairs[pair]:
            sentences.append(f"{cost.before} to {cost.after} has settled: it slipped {slips[pair]} of {pairs[pair]}.")
    return sentences[:_MOST_SETTLED]


def latest_tempo(passes: Sequence[PassRecord]) -> float | None:
    """The tempo of the latest pass in time."""
    return next((record.tempo_bpm for record in reversed(passes) if not is_free(record)), None)


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _count(number: int, word: str) -> str:
    return f"{number} {word}" + ("" if number == 1 else "s")
