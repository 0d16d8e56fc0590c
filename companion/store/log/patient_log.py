"""The practice log of a whole session: what is played waits in memory until it is in the file, and is kept there too until the end.

Writing is done by a thread of its own, so that nobody who hands in a pass waits for the disk. A full disk or another program that holds
the file stops no practising: writing never raises LogError here, it leaves a sentence in `messages`. Each later write tries again what
waits, in order, and so does `close`, which says what was lost. Where the file is gone, or was damaged and set aside, all of this session
goes into the new one. Whoever reads sees what waits as if it were in the file.
"""

from __future__ import annotations

import json
import sqlite3
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date, tzinfo
from pathlib import Path
from typing import Any, TypeVar

from companion.base.text import plural
from companion.errors import LogError
from companion.practice.model import PassRecord
from companion.practice.planning.totals import DayTotal, Tally, add_days, add_tallies, day_totals, tallies
from companion.store.log.entry import Entry, SavedState, StateKey, insert_pass, insert_states
from companion.store.log.log_file import connect, log_error, log_reason
from companion.store.log.owner import Owner
from companion.store.log.practice_log import WAIT_S, PracticeLog, WantedPasses
from companion.store.log.rows import PASS_FIELDS, from_row
from companion.store.paths import Paths

T = TypeVar("T")
BRIEFLY_S = 0.3  # for another program that holds the file, while it is being opened
NOT_REMEMBERED = (
    "What you play is kept in the practice log as soon as that can be had; until then it is lost when you leave."
)
# Where the file could not be read, what it knows of these is of more worth than what one evening without it came to.
_OF_MONTHS = ("recall", "recall-symbols")


@dataclass(frozen=True, slots=True)
class _Held:
    """A pass of this session. row: as it goes into the file, the marks of its chords deflated; record: without those."""

    row: dict[str, Any]
    record: PassRecord

    def whole(self) -> PassRecord:
        return from_row(tuple(self.row[name] for name in PASS_FIELDS))

    def bare(self) -> PassRecord:
        return replace(self.record, started_at=self.row["started_at"])


class PatientLog(PracticeLog):
    """A PracticeLog that holds on to what it was given. It may be written and read from any thread.

    passes_waiting: how many are not in the file yet. on_message: called, from any thread, when there is a new one in `messages`."""

    def __init__(self, path: Path | None, connection: sqlite3.Connection, wait_s: float, zone: tzinfo | None) -> None:
        super().__init__(path, connection, wait_s, zone)
        self.on_message: Callable[[], None] = lambda: None
        self._changed = threading.Condition()  # guards what follows
        self._session: list[_Held] = []
        self._written = 0  # so many of them are in the file
        self._states: dict[StateKey, Any] = {}
        self._fresh: set[StateKey] = set()  # those of them that are not in the file
        self._asked = self._tried = 0  # writes
        self._closed = False
        self._thread: threading.Thread | None = None
        self._elsewhere: Paths | None = None  # of the log that could not be opened, while this one is in memory
        self._file: PracticeLog | None = None  # through which is written
        self._renewals = 0
        self._fault = ""

    @classmethod
    def begin(cls, paths: Paths) -> PatientLog:
        """The student's log, in memory while it cannot be opened; `messages` says so. Never raises LogError."""
        try:
            log = cls.open(paths, BRIEFLY_S)
        except LogError as error:
            log = cls.in_memory()
            log._wait_s, log._elsewhere, log._fault = BRIEFLY_S, paths, log_reason(error)
            log.messages.append(f"{error} {NOT_REMEMBERED}")
        log.owner = Owner.begin(paths.running)
        return log

    @property
    def passes_waiting(self) -> int:
        """How many passes are not in the file yet."""
        with self._changed:
            return len(self._session) - self._written

    # --- writing

    def write(self, entry: Entry) -> None:
        """Keep a pass and what it leaves, and have them written. Raises LogError only for what no log can hold."""
        held = None if entry.record is None else _Held(self._row(entry.record), replace(entry.record, chords=()))
        values = {state.place: json.loads(json.dumps(state.value)) for state in entry.states}
        with self._changed:
            if held is not None and all(held.record.id != other.record.id for other in self._session):
                self._session.append(held)
            self._states |= values
            self._fresh |= values.keys()
            self._ask()

    def _ask(self) -> None:
        """Have the thread write what waits, and start it where there is none."""
        self._asked += 1
        if self._thread is None and not self._closed:
            self._thread = threading.Thread(target=self._write_on, name="practice log", daemon=True)
            self._thread.start()
        self._changed.notify_all()

    def wait(self, wait_s: float) -> None:
        """As PracticeLog.wait, for writing too."""
        super().wait(wait_s)
        if self._file is not None:
            self._file.wait(wait_s)

    def settle(self, timeout_s: float | None = None) -> bool:
        """Wait until all that was handed in so far was written, or tried to. Gives whether it was in time."""
        with self._changed:
            asked = self._asked
            return self._changed.wait_for(lambda: self._tried >= asked, timeout_s)

    def close(self) -> None:
        """Try once more, for as long as another program may take; what cannot be written is lost, and said."""
        with self._changed:
            if self._closed:
                return
            self._closed = True
            self._changed.notify_all()
        if self._thread is not None:
            self._thread.join()
        if self._waits:
            self.wait(WAIT_S)
            self._write_now()
        if lost := self.passes_waiting:
            self.messages.append(
                f"{_passes(lost)} could not be written to the practice log and {'is' if lost == 1 else 'are'} lost: {self._fault}."
            )
        elif self._fresh and self._elsewhere is None:
            self.messages.append(
                f"What was ticked off or set last could not be written to the practice log and is lost: {self._fault}."
            )
        if self._file is not None:
            self._file.close()
        super().close()
        self.owner.end()

    def _write_on(self) -> None:
        """In a thread of its own, until the log is closed."""
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._asked > self._tried or self._closed)
                asked = self._asked
                if asked == self._tried:
                    return
            self._write_now()
            with self._changed:
                self._tried = asked
                self._changed.notify_all()

    @property
    def _waits(self) -> bool:
        with self._changed:
            return self._written < len(self._session) or bool(self._fresh)

    def _write_now(self) -> None:
        """Write all that waits, in order and at once: all of it or nothing."""
        before = len(self.messages)
        waiting = self.passes_waiting
        try:
            while self._waits:  # more than once where a fresh file takes the place of the old one
                self._write_waiting()
        except LogError as error:
            self._fault = log_reason(error)
            if waiting and not self._closed:
                self._say(f"{_passes(waiting)} not in the practice log yet: {self._fault}.")
            elif self._elsewhere is None and not self._closed:  # else it was said at the start
                self._say(f"Not remembered yet: {self._fault}.")
        else:
            if self._fault:
                self._fault = ""
                self._say(f"The practice log can be written again: {_passes(waiting)} now in it.")
        if len(self.messages) > before:
            self.on_message()

    def _write_waiting(self) -> None:
        file = self._file_to_write()
        with self._changed:
            held = self._session[self._written :]
            states = {place: self._states[place] for place in self._fresh}

        def insert(connection: sqlite3.Connection) -> None:
            for each in held:
                insert_pass(connection, each.row, each.record)
            insert_states(connection, states.items())

        try:
            file._write(insert)
        finally:
            if file is not self:
                self.messages += file.messages
                file.messages.clear()
        with self._changed:
            if file.renewed != self._renewals:
                self._renewals = file.renewed
                self._all_waits()
            else:
                self._written += len(held)
                self._fresh -= {place for place, value in states.items() if self._states.get(place) is value}

    def _all_waits(self) -> None:
        self._written = 0
        self._fresh = set(self._states)

    def _file_to_write(self) -> PracticeLog:
        """A way of its own into the file, so that reading waits for no writing. Raises LogError."""
        if self._elsewhere is not None:
            self._find_file(self._elsewhere)
        if self._file is None:
            if self.path is None:
                return self
            # What became of the file since it was opened for reading is found out there, and said.
            self._run(lambda connection: connection.execute("SELECT name FROM migration").fetchall())
            try:
                self._file = PracticeLog(self.path, connect(self.path, self._wait_s), self._wait_s, self.zone)
            except (sqlite3.Error, OSError) as error:
                raise log_error(self.path, error) from error
        return self._file

    def _renew(self, path: Path) -> None:
        super()._renew(path)
        if self._file is not None and self._file._mark == self._mark:
            return  # what is written goes there already
        with self._changed:
            self._all_waits()
            self._ask()

    def _find_file(self, paths: Paths) -> None:
        """The log that could not be opened takes the place of the one in memory. Raises LogError."""
        found = PracticeLog.open(paths, self._wait_s)
        with self._lock:
            self._connection.close()
            self.path, self._connection, self._mark = found.path, found._connection, found._mark
        self._elsewhere = None
        self.messages += found.messages
        known = {state.place for state in super().states()}
        with self._changed:
            for place in [place for place in self._states if place.kind in _OF_MONTHS and place in known]:
                del self._states[place]
            self._all_waits()

    def _say(self, sentence: str) -> None:
        if sentence not in self.messages[-1:]:
            self.messages.append(sentence)

    # --- reading what waits too

    def _with_waiting(
        self, read: Callable[[], T], song_id: str | None, hands: str | None = None
    ) -> tuple[T, list[_Held]]:
        """What is read from the file, and the passes that were not in it at that moment."""
        self._look()
        while True:
            with self._changed:
                held = [
                    each
                    for each in self._session[self._written :]
                    if song_id in (None, each.record.song_id) and hands in (None, each.record.hands)
                ]
            before = self._there(held)
            found = read()
            if self._there(held) == before:  # else they were written in between
                return found, [each for each in held if each.record.id not in before]

    def _look(self) -> None:
        """Find out whether the file is still the one that it was: in a fresh one all of this session is yet to be written."""
        self._run(lambda connection: None)

    def _there(self, held: list[_Held]) -> set[str]:
        ids = [each.record.id for each in held]
        marks = ", ".join("?" * len(ids))
        return set(self._read(f"SELECT id FROM pass WHERE id IN ({marks})", ids, lambda row: row[0])) if ids else set()

    def _passes(self, wanted: WantedPasses) -> list[PassRecord]:
        found, held = self._with_waiting(lambda: PracticeLog._passes(self, wanted), wanted.song_id, wanted.hands)
        found += [
            each.whole() if wanted.chords else each.bare()
            for each in held
            if (wanted.broken or not each.record.broken) and each.row["started_at"] >= wanted.since
        ]
        found.sort(key=lambda record: record.started_at)
        return found if wanted.limit is None else found[max(0, len(found) - wanted.limit) :]

    def each_pass(self, song_id: str | None = None) -> Iterator[PassRecord]:
        """As PracticeLog.each_pass, with what waits."""
        yielded = set()
        self._look()
        with self._changed:
            held = [each for each in self._session[self._written :] if song_id in (None, each.record.song_id)]
        for record in super().each_pass(song_id):
            yielded.add(record.id)
            yield record
        yield from (each.whole() for each in held if each.record.id not in yielded)

    def day_totals(
        self, song_id: str | None = None, since: date | None = None, hands: str | None = None
    ) -> list[DayTotal]:
        """As PracticeLog.day_totals, with what waits."""
        found, held = self._with_waiting(lambda: PracticeLog.day_totals(self, song_id, since, hands), song_id, hands)
        waiting = day_totals((each.record for each in held), self.zone)
        more = [total for total in waiting if since is None or total.day >= since.isoformat()]
        return add_days(found, more) if more else found

    def song_ids(self) -> set[str]:
        """As PracticeLog.song_ids, with what waits."""
        found, held = self._with_waiting(lambda: PracticeLog.song_ids(self), None)
        return found | {each.record.song_id for each in held if not each.record.broken}

    def hands_of(self, song_id: str) -> set[str]:
        """As PracticeLog.hands_of, with what waits."""
        found, held = self._with_waiting(lambda: PracticeLog.hands_of(self, song_id), song_id)
        return found | {each.record.hands for each in held if not each.record.broken}

    def tallies(self, song_id: str) -> list[Tally]:
        """As PracticeLog.tallies, with what waits."""
        found, held = self._with_waiting(lambda: PracticeLog.tallies(self, song_id), song_id)
        return add_tallies(found, tallies(each.record for each in held)) if held else found

    def count(self, song_id: str | None = None) -> int:
        """As PracticeLog.count, with what waits."""
        found, held = self._with_waiting(lambda: PracticeLog.count(self, song_id), song_id)
        return found + sum(not each.record.broken for each in held)

    def state(self, song_id: str, loop_key: str, kind: str, hands: str = "", key: str = "") -> Any:
        """As PracticeLog.state, with what waits."""
        place = StateKey(song_id, loop_key, kind, hands, key)
        self._look()
        with self._changed:
            if place in self._fresh:
                return self._states[place]
        return super().state(*place)

    def states(self, kind: str | None = None, song_id: str | None = None) -> list[SavedState]:
        """As PracticeLog.states, with what waits."""
        self._look()
        with self._changed:
            waiting = {place: self._states[place] for place in self._fresh}
        values = {state.place: state.value for state in super().states(kind, song_id)} | waiting
        return [
            SavedState(place.song_id, place.loop_key, place.kind, value, place.hands, place.key)
            for place, value in sorted(values.items(), key=lambda item: item[0])
            if value is not None and kind in (None, place.kind) and song_id in (None, place.song_id)
        ]

    def delete_all(self, song_id: str | None = None) -> None:
        """As PracticeLog.delete_all, and of what waits."""
        self.settle()
        super().delete_all(song_id)
        with self._changed:
            waiting = self._session[self._written :]
            self._session = [each for each in self._session if song_id not in (None, each.record.song_id)]
            self._written = sum(each not in waiting for each in self._session)
            self._states = {
                place: value for place, value in self._states.items() if song_id not in (None, place.song_id)
            }
            self._fresh &= self._states.keys()


def _passes(count: int) -> str:
    return f"{plural(count, 'pass', 'passes')}"
