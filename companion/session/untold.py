"""Passes that wait for the student's word are in the log too, aside: whatever ends the companion, none of them is lost.

They stand there as a state of their song. One that is told of becomes a pass of its own, of the same id; those that are found at the next start
are kept as if nobody had told of them, with the slips that were. Each companion keeps its own: what one that still runs waits for is left to it.
"""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from dataclasses import fields
from typing import Any

from companion.errors import LogError
from companion.practice.model import PassRecord
from companion.store.log.entry import Entry, SavedState
from companion.store.log.practice_log import PracticeLog

KIND = "untold"
_FIELDS = tuple(field.name for field in fields(PassRecord))
_LISTS = ("loop", "sections", "slipped", "chords")


def set_aside(song_id: str, records: Sequence[PassRecord], owner: str = "") -> Entry:
    """What keeps these passes, or none any longer, until they are told of. owner: the companion they wait in, see `store.log.owner`."""
    rows = [{name: getattr(record, name) for name in _FIELDS} for record in records]
    return Entry(None, (SavedState(song_id, owner, KIND, rows or None),))


def take_back(log: PracticeLog) -> int:
    """Keep what an evening that broke off left waiting; how many passes. For whoever begins to practise. What is damaged is left out, and so is all of it where the log cannot be read."""
    count = 0
    with contextlib.suppress(LogError):
        for state in log.states(KIND):
            if log.owner.runs(state.loop_key):
                continue
            for record in _records(state.value):
                with contextlib.suppress(LogError):
                    log.add_pass(record)
                    count += 1
            log.write(set_aside(state.song_id, (), state.loop_key))
    return count


def _records(value: object) -> list[PassRecord]:
    found = []
    for row in value if isinstance(value, list) else ():
        with contextlib.suppress(TypeError, ValueError, AttributeError):
            values: dict[str, Any] = {name: tuple(value) if name in _LISTS else value for name, value in row.items()}
            found.append(PassRecord(**values))
    return found
