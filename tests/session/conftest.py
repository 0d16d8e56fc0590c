"""A log in memory, and desks to practise on."""

from __future__ import annotations

import pytest
from desk import Desk, put, right
from session_songs import FOUR

from companion.session.drill import DrillSettings, new_drill
from companion.session.practice import Practice
from companion.store.log.practice_log import PracticeLog


@pytest.fixture
def log():
    with PracticeLog.in_memory() as log:
        yield log


@pytest.fixture
def practise(settings, log):
    """A desk with everything on it; nothing plays yet."""

    def make(
        hands=right, kind="play", text=FOUR, *, loop=None, wishes=None, drill=None, stand=None, log=log, **options
    ):
        stand = stand or put(text, settings, **options.pop("changes", {}))
        if loop:
            stand = stand.with_loop(loop, "these")
        desk_options = {
            name: options.pop(name) for name in ("latency_s", "lead_s", "ticks", "before_s", "looks") if name in options
        }
        practice = Practice(
            stand, drill or new_drill(stand, kind, wishes or DrillSettings()), log, now=lambda: desk.clock(), **options
        )
        desk = Desk(practice, hands, **desk_options)
        return desk

    return make
