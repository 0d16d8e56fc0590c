"""The practice log: every pass, written the moment it ends, and what is kept between sessions, in one SQLite file.

An entry is one transaction, synced to the disk before `write` returns: killing the program at any moment loses at most
the pass being played. Several companions may have the log open (WAL); each waits for the other a few seconds. Times are
UTC, days the student's own. A PracticeLog may be called from any thread."""

from __future__ import annotations

import contextlib
import json
import sqlite3
import threading
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from functools import lru_cache
from pathlib import Path
from typing import Any, Self, TypeVar

from companion.errors import LogError
from companion.practice.model import PassRecord
from companion.practice.planning.totals import DayTotal, Tally, Way
from companion.store.log.entry import READ_STATE, STATE_COLUMNS, Entry, SavedState, StateKey, insert_pass, insert_states
from companion.store.log.log_file import connect, file_mark, is_damage, log_error, set_aside, set_aside_before
from companion.store.log.migrations import MIGRATIONS, applied
from companion.store.log.owner import Owner
from companion.store.log.rows import PASS_FIELDS, from_row, to_row, utc_text
from companion.store.paths import Paths

T = TypeVar("T")
WAIT_S = 5.0  # for another program that is writing
GONE = "The practice log was gone: a new one was begun."
_CHUNK = 500  # passes read at once by each_pass
_COLUMNS = ", ".join(PASS_FIELDS)
_WITHOUT_CHORDS = ", ".join("NULL" if name == "chords" else name for name in PASS_FIELDS)


@dataclass(frozen=True, slots=True)
class WantedPasses:
    """The passes that `PracticeLog.passes` is asked for, as there. since: as the log writes it, "" for all."""

    song_id: str | None
    since: str
    limit: int | None
    hands: str | None
    broken: bool
    chords: bool


class PracticeLog:
    """An open log. messages: sentences for the student about what had to be done to open it. Every method raises
    LogError, with one sentence, where the file cannot be had; what was in it stays."""

    def __init__(self, path: Path | None, connection: sqlite3.Connection, wait_s: float, zone: tzinfo | None) -> None:
        self.path = path
        self.zone = zone
        self.messages: list[str] = []
        self.owner = Owner()  # of what this companion alone keeps for a while
        self.renewed = 0  # how often a fresh file took the place of one that was damaged or gone
        self._connection = connection
        self._wait_s = wait_s
        self._lock = threading.RLock()
        self._mark = file_mark(path) if path else None
        self._is_open = True
        self._is_gone = False  # and that is yet to be said

    @classmethod
    def open(cls, paths: Paths, wait_s: float = WAIT_S, zone: tzinfo | None = None) -> Self:
        """The student's log; made where there is none, brought up to date where it is older.

        A damaged file is set aside and said so in `messages`. zone: of the student's days, None for that of the
        computer. Raises LogError for a file written by a newer companion or one that cannot be had; `in_memory()` then
        lets practice go on."""
        path, messages = paths.log, []
        try:
            mark = file_mark(path)
            try:
                connection = connect(path, wait_s)
            except sqlite3.Error as error:
                if not is_damage(error):
                    raise
                messages += _set_aside(path, mark)
                connection = connect(path, wait_s)
        except (sqlite3.Error, OSError) as error:
            raise log_error(path, error) from error
        except LogError as error:
            raise LogError(
                f"The practice log {path} {error}: it was left as it is; use that one, or nothing you play now is "
                "remembered."
            ) from error
        log = cls(path, connection, wait_s, zone)
        log.messages += messages
        return log

    @classmethod
    def in_memory(cls, zone: tzinfo | None = None) -> Self:
        """A log that forgets everything when it is closed."""
        return cls(None, connect(None, WAIT_S), WAIT_S, zone)

    def wait(self, wait_s: float) -> None:
        """From now on wait so long for another program that is writing."""
        with self._lock:
            self._wait_s = wait_s
            if self._is_open:
                self._connection.execute(f"PRAGMA busy_timeout = {round(1000 * wait_s)}")

    def close(self) -> None:
        """What was written stays."""
        with self._lock:
            self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # --- passes

    def write(self, entry: Entry) -> None:
        """Write a pass and what it leaves, all or nothing; it is safe once this returns. A pass of an id that is already there
        changes nothing."""
        record = entry.record
        row = self._row(record) if record is not None else None

        def insert(connection: sqlite3.Connection) -> None:
            if record is not None and row is not None:
                insert_pass(connection, row, record)
            insert_states(connection, ((state.place, state.value) for state in entry.states))

        self._write(insert)

    def add_pass(self, record: PassRecord) -> None:
        """Write a pass that leaves nothing but itself."""
        self.write(Entry(record))

    def put_state(self, song_id: str, loop_key: str, kind: str, value: Any, hands: str = "", key: str = "") -> None:
        """Keep JSON data in the place of what was kept before; None keeps nothing."""
        self.write(Entry(states=(SavedState(song_id, loop_key, kind, value, hands, key),)))

    def _row(self, record: PassRecord) -> dict[str, Any]:
        try:
            return to_row(record, self.zone)
        except (ValueError, TypeError) as error:
            raise LogError(f"This pass cannot be kept in the log: {error}.") from error

    def passes(
        self,
        song_id: str | None = None,
        since: datetime | None = None,
        limit: int | None = None,
        *,
        hands: str | None = None,
        broken: bool = False,
        chords: bool = True,
    ) -> list[PassRecord]:
        """Passes in the order of time. since: those that started then or later. limit: only the newest so many. hands: played
        by those, None for all. broken: those too that a fault cut off. chords: with their marks, which are most of the work of
        reading a pass."""
        return self._passes(WantedPasses(song_id, utc_text(since) if since else "", limit, hands, broken, chords))

    def _passes(self, wanted: WantedPasses) -> list[PassRecord]:
        where, values = _where(
            {
                "song_id = ?": wanted.song_id,
                "hands = ?": wanted.hands,
                "started_at >= ?": wanted.since or None,
                "broken <= ?": int(wanted.broken),
            }
        )
        columns = _COLUMNS if wanted.chords else _WITHOUT_CHORDS
        query = f"SELECT {columns} FROM pass{where} ORDER BY started_at DESC, number DESC LIMIT ?"
        rows = self._read(query, [*values, -1 if wanted.limit is None else wanted.limit], from_row)
        return rows[::-1]

    def each_pass(self, song_id: str | None = None) -> Iterator[PassRecord]:
        """Every pass, broken ones too, in the order in which they were written, without holding all of them at once."""
        number = 0
        while True:
            # The plus has the passes looked through in their order; the index of songs would be sorted again for each chunk.
            where, values = _where({"number > ?": number, "+song_id = ?": song_id})
            query = f"SELECT number, {_COLUMNS} FROM pass{where} ORDER BY number LIMIT {_CHUNK}"
            rows = self._read(query, values, tuple)
            yield from self._made((row[1:] for row in rows), from_row)
            if len(rows) < _CHUNK:
                return
            number = rows[-1][0]

    # --- sums

    def day_totals(
        self, song_id: str | None = None, since: date | None = None, hands: str | None = None
    ) -> list[DayTotal]:
        """Minutes, passes and best tempo of every day, by day, then song, then hands. since: that day or later. hands: of those,
        None for all."""
        since_text = since.isoformat() if since else None
        where, values = _where({"song_id = ?": song_id, "hands = ?": hands, "day >= ?": since_text})
        columns = "song_id, day, seconds, passes, clean, best_bpm, hands"
        query = f"SELECT {columns} FROM day_total{where} ORDER BY day, song_id, hands"
        return self._read(query, values, lambda row: DayTotal(*row))

    def song_ids(self) -> set[str]:
        """The songs that were played."""
        return set(self._read(_each_value("song_id"), [], lambda row: row[0]))

    def hands_of(self, song_id: str) -> set[str]:
        """The hands that played a song."""
        return set(self._read(_each_value("hands", "song_id = ?1"), [song_id], lambda row: row[0]))

    def tallies(self, song_id: str) -> list[Tally]:
        """How often the song was practised in each way."""
        columns = "song_id, loop, sections, hands, pattern, tempo_bpm, by_heart, passes, clean"
        return self._read(f"SELECT {columns} FROM tally WHERE song_id = ?", [song_id], _tally)

    # --- what is kept between sessions

    def state(self, song_id: str, loop_key: str, kind: str, hands: str = "", key: str = "") -> Any:
        """What was kept, None where nothing was."""
        place = StateKey(song_id, loop_key, kind, hands, key)
        rows = self._read(READ_STATE, [*place], lambda row: json.loads(row[0]))
        return rows[0] if rows else None

    def states(self, kind: str | None = None, song_id: str | None = None) -> list[SavedState]:
        """Everything kept of a kind, of a song."""
        where, values = _where({"kind = ?": kind, "song_id = ?": song_id})
        query = f"SELECT {STATE_COLUMNS}, value FROM state{where} ORDER BY {STATE_COLUMNS}"
        return self._read(query, values, lambda row: _state(StateKey(*row[:-1]), json.loads(row[-1])))

    # --- all of it

    def count(self, song_id: str | None = None) -> int:
        """How many passes there are, broken ones left out."""
        where, values = _where({"song_id = ?": song_id})
        return int(self._read(f"SELECT coalesce(sum(passes), 0) FROM day_total{where}", values, lambda row: row[0])[0])

    def delete_all(self, song_id: str | None = None) -> None:
        """Forget everything, or everything of a song, for good."""
        where, values = _where({"song_id = ?": song_id})

        def delete(connection: sqlite3.Connection) -> None:
            connection.execute("PRAGMA secure_delete = ON")  # what is deleted is written over, not only let go
            for table in ("pass", "state", "day_total", "tally"):
                connection.execute(f"DELETE FROM {table}{where}", values)

        self._write(delete)
        # All is deleted now. The file is made smaller too, unless another companion is at work on it.
        with contextlib.suppress(LogError):
            self._run(lambda connection: connection.execute("VACUUM"))
            self._run(lambda connection: connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall())

    def damaged_copies(self) -> list[Path]:
        """Logs set aside as damaged, now and earlier."""
        return set_aside_before(self.path) if self.path else []

    # --- the one way to the file

    def _read(self, query: str, values: list[Any], make: Callable[[tuple[Any, ...]], T]) -> list[T]:
        return self._made(self._run(lambda connection: connection.execute(query, values).fetchall()), make)

    def _made(self, rows: Iterable[tuple[Any, ...]], make: Callable[[tuple[Any, ...]], T]) -> list[T]:
        """What `make` makes of each row. One that it cannot read is left out and said so: years of others are worth
        more."""
        made: list[T] = []
        unreadable = 0
        for row in rows:
            try:
                made.append(make(row))
            except ValueError:
                unreadable += 1
        words = "Some entries of the practice log could not be read and were left out."
        if unreadable and words not in self.messages:
            self.messages.append(words)
        return made

    def _write(self, work: Callable[[sqlite3.Connection], object]) -> None:
        def in_transaction(connection: sqlite3.Connection) -> None:
            connection.execute("BEGIN IMMEDIATE")
            try:
                if applied(connection) != len(MIGRATIONS):
                    raise LogError("was changed by another program")
                work(connection)
                connection.execute("COMMIT")
            except BaseException:
                if connection.in_transaction:
                    connection.execute("ROLLBACK")
                raise

        self._run(in_transaction)

    def _run(self, work: Callable[[sqlite3.Connection], T]) -> T:
        """Errors become LogErrors. A file found damaged now is set aside as at opening, and the work done on a fresh
        one."""
        with self._lock:
            try:
                self._follow()
                return work(self._connection)
            except (sqlite3.Error, OSError) as error:
                if self.path is None or not is_damage(error):
                    raise log_error(self.path, error) from error
            except LogError as error:
                raise LogError(
                    f"The practice log {self.path} {error} in the meantime: start that one again."
                ) from error
            try:
                self._connection.close()
                self._is_open = False
                self.messages += _set_aside(self.path, self._mark)
                self._renew(self.path)
                return work(self._connection)
            except (sqlite3.Error, OSError) as error:
                raise log_error(self.path, error) from error

    def _follow(self) -> None:
        """Where the file was deleted, or another is in its place, go on with the one that is there, made again if need be. SQLite
        itself would write on into the file that is gone."""
        if self.path is None:
            return
        found = file_mark(self.path)
        if found == self._mark and self._is_open:
            return
        self._is_gone = self._is_gone or found is None
        self._renew(self.path)
        if self._is_gone:
            self._is_gone = False
            self.messages.append(GONE)

    def _renew(self, path: Path) -> None:
        """Open the file that is there now, or a new one. Raises as connect does; the next work then tries again."""
        self._is_open = False
        self._connection.close()
        self._mark = file_mark(path)
        self._connection = connect(path, self._wait_s)
        self._mark, self._is_open = file_mark(path), True
        self.renewed += 1


def _state(place: StateKey, value: Any) -> SavedState:
    return SavedState(place.song_id, place.loop_key, place.kind, value, place.hands, place.key)


def _set_aside(path: Path, mark: tuple[int, int] | None) -> list[str]:
    """Move the damaged file away unless another companion has done so. Returns what to tell the student."""
    if file_mark(path) != mark:
        return []
    kept = set_aside(path, date.today())
    return [f"The practice log was damaged: it was set aside as {kept}, and a new one was begun."]


def _where(conditions: dict[str, Any]) -> tuple[str, list[Any]]:
    """The conditions that have a value."""
    wanted = {condition: value for condition, value in conditions.items() if value is not None}
    return (" WHERE " + " AND ".join(wanted) if wanted else ""), list(wanted.values())


def _each_value(column: str, condition: str = "true") -> str:
    """The query for every value of a column of the totals, found one after the other in their index, so that the days are not read.

    SQLite knows no such jumps of its own (https://www.sqlite.org/lang_with.html shows how to write a loop)."""
    return f"""WITH RECURSIVE found (value) AS (
        SELECT min({column}) FROM day_total WHERE {condition}
        UNION ALL
        SELECT (SELECT min({column}) FROM day_total WHERE {condition} AND {column} > value) FROM found WHERE value IS NOT NULL
    ) SELECT value FROM found WHERE value IS NOT NULL"""


def _tally(row: tuple[Any, ...]) -> Tally:
    song_id, loop, sections, hands, pattern, tempo_bpm, by_heart, passes, clean = row
    way = Way(song_id, _tuple(loop), _tuple(sections), hands, pattern, tempo_bpm, by_heart)
    return Tally(way, passes, clean)


@lru_cache(maxsize=1024)  # a song has thousands of tallies over a few loops
def _tuple(text: str) -> tuple[Any, ...]:
    return tuple(json.loads(text))
