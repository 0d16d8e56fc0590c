"""What passes leave: minutes, a line in the practice log, and what there is to say when one looks back on them.

A pass is kept at once and written later, after its messages were sent, so that the next tempo waits for no disk.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta

from companion.errors import LogError
from companion.practice.model import PassMarks, PassRecord
from companion.session.after_pass import LatestPasses
from companion.session.drill import Drill
from companion.session.memory import Log, heard_entry, keep_pass
from companion.session.minutes import Minutes
from companion.session.outcome import Outcome, PassResult, record_of
from companion.session.passes import PassEar
from companion.session.stand import Stand


class PassLog:
    """now: asked when a pass is kept, aware of its zone."""

    def __init__(self, log: Log, minutes: Minutes, now: Callable[[], datetime]) -> None:
        self._log, self._minutes, self._now = log, minutes, now
        self._latest = LatestPasses()
        self._unwritten: list[tuple[PassRecord, Drill, Stand, datetime]] = []
        self._to_look_back_on: tuple[PassEar, PassMarks] | None = None
        self._heard: tuple[Stand, tuple[int, ...]] | None = None

    def keep(
        self,
        ear: PassEar,
        outcome: Outcome,
        duration_s: float,
        stand: Stand,
        drills: tuple[Drill, Drill],
        *,
        broken: bool = False,
    ) -> PassRecord:
        """A pass, and its minutes. stand: that is practised. drills: as it was while the pass was played, and as that left it. broken: a fault
        cut it off."""
        assert ear.began_at is not None  # every pass that is played here has it
        played, left = drills
        record = record_of(ear, played, played.next_pass, outcome, duration_s, broken=broken)
        self._unwritten.append((record, left, stand, self._now()))
        self._minutes.count(duration_s, ear.began_at + timedelta(seconds=duration_s))
        self._to_look_back_on = (ear, outcome.marks) if outcome.marks is not None else None
        return record

    def heard(self, stand: Stand, loop: tuple[int, ...]) -> None:
        """A loop was listened to, to its end."""
        self._heard = stand, loop

    def look_back(self, result: PassResult | None) -> PassResult | None:
        """The result of the pass that was kept last, with what there is to say about it, once."""
        if self._to_look_back_on is None or result is None:
            return result
        (ear, marks), self._to_look_back_on = self._to_look_back_on, None
        return replace(result, advice=self._latest.advice(ear.stand, ear.arrangement, ear.tempo_bpm, marks))

    def write(self) -> str:
        """Write what was kept since the last call. A sentence where the log cannot be written, which stops nothing; else ""."""
        fault = ""
        heard, self._heard = self._heard, None
        unwritten, self._unwritten = self._unwritten, []
        if heard is not None:
            try:
                self._log.write(heard_entry(*heard))
            except LogError as error:
                fault = str(error)
        for record, drill, stand, at in unwritten:
            try:
                if record.broken:
                    self._log.add_pass(record)
                else:
                    keep_pass(self._log, record, drill, stand, at)
            except LogError as error:
                fault = str(error)
        return fault
