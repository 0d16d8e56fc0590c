"""What a pass leaves in the practice log: itself, where its drill stands, and how well its sections are remembered.

All of it belongs to the hands that played; the memory of a section also to the key it was played in."""

from __future__ import annotations

import contextlib
from datetime import datetime
from typing import Any, Protocol

from companion.chart.loops import loop_key
from companion.errors import LogError
from companion.practice.drills import climbing, fading, lining_up, recall
from companion.practice.facts import UNTOLD, share_slipped
from companion.practice.model import PassRecord
from companion.practice.planning.layers import PERFORMANCE
from companion.practice.planning.lessons import Swung
from companion.practice.planning.totals import keeps_symbols
from companion.session.drill import Drill, kept_as
from companion.session.layers import layers_on
from companion.session.stand import Stand
from companion.store.log.entry import Entry, SavedState
from companion.store.log.owner import Owner
from companion.theory.key import Key


class Log(Protocol):
    """What is asked of the practice log; each may raise LogError. owner: the companion that writes it."""

    owner: Owner

    def add_pass(self, record: PassRecord) -> None:
        """Write a pass that leaves nothing but itself."""

    def write(self, entry: Entry) -> None:
        """Write a pass and what it leaves, all of it or nothing."""

    def passes(
        self, song_id: str | None = None, *, limit: int | None = None, hands: str | None = None, chords: bool = True
    ) -> list[PassRecord]:
        """The latest so many of a song by these hands, in the order of time. chords: with their marks."""

    def state(self, song_id: str, loop_key: str, kind: str, hands: str = "", key: str = "") -> Any:
        """What was kept there, None where nothing was."""


HEARD = "heard"  # the kind of state that says a loop was listened to
SWUNG = "swung"  # and that the melody of a loop was played swung from memory


MET = "layer met"  # and that a layer was listened to, or performed; under the layer's name


def met_states(song_id: str, layers: frozenset[str]) -> tuple[SavedState, ...]:
    """What listening to these, or performing, leaves."""
    return tuple(SavedState(song_id, layer, MET, True) for layer in sorted(layers))


def performed_entry(song_id: str) -> Entry:
    """What a performance to the end leaves, beside itself: the lesson's last step is done."""
    return Entry(None, met_states(song_id, frozenset({PERFORMANCE})))


def heard_entry(stand: Stand, loop: tuple[int, ...]) -> Entry:
    """What listening to a loop leaves: no pass, only that it was heard."""
    heard = SavedState(stand.original.id, loop_key(loop), HEARD, list(loop))
    whole = len(loop) == len(stand.bars) and stand.hands == "both"
    return Entry(None, (heard, *(met_states(stand.original.id, layers_on(stand)) if whole else ())))


def keep_pass(log: Log, record: PassRecord, drill: Drill, stand: Stand, now: datetime) -> None:
    """Into the log, at once. For the rest see entry_of. Raises LogError."""
    log.write(entry_of(log, record, drill, stand, now))


def entry_of(log: Log, record: PassRecord, drill: Drill, stand: Stand, now: datetime) -> Entry:
    """What a pass leaves. drill: as the pass left it. stand: what was played from. now: UTC."""
    kept: dict[str, str | None] = {}
    if drill.fade is not None and (name := kept_as(drill.kind)):
        kept[name] = None if drill.finished else fading.to_json(drill.fade)
    if drill.climb is not None:
        kept["climb"] = None if drill.finished else climbing.to_json(drill.climb)
        kept["working_bpm"] = f"{drill.climb.working_bpm:.2f}"
    loop = loop_key(drill.loop)
    states = [SavedState(record.song_id, loop, kind, value, record.hands) for kind, value in kept.items()]
    if (hands := drill.lining_up) is not None:
        kept_hands = None if drill.finished else lining_up.to_json(hands)
        states.append(SavedState(record.song_id, loop, "together", kept_hands, "both"))
    if drill.two_ways is not None and drill.finished:
        before = log.state(record.song_id, loop, SWUNG, record.hands)
        tempo_bpm = max(record.tempo_bpm, before["tempo_bpm"] if _is_swung(before) else 0.0)
        value = {"loop": list(drill.loop), "tempo_bpm": tempo_bpm}
        states.append(SavedState(record.song_id, loop, SWUNG, value, record.hands))
    if record.fact != UNTOLD:
        states += _reviews(log, record, stand, now)
    return Entry(record, tuple(states))


def swung_of(value: Any) -> Swung | None:
    """What was kept of a phrase played swung; None where it is damaged."""
    return Swung(tuple(value["loop"]), float(value["tempo_bpm"])) if _is_swung(value) else None


def _is_swung(value: Any) -> bool:
    if not isinstance(value, dict):
        return False
    loop, tempo_bpm = value.get("loop"), value.get("tempo_bpm")
    return isinstance(loop, list) and all(isinstance(bar, int) for bar in loop) and isinstance(tempo_bpm, (int, float))


def key_of_memory(stand: Stand) -> str:
    """How the memory of a section names the key: "" for the song's own, whichever way it is spelled."""
    key = stand.key
    return "" if key.tonic.pc == stand.original.key.tonic.pc else Key.usual(key.tonic.pc, key.mode).name


def _reviews(log: Log, record: PassRecord, stand: Stand, now: datetime) -> list[SavedState]:
    """A pass with next to no cues, or hardly more than the chord symbols, is a recall of each section it holds."""
    memory = recall.FROM_SYMBOLS if keeps_symbols(record) else recall.FROM_MEMORY
    if record.cues > memory.most_help:
        return []
    states = []
    key = key_of_memory(stand)
    for section in record.sections:
        bars = [index for index in record.loop if stand.bars[index].section == section]
        share = share_slipped(record.fact, record.slipped, bars)
        try:
            saved = log.state(record.song_id, section, memory.kind, record.hands, key)
        except LogError:
            continue  # what cannot be read now is not written over
        card = _card(saved) or recall.new_card(record.song_id, section, now)
        reviewed = recall.review(card, share, record.cues, now, memory, heard=record.source == "heard")
        if reviewed != card:
            states.append(SavedState(record.song_id, section, memory.kind, reviewed.to_json(), record.hands, key))
    return states


def _card(saved: Any) -> recall.RecallCard | None:
    """A memory that is damaged is none: the section is learned anew."""
    with contextlib.suppress(LogError):
        return recall.from_json(saved) if saved else None
    return None
