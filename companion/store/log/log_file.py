"""The file of the practice log: opening it, finding out whether it is sound, setting a damaged one aside, and saying in
a sentence what went wrong."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator
from datetime import date
from functools import partial
from pathlib import Path

from companion.errors import LogError
from companion.store.log.migrations import applied, migrate

# Checking the whole file costs some 3 ms a megabyte; this much holds more than a year of daily practice.
WHOLLY_CHECKED_BYTES = 8_000_000
_SMALLEST_BYTES = 512  # a page of SQLite's smallest size
_BESIDE = ("", "-wal", "-shm")  # SQLite's own files next to the log
_DAMAGE = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)

# SQLite's result code -> what the student can do (https://www.sqlite.org/rescode.html).
_SENTENCES = {
    sqlite3.SQLITE_FULL: "the disk is full; make room",
    sqlite3.SQLITE_READONLY: "it may not be written to; expected a file and a folder that you may write to",
    sqlite3.SQLITE_CANTOPEN: "it cannot be opened; expected a folder that you may write to",
    sqlite3.SQLITE_PERM: "it may not be opened; expected a file that you may read and write",
    sqlite3.SQLITE_BUSY: "another program holds it; close that one or try again",
    sqlite3.SQLITE_LOCKED: "another program holds it; close that one or try again",
    sqlite3.SQLITE_IOERR: "the disk cannot be read or written",
}


def connect(path: Path | None, wait_s: float) -> sqlite3.Connection:
    """An open, sound log of the present shape. path: None for one in memory.

    Raises sqlite3.Error (see is_damage and log_error), OSError, and LogError where the file is newer than this
    companion."""
    if path is not None:
        path.parent.mkdir(parents=True, exist_ok=True)
        if path.exists() and 0 < path.stat().st_size < _SMALLEST_BYTES:
            raise sqlite3.DatabaseError("the file is shorter than any log")  # SQLite would write over such a stump
    connection = sqlite3.connect(path or ":memory:", timeout=wait_s, isolation_level=None, check_same_thread=False)
    connection.text_factory = partial(
        str, encoding="utf-8", errors="replace"
    )  # one bad letter must not hide a whole row
    try:
        # A pass is committed once in several seconds, so that the disk may be waited for: it then survives a power cut
        # too, not only the end of the process (https://www.sqlite.org/pragma.html#pragma_synchronous).
        connection.execute("PRAGMA synchronous = FULL")
        if path is not None:
            _check(connection, path)
        applied(connection)  # another program's file, or a newer one, is refused before anything is written to it
        _write_ahead(connection, wait_s)
        migrate(connection)
        return connection
    except UnicodeDecodeError as error:  # what SQLite says of a damaged file holds some of its bytes
        connection.close()
        raise sqlite3.DatabaseError("the file is damaged") from error
    except BaseException:
        connection.close()
        raise


def _write_ahead(connection: sqlite3.Connection, wait_s: float) -> None:
    """SQLite does not wait where two who both read a new file want to change how it is written: one is refused at once, and comes again
    (https://www.sqlite.org/c3ref/busy_handler.html)."""
    until_s = time.monotonic() + wait_s
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() >= until_s:
                raise
            time.sleep(0.01)


def _check(connection: sqlite3.Connection, path: Path) -> None:
    """Raises sqlite3.DatabaseError for a damaged file; a long one is only checked for a missing end."""
    size = path.stat().st_size
    if size <= WHOLLY_CHECKED_BYTES:
        [(answer,)] = connection.execute("PRAGMA quick_check(1)")
        if answer != "ok":
            raise sqlite3.DatabaseError(answer)
        return
    wal = path.with_name(path.name + "-wal")
    [(pages,)], [(page_bytes,)] = connection.execute("PRAGMA page_count"), connection.execute("PRAGMA page_size")
    if size < pages * page_bytes and not (wal.exists() and wal.stat().st_size):
        raise sqlite3.DatabaseError("the end of the file is missing")


def is_damage(error: BaseException) -> bool:
    """Whether an error says that the file is no sound log, rather than that it cannot be had now."""
    code = getattr(error, "sqlite_errorcode", None)
    if code is None:  # raised by our own checks
        return type(error) is sqlite3.DatabaseError
    return code & 0xFF in _DAMAGE


def log_error(path: Path | None, error: BaseException) -> LogError:
    """The error as one sentence."""
    return LogError(f"The practice log {path or 'in memory'} was left as it is: {_words(error)}.")


def log_reason(error: LogError) -> str:
    """Why the log could not be had, in a few words for one line: "the disk is full"."""
    return _words(error.__cause__ or error).partition("; ")[0]


def _words(error: BaseException) -> str:
    code = getattr(error, "sqlite_errorcode", None)
    reason = getattr(error, "strerror", None) or str(error)
    return _SENTENCES.get(code & 0xFF if code is not None else -1, reason)


def file_mark(path: Path) -> tuple[int, int] | None:
    """Tells one file from another of the same name; None where there is none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def set_aside(path: Path, today: date) -> Path:
    """Move a damaged log, with SQLite's files beside it, to a name of its own. Raises OSError."""
    for kept in _free_names(path.with_name(f"{path.name}.damaged-{today.isoformat()}")):
        if not kept.exists():
            break
    for end in reversed(_BESIDE):  # the log itself last: a crash in between leaves it to be found damaged again
        source = path.with_name(path.name + end)
        if source.exists():
            os.replace(source, kept.with_name(kept.name + end))
    return kept


def set_aside_before(path: Path) -> list[Path]:
    """The damaged logs that were set aside here."""
    found = path.parent.glob(f"{path.name}.damaged-*")
    return sorted(kept for kept in found if not kept.name.endswith(_BESIDE[1:]))


def _free_names(name: Path) -> Iterator[Path]:
    yield name
    number = 2
    while True:
        yield name.with_name(f"{name.name}-{number}")
        number += 1
