"""How long the hand has been at it, for the reminder to rest."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from companion.practice.drills import rest


@dataclass(frozen=True, slots=True)
class RestDue:
    """now: nothing is played, so the rest can begin; else after this pass."""

    now: bool


class Minutes:
    """How long was played since the last rest, through every way of practising. A pause of a rest's length is a rest."""

    def __init__(self) -> None:
        self._played_s = 0.0
        self._last_end: datetime | None = None

    def count(self, duration_s: float, ended_at: datetime) -> None:
        """Something of that length was played and ended then."""
        began_at = ended_at - timedelta(seconds=duration_s)
        if self._last_end is not None and began_at - self._last_end > timedelta(minutes=rest.REST_MIN):
            self._played_s = 0.0
        self._played_s += duration_s
        self._last_end = ended_at

    def rested(self) -> None:
        """The student has rested: the minutes count from 0."""
        self._played_s = 0.0

    def offer_rest(self, *, playing: bool) -> list[RestDue]:
        """What there is to tell of a rest: nothing, where none is due. playing: one may only be announced; else it is taken."""
        if not self.rest_is_due:
            return []
        if not playing:
            self.rested()
        return [RestDue(now=not playing)]

    @property
    def rest_is_due(self) -> bool:
        """Whether so much was played since the last rest that one is due."""
        return rest.rest_is_due(self._played_s / 60.0)
