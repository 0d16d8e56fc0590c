"""Free time as the conductor tells of it: how it begins, and what each key brings."""

from __future__ import annotations

from companion.session.changes import Began, Changes, PassOver
from companion.session.free import NOTHING_TO_WAIT_FOR, FreeTime
from companion.session.memory import Log
from companion.session.minutes import Minutes
from companion.session.shown_passes import ShownPasses
from companion.session.stand import Stand


def begin_free(stand: Stand, log: Log, now_s: float, minutes: Minutes, changes: Changes) -> FreeTime | None:
    """Free time on the stand's loop, with its first sentence told; None where there is nothing to wait for, which is said."""
    free = FreeTime(stand, log, now_s, minutes=minutes)
    if free.target is None:
        changes.said(NOTHING_TO_WAIT_FOR)
        return None
    changes.append(Began(free.target.index))
    _say(free, changes)
    return free


def hear_free(free: FreeTime, report: object, shown: ShownPasses, changes: Changes) -> bool:
    """Take a report of the sound process; whether a time round was told as over."""
    free.hear(report)
    _say(free, changes)
    shown.signs = free.signs
    if free.result is None or not shown.is_news(free.result):
        return False
    changes.append(PassOver(free.result, None))
    return True


def _say(free: FreeTime, changes: Changes) -> None:
    changes.said(free.say)
    free.say = ""
