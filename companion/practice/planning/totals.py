"""Sums over passes, small enough to be kept beside the log and read at once however long it grows.

A day is the student's own day, not that of UTC: what was played before breakfast in Auckland belongs to that morning.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, tzinfo

from companion.practice.model import PassRecord


@dataclass(frozen=True, slots=True)
class DayTotal:
    """One song on one day. day: "2026-11-25". best_bpm: the highest tempo of a clean pass in time, None without one."""

    song_id: str
    day: str
    seconds: float
    passes: int
    clean: int
    best_bpm: float | None


@dataclass(frozen=True, slots=True)
class Way:
    """One way in which a song was practised. loop: indices in the chorus; sections: those wholly within it. tempo_bpm:
    to the nearest whole number, 0 in free time. by_heart: nothing was shown."""

    song_id: str
    loop: tuple[int, ...]
    sections: tuple[str, ...]
    hands: str
    pattern: str
    tempo_bpm: int
    by_heart: bool


@dataclass(frozen=True, slots=True)
class Tally:
    """How often a song was practised in one way, and how many of these passes were clean."""

    way: Way
    passes: int
    clean: int


def is_free(record: PassRecord) -> bool:
    """Whether the companion waited on each chord, so that the pass had no tempo."""
    return "free" in record.kind.split("+")


def day_of(started_at: str, zone: tzinfo | None) -> str:
    """The student's day of a moment in ISO 8601. zone: None for that of the computer."""
    return datetime.fromisoformat(started_at).astimezone(zone).date().isoformat()


def way_of(record: PassRecord) -> Way:
    return Way(
        record.song_id,
        record.loop,
        record.sections,
        record.hands,
        record.pattern,
        0 if is_free(record) else int(record.tempo_bpm + 0.5),
        record.cues <= 0,
    )


def best_of(record: PassRecord) -> float | None:
    """The tempo that a pass proves, None where it proves none: two bars tried at the target do not prove the target."""
    parts = record.kind.split("+")
    return record.tempo_bpm if record.clean and "free" not in parts and "probe" not in parts else None


def day_totals(passes: Iterable[PassRecord], zone: tzinfo | None) -> tuple[DayTotal, ...]:
    """The totals of some passes, broken ones left out, by day, then song."""
    groups: dict[tuple[str, str], list[PassRecord]] = {}
    for record in (record for record in passes if not record.broken):
        groups.setdefault((day_of(record.started_at, zone), record.song_id), []).append(record)
    return tuple(
        DayTotal(
            song_id,
            day,
            sum(record.duration_s for record in group),
            len(group),
            sum(record.clean for record in group),
            max((best for best in map(best_of, group) if best is not None), default=None),
        )
        for (day, song_id), group in sorted(groups.items())
    )


def tallies(passes: Iterable[PassRecord]) -> tuple[Tally, ...]:
    """The tallies of some passes, broken ones left out, in the order in which their ways came first."""
    counts: dict[Way, list[int]] = {}
    for record in (record for record in passes if not record.broken):
        count = counts.setdefault(way_of(record), [0, 0])
        count[0] += 1
        count[1] += record.clean
    return tuple(Tally(way, *count) for way, count in counts.items())
