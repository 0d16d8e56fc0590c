"""What passes leave: minutes, a line in the practice log, and what there is to say when one looks back on them.

A pass is kept at once and written later, after its messages were sent, so that the next tempo waits for no disk.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import datetime, timedelta

from companion.errors import LogError
from companion.practice.model import PassMarks, PassRecord
from companion.practice.planning.by_itself import (
    ASK_ALONE,
    DEFAULT_MOST_LOSS,
    figures_under,
    loss_of,
    loss_words,
    runs_by_itself,
)
from companion.practice.planning.layers import LAYER_WORDS, PERFORMANCE, SWING, next_layer
from companion.session.after_pass import LatestPasses
from companion.session.drill import Drill
from companion.session.layers import can_swing, layers_on
from companion.session.memory import Log, heard_entry, keep_pass
from companion.session.minutes import Minutes
from companion.session.outcome import Outcome, PassResult, record_of
from companion.session.passes import PassEar
from companion.session.stand import Stand
from companion.session.untold import set_aside

LATEST_READ = 60  # passes of the left hand, and of both, that are compared


class PassLog:
    """now: asked when a pass is kept, aware of its zone. most_loss: see planning/by_itself.py."""

    def __init__(
        self, log: Log, minutes: Minutes, now: Callable[[], datetime], most_loss: float = DEFAULT_MOST_LOSS
    ) -> None:
        self._log, self._minutes, self._now, self._most_loss = log, minutes, now, most_loss
        self._latest = LatestPasses()
        self._unwritten: list[tuple[PassRecord, Drill, Stand, datetime]] = []
        self._to_look_back_on: tuple[PassEar, PassMarks] | None = None
        self._aside: tuple[str, list[PassRecord]] | None = None  # of a song, what waits
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
        id: str = "",
    ) -> PassRecord:
        """A pass, and its minutes. id: that it waited under, "" where it did not. stand: that is practised. drills: as it was while the pass was played, and as that left it. broken: a fault
        cut it off."""
        assert ear.began_at is not None  # every pass that is played here has it
        played, left = drills
        record = record_of(ear, played, played.next_pass, outcome, duration_s, broken=broken)
        record = replace(record, id=id or record.id)
        self._unwritten.append((record, left, stand, self._now()))
        self._minutes.count(duration_s, ear.began_at + timedelta(seconds=duration_s))
        self._to_look_back_on = (ear, outcome.marks) if outcome.marks is not None else None
        return record

    def set_aside(self, song_id: str, waits: Iterable[tuple[str, PassEar, Drill, Outcome]]) -> None:
        """These passes of a song wait for the student's word, and no others. waits: (id, pass, drill as it was, what was told of it so far)."""
        records = [
            replace(record_of(ear, drill, drill.next_pass, outcome, ear.end_s - ear.start_s), id=id)
            for id, ear, drill, outcome in waits
        ]
        self._aside = song_id, records

    def heard(self, stand: Stand, loop: tuple[int, ...]) -> None:
        """A loop was listened to, to its end."""
        self._heard = stand, loop

    def look_back(self, result: PassResult | None) -> PassResult | None:
        """The result of the pass that was kept last, with what there is to say about it, once."""
        if self._to_look_back_on is None or result is None:
            return result
        (ear, marks), self._to_look_back_on = self._to_look_back_on, None
        advice = self._latest.advice(ear.stand, ear.arrangement, ear.tempo_bpm, marks)
        # Beside what the left hand came to, as a low screen shows the first lines only.
        lines = (*result.lines[:1], *self._by_itself(result.record, ear.stand), *result.lines[1:])
        return replace(result, advice=advice, lines=lines)

    def _by_itself(self, record: PassRecord, stand: Stand) -> tuple[str, ...]:
        """What the left hand lost under the melody, and the layer that may come next."""
        if figures_under(record) is None:
            return ()
        try:
            alone, both = (
                self._log.passes(record.song_id, limit=LATEST_READ, hands=hands, chords=False)
                for hands in ("left", "both")
            )
        except LogError:
            return ()  # it is said where the pass is written
        loss = loss_of(record, alone)
        if loss is None:
            return (ASK_ALONE,)
        lines = [loss_words(loss, self._most_loss)]
        if runs_by_itself([*both, record], alone, self._most_loss):
            lines.append(next_layer_words(stand))
        return tuple(lines)

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
        aside, self._aside = self._aside, None
        if aside is not None:  # once those that no longer wait are in the log
            try:
                self._log.write(set_aside(*aside, self._log.owner.id))
            except LogError as error:
                fault = str(error)
        return fault


def next_layer_words(stand: Stand) -> str:
    """What may come next where the left hand runs by itself under the melody. Never locked: only proposed."""
    layer = next_layer(layers_on(stand), swings=can_swing(stand))
    where = {SWING: "o, then s", PERFORMANCE: "o, then g"}.get(layer, "o, then z")
    return f"The next layer may come: {LAYER_WORDS[layer]} ({where})."
