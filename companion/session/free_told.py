"""Free time as the conductor tells of it: how it begins and ends, and what each key brings."""

from __future__ import annotations

from typing import Any

from companion.session.changes import Began, Changes, Ended, PassOver
from companion.session.ear import Ear
from companion.session.free import NOTHING_TO_WAIT_FOR, FreeTime
from companion.session.memory import Log
from companion.session.minutes import Minutes
from companion.session.shown_passes import ShownPasses
from companion.session.stand import Stand


class FreeOnStand:
    """Free time on the stand's loop, while there is any. minutes: they are counted there. changes: takes what there is to tell. ear: the microphone's."""

    def __init__(self, minutes: Minutes, changes: Changes, ear: Ear) -> None:
        self._ear = ear
        self._minutes = minutes
        self._changes = changes
        self._free: FreeTime | None = None

    @property
    def waits(self) -> bool:
        """Whether a shell is waited for."""
        return self._free is not None

    @property
    def fields(self) -> dict[str, Any]:
        """What is shown of it, as fields of session.changes.State."""
        return self._free.shown if self._free is not None else {}

    def begin(self, stand: Stand, log: Log, now_s: float, shown: ShownPasses) -> bool:
        """Begin, and tell the first sentence; where there is nothing to wait for, which is said, it has not begun."""
        free = FreeTime(stand, log, now_s, minutes=self._minutes, ear=self._ear)
        if free.target is None:
            self._changes.said(NOTHING_TO_WAIT_FOR)
            return False
        self._free = free
        self._changes.append(Began(free.target.index))
        self._say(free)
        shown.told = None
        shown.clear()
        return True

    def hear(self, report: object, shown: ShownPasses) -> bool:
        """Take a report of the sound process; whether a time round was told as over."""
        free = self._free
        if free is None:
            return False
        free.hear(report)
        self._say(free)
        shown.signs = free.signs
        if free.result is None or not shown.is_news(free.result):
            return False
        self._changes.append(PassOver(free.result, None))
        return True

    def stop(self, now_s: float, shown: ShownPasses) -> None:
        """Nothing is waited for any more."""
        if self._free is not None:
            shown.told = self._free.stop(now_s)
            self._free = None
            self._changes.append(Ended(PassOver(shown.told, None) if shown.told is not None else None))

    def _say(self, free: FreeTime) -> None:
        self._changes.said(free.say)
        free.say = ""
