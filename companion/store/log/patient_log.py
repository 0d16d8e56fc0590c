"""The practice log of a whole session: what cannot be written now waits in memory and is written as soon as it can be.

A full disk or another program that holds the file stops no practising: writing never raises LogError here, it leaves a sentence in
`messages`. Each later write tries again what waits, and so does `close`, which says what was lost.
"""

from __future__ import annotations

import json
import sqlite3
from datetime import tzinfo
from pathlib import Path
from typing import Any

from companion.errors import LogError
from companion.practice.model import PassRecord
from companion.store.log.log_file import log_reason
from companion.store.log.practice_log import WAIT_S, PracticeLog, State, insert_pass, insert_state
from companion.store.paths import Paths

BRIEFLY_S = 0.3  # for another program: as nothing is lost, the screen need not stand still for longer
NOT_REMEMBERED = (
    "What you play is kept in the practice log as soon as that can be had; until then it is lost when you leave."
)

Key = tuple[str, str, str]  # song id, loop, kind


class PatientLog(PracticeLog):
    """A PracticeLog that holds on to what it was given. passes_waiting: how many are not in the file yet."""

    def __init__(self, path: Path | None, connection: sqlite3.Connection, wait_s: float, zone: tzinfo | None) -> None:
        super().__init__(path, connection, wait_s, zone)
        self._passes: list[PassRecord] = []
        self._states: dict[Key, Any] = {}
        self._closed = False
        self._elsewhere: Paths | None = None  # of the log that could not be opened, while this one is in memory
        self._fault = ""

    @classmethod
    def begin(cls, paths: Paths) -> PatientLog:
        """The student's log, in memory while it cannot be opened; `messages` says so. Never raises LogError."""
        try:
            return cls.open(paths, BRIEFLY_S)
        except LogError as error:
            log = cls.in_memory()
            log._wait_s, log._elsewhere, log._fault = BRIEFLY_S, paths, log_reason(error)
            log.messages.append(f"{error} {NOT_REMEMBERED}")
            return log

    @property
    def passes_waiting(self) -> int:
        return self.count() if self._elsewhere else len(self._passes)

    # --- writing

    def add_pass(self, record: PassRecord) -> None:
        """Write a pass, or keep it until it can be written. Raises LogError only for one that no log can hold."""
        self._row(record)
        with self._lock:
            self._passes.append(record)
            self._catch_up()

    def put_state(self, song_id: str, loop_key: str, kind: str, value: Any) -> None:
        with self._lock:
            self._states[song_id, loop_key, kind] = json.loads(json.dumps(value))
            if not self._passes:  # else it was just tried, and the screen waits
                self._write_now()

    def close(self) -> None:
        """Try once more, for as long as another program may take; what cannot be written is lost, and said."""
        with self._lock:
            if self._closed:
                return
            self._closed = True
            if self._elsewhere or self._passes or self._states:
                self._wait_s = WAIT_S
                self._connection.execute(f"PRAGMA busy_timeout = {round(1000 * WAIT_S)}")
                self._catch_up()
            if lost := self.passes_waiting:
                self.messages.append(
                    f"{_passes(lost)} could not be written to the practice log and {'is' if lost == 1 else 'are'} lost: {self._fault}."
                )
            super().close()

    def _catch_up(self) -> None:
        if self._elsewhere:
            self._find_file()
        self._write_now()

    def _write_now(self) -> None:
        """Write all that waits, in order and at once: all of it or nothing."""
        count = len(self._passes)
        try:
            self._write(self._write_all)
        except LogError as error:
            self._fault = log_reason(error)
            if not self._closed:
                self._say(
                    f"{_passes(count)} not in the practice log yet: {self._fault}."
                    if count
                    else f"Not remembered yet: {self._fault}."
                )
            return
        self._passes.clear()
        self._states.clear()
        if self._fault and self._elsewhere is None:
            self._fault = ""
            self._say(f"The practice log can be written again: {_passes(count)} now in it.")

    def _say(self, sentence: str) -> None:
        if sentence not in self.messages[-1:]:
            self.messages.append(sentence)

    def _write_all(self, connection: sqlite3.Connection) -> None:
        for record in self._passes:
            insert_pass(connection, self._row(record), record)
        for key, value in self._states.items():
            insert_state(connection, key, value)

    def _find_file(self) -> None:
        """The log that could not be opened, where it can be by now, takes the place of the one in memory and all that is in that."""
        try:
            found = PracticeLog.open(self._elsewhere, self._wait_s)
        except LogError as error:
            self._fault = log_reason(error)
            return
        passes, states = list(self.each_pass()), self.states()
        self._connection.close()
        self.path, self._connection, self._mark = found.path, found._connection, found._mark
        self._elsewhere = None
        self.messages += found.messages
        # What the file knows of drills and memories comes from longer practice than this one evening's.
        known = {_key(state) for state in super().states()}
        self._passes = passes + self._passes
        self._states = {_key(state): state.value for state in states if _key(state) not in known}

    # --- reading what waits too

    def state(self, song_id: str, loop_key: str, kind: str) -> Any:
        with self._lock:
            key = (song_id, loop_key, kind)
            return self._states[key] if key in self._states else super().state(*key)

    def states(self, kind: str | None = None, song_id: str | None = None) -> list[State]:
        with self._lock:
            values = {_key(state): state.value for state in super().states(kind, song_id)} | self._states
            return [
                State(*key, value)
                for key, value in sorted(values.items())
                if value is not None and kind in (None, key[2]) and song_id in (None, key[0])
            ]

    def delete_all(self, song_id: str | None = None) -> None:
        with self._lock:
            super().delete_all(song_id)
            self._passes = [record for record in self._passes if song_id not in (None, record.song_id)]
            self._states = {key: value for key, value in self._states.items() if song_id not in (None, key[0])}


def _key(state: State) -> Key:
    return state.song_id, state.loop_key, state.kind


def _passes(count: int) -> str:
    return f"{count} pass{'' if count == 1 else 'es'}"
