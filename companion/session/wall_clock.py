"""The clock of the day, held within what a calendar can carry: a computer that woke up at its end must not end the practising."""

from __future__ import annotations

from datetime import UTC, datetime

# Room on both sides for the weeks, and the hundred years of a memory, that are added to and taken from a moment.
EARLIEST, LATEST = datetime(1900, 1, 1, tzinfo=UTC), datetime(9000, 1, 1, tzinfo=UTC)


def within_calendar(now: datetime) -> datetime:
    """The moment itself, or the end of what we reckon with on its side. now: aware."""
    if now < EARLIEST:
        return EARLIEST.astimezone(now.tzinfo)
    return now if now <= LATEST else LATEST.astimezone(now.tzinfo)
