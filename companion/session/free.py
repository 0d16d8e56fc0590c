"""Free time: no click; the companion waits on each chord of the loop until its shell is down. Needs a keyboard."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

from companion.errors import LogError
from companion.practice.drills.free_time import (
    Found,
    Target,
    Waiting,
    all_up,
    key_down,
    key_up,
    start_waiting,
    targets_of,
)
from companion.practice.model import PassRecord
from companion.practice.reach import left_hand_ceiling
from companion.session.memory import Log
from companion.session.minutes import Minutes
from companion.session.outcome import Outcome, PlayedPass, make_record, place_row
from companion.session.stand import Stand
from companion.session.wall_clock import within_calendar
from companion.sound.messages import NoteIn, Notice

SLOWEST_SHOWN = 3  # changes in the summary
LONGEST_WAIT_S = 60.0  # what is longer was spent away from the keyboard and is not counted as practice


class FreeTime:
    """Goes round the loop, chord by chord. target: what is waited for. result: the last time round, None before.

    lines: its summary. say: a sentence for the screen.
    """

    def __init__(
        self,
        stand: Stand,
        log: Log,
        now_s: float,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
        minutes: Minutes | None = None,
        hands: str = "left",
    ) -> None:
        self.stand = stand
        self.result: PassRecord | None = None
        self.lines: tuple[str, ...] = ()
        self.say = ""
        self._log = log
        self._now: Callable[[], datetime] = lambda: within_calendar(now())
        self._minutes = minutes or Minutes()
        self._hands = hands
        self._start(now_s)

    def _start(self, now_s: float) -> None:
        bars = self.stand.arrangement().bars
        self._waiting: Waiting = start_waiting(targets_of(bars), now_s, left_hand_ceiling(bars))
        self._began_s = now_s

    @property
    def target(self) -> Target | None:
        """None only where the loop holds no chord at all."""
        return self._waiting.target

    def hear(self, report: object) -> None:
        """Take a report of the sound process."""
        if isinstance(report, Notice) and report.kind == "lost":
            self._waiting = all_up(self._waiting)
        if not isinstance(report, NoteIn):
            return
        if report.velocity == 0:
            self._waiting = key_up(self._waiting, report.note)
            return
        self._waiting = key_down(self._waiting, report.time_s, report.note)
        if self._waiting.is_over and self._waiting.found:
            self._finish(report.time_s)

    def _finish(self, now_s: float) -> None:
        found = self._waiting.found
        duration_s = sum(min(each.hesitation_s, LONGEST_WAIT_S) for each in found)
        slipped = frozenset(each.target.index for each in found if each.extra)
        clean = sum(not each.extra for each in found)
        began_at = self._now() - timedelta(seconds=now_s - self._began_s)
        played = PlayedPass(began_at, duration_s, self.stand.loop, tempo_bpm=0.0, kind="free", hands=self._hands)
        outcome = Outcome("heard", share_right=clean / len(found), slipped=slipped)
        rows = tuple(self._row(each) for each in found)
        self.result = make_record(self.stand, played, outcome, clean=clean == len(found), chords=rows)
        self.lines = self._summary(found, clean)
        self._minutes.count(duration_s, self._now())
        try:
            self._log.add_pass(self.result)
        except LogError as error:
            self.say = str(error)
        down = self._waiting.down  # the last shell is still held
        self._start(now_s)
        self._waiting = replace(self._waiting, down=down)

    def _row(self, found: Found) -> dict[str, Any]:
        return {
            **place_row(self.stand, found.target.index, found.target.chord),
            "verdict": "wrong" if found.extra else "right",
            "offset_ms": None,
            "played": list(found.target.notes),
            "hesitation_ms": round(1000 * found.hesitation_s),
        }

    def _summary(self, found: tuple[Found, ...], clean: int) -> tuple[str, ...]:
        symbols = [self.stand.bars[each.target.index].chords[each.target.chord].symbol for each in found]
        changes = [
            (each.hesitation_s, f"{before} to {after}")
            for before, after, each in zip(symbols, symbols[1:], found[1:], strict=False)
            if before != after
        ]
        slowest = sorted(changes, reverse=True)[:SLOWEST_SHOWN]
        lines = [f"{clean} of {len(found)} shells found at once."]
        if slowest:
            lines.append("Longest waits:")
            lines += [f"  {words}: {hesitation_s:.1f} s" for hesitation_s, words in slowest]
        return tuple(lines)
