"""A way of practising taken up where it was left."""

from __future__ import annotations

from companion.session.drill import drill_settings, take_up
from companion.session.minutes import Minutes
from companion.session.practice import Practice
from companion.session.stand import Stand
from companion.store.log.practice_log import PracticeLog
from companion.store.settings import Settings


def practice_on(
    stand: Stand,
    kind: str,
    settings: Settings,
    log: PracticeLog,
    minutes: Minutes,
    keyboard: bool,
    asks: bool,
) -> tuple[Practice, str]:
    """A practice that goes on with the drill on this loop where it was left, and a sentence where that could not be read."""
    drill, fault = take_up(stand, kind, drill_settings(settings), log)
    practice = Practice(
        stand,
        drill,
        log,
        latency_ms=settings.practice.latency_ms,
        keyboard=keyboard,
        minutes=minutes,
        asks=asks,
        stops=settings.practice.stop_to_ask,
        rounds=settings.practice.rounds_alone,
        most_loss=settings.practice.most_loss,
    )
    return practice, fault
