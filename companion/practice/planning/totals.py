"""Sums over passes, small enough to be kept beside the log and read at once however long it grows.

A day is the student's own day, not that of UTC: what was played before breakfast in Auckland belongs to that morning.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, time, tzinfo

from companion.practice.model import PassRecord

SHOWN, FROM_SYMBOLS, BY_HEART = range(3)  # how little the screen gave away: all, the chord symbols, nothing
_SYMBOLS_ALONE = 0.6  # mean strength of the cues where every bar shows its symbols and nothing else (fading.Cue)


@dataclass(frozen=True, slots=True)
class DayTotal:
    """One song and the hands that played it on one day. day: "2026-11-25". best_bpm: the highest tempo of a clean pass in time,
    None without one."""

    song_id: str
    day: str
    seconds: float
    passes: int
    clean: int
    best_bpm: float | None
    hands: str = "left"


@dataclass(frozen=True, slots=True)
class Way:
    """One way in which a song was practised. loop: indices in the chorus; sections: those wholly within it. tempo_bpm:
    to the nearest whole number, 0 in free time. by_heart: how little was shown, one of SHOWN, FROM_SYMBOLS and BY_HEART."""

    song_id: str
    loop: tuple[int, ...]
    sections: tuple[str, ...]
    hands: str
    pattern: str
    tempo_bpm: int
    by_heart: int


@dataclass(frozen=True, slots=True)
class Tally:
    """How often a song was practised in one way, and how many of these passes were clean."""

    way: Way
    passes: int
    clean: int


def is_free(record: PassRecord) -> bool:
    """Whether the companion waited on each chord, so that the pass had no tempo."""
    return "free" in record.kind.split("+")


def local_day(moment: datetime, zone: tzinfo | None) -> date:
    """The student's day of a moment, by the rules of the zone at that moment: in summer by those of summer, whatever the season
    is now. moment: aware; zone: None for that of the computer."""
    return moment.astimezone(zone).date()


def day_of(started_at: str, zone: tzinfo | None) -> str:
    """The student's day of a moment in ISO 8601. zone: see local_day."""
    return local_day(datetime.fromisoformat(started_at), zone).isoformat()


def midnight(day: date, zone: tzinfo | None) -> datetime:
    """When a day of the student's begins. zone: see local_day."""
    start = datetime.combine(day, time.min, zone)
    return start.astimezone() if zone is None else start


def way_of(record: PassRecord) -> Way:
    """In which way a pass was played."""
    return Way(
        record.song_id,
        record.loop,
        record.sections,
        record.hands,
        record.pattern,
        0 if is_free(record) else int(record.tempo_bpm + 0.5),
        by_heart(record),
    )


def keeps_symbols(record: PassRecord) -> bool:
    """Whether it was played in a drill that leaves the chord symbols standing."""
    return not {"symbols", "symbols-only"}.isdisjoint(record.kind.split("+"))


def by_heart(record: PassRecord) -> int:
    """How little was shown in a pass. That the mean of its cues is low tells of single bars only where none goes below the symbol."""
    if record.cues <= 0:
        return BY_HEART
    return FROM_SYMBOLS if keeps_symbols(record) and record.cues <= _SYMBOLS_ALONE + 1e-9 else SHOWN


def best_of(record: PassRecord) -> float | None:
    """The tempo that a pass proves, None where it proves none: two bars tried at the target do not prove the target."""
    parts = record.kind.split("+")
    return record.tempo_bpm if record.clean and "free" not in parts and "probe" not in parts else None


def day_totals(passes: Iterable[PassRecord], zone: tzinfo | None) -> tuple[DayTotal, ...]:
    """The totals of some passes, broken ones left out, by day, then song, then hands."""
    groups: dict[tuple[str, str, str], list[PassRecord]] = {}
    for record in (record for record in passes if not record.broken):
        groups.setdefault((day_of(record.started_at, zone), record.song_id, record.hands), []).append(record)
    return tuple(
        DayTotal(
            song_id,
            day,
            sum(record.duration_s for record in group),
            len(group),
            sum(record.clean for record in group),
            max((best for best in map(best_of, group) if best is not None), default=None),
            hands,
        )
        for (day, song_id, hands), group in sorted(groups.items())
    )


def tallies(passes: Iterable[PassRecord]) -> tuple[Tally, ...]:
    """The tallies of some passes, broken ones left out, in the order in which their ways came first."""
    counts: dict[Way, list[int]] = {}
    for record in (record for record in passes if not record.broken):
        count = counts.setdefault(way_of(record), [0, 0])
        count[0] += 1
        count[1] += record.clean
    return tuple(Tally(way, *count) for way, count in counts.items())


def add_days(kept: Iterable[DayTotal], more: Iterable[DayTotal]) -> list[DayTotal]:
    """Two lists of totals as one, by day, then song, then hands."""
    sums = {(total.day, total.song_id, total.hands): total for total in kept}
    for total in more:
        place = total.day, total.song_id, total.hands
        if place in sums:
            other = sums[place]
            bests = [bpm for bpm in (other.best_bpm, total.best_bpm) if bpm is not None]
            total = replace(
                other,
                seconds=other.seconds + total.seconds,
                passes=other.passes + total.passes,
                clean=other.clean + total.clean,
                best_bpm=max(bests, default=None),
            )
        sums[place] = total
    return [total for _, total in sorted(sums.items())]


def add_tallies(kept: Iterable[Tally], more: Iterable[Tally]) -> list[Tally]:
    """Two lists of tallies as one."""
    sums = {tally.way: tally for tally in kept}
    for tally in more:
        other = sums.get(tally.way, Tally(tally.way, 0, 0))
        sums[tally.way] = Tally(tally.way, other.passes + tally.passes, other.clean + tally.clean)
    return list(sums.values())
