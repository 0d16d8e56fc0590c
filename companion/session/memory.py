"""What a pass leaves in the practice log: itself, where its drill stands, and how well its sections are remembered."""

from __future__ import annotations

from datetime import datetime
from typing import Protocol

from companion.chart.loops import loop_key
from companion.practice.drills import fading, ramp, recall
from companion.practice.model import PassRecord
from companion.session.drill import Drill
from companion.session.stand import Stand


class Log(Protocol):
    """What is asked of the practice log; each may raise LogError."""

    def add_pass(self, record: PassRecord) -> None: ...
    def state(self, song_id: str, loop_key: str, kind: str) -> str | None: ...
    def put_state(self, song_id: str, loop_key: str, kind: str, value: str | None) -> None: ...


def keep_pass(log: Log, record: PassRecord, drill: Drill, stand: Stand, now: datetime) -> None:
    """drill: as the pass left it. stand: what was played from. Raises LogError."""
    log.add_pass(record)
    key = loop_key(drill.loop)
    over = drill.finished
    if drill.fade is not None and drill.kind != "dark":
        log.put_state(record.song_id, key, "fade", None if over else fading.to_json(drill.fade))
    if drill.climb is not None:
        log.put_state(record.song_id, key, "climb", None if over else ramp.to_json(drill.climb))
        log.put_state(record.song_id, key, "working_bpm", f"{drill.climb.working_bpm:.2f}")
    if record.cues <= recall.MOST_HELP and (record.source == "heard" or record.answer):
        _review(log, record, stand, now)


def _review(log: Log, record: PassRecord, stand: Stand, now: datetime) -> None:
    """A pass with next to no cues is a recall of each section it holds."""
    for section in record.sections:
        bars = [index for index in record.loop if stand.bars[index].section == section]
        share = 1.0 - len(set(bars) & set(record.slipped)) / len(bars) if record.slipped else record.share_right
        saved = log.state(record.song_id, section, "recall")
        card = recall.from_json(saved) if saved else recall.new_card(record.song_id, section, now)
        reviewed = recall.review(card, share, record.cues, now)
        if reviewed != card:
            log.put_state(record.song_id, section, "recall", reviewed.to_json())
