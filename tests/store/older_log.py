"""A practice log as an older companion left it."""

from __future__ import annotations

import sqlite3
from datetime import tzinfo
from typing import Any

from store.passes import numbered

from companion.practice.model import PassRecord
from companion.store.log.entry import insert_pass
from companion.store.log.migrations import MIGRATIONS, migrate
from companion.store.log.rows import to_row
from companion.store.paths import Paths

# What was written of a told pass before there were facts.
OLD_ANSWERS = {"": "", "ran": "It ran by itself", "slipped": "It stumbled", "broke off": "It broke down"}


def write_older_log(paths: Paths, step: str, *songs: str, hands: str = "left") -> None:
    """A log before that step (the name of a migration), with a pass of each song."""
    paths.data.mkdir(parents=True, exist_ok=True)
    connection = sqlite3.connect(paths.log, isolation_level=None)
    migrate(connection, MIGRATIONS[: [migration.name for migration in MIGRATIONS].index(step)])
    for number, song_id in enumerate(songs):
        record = numbered(number, song_id=song_id, hands=hands)
        insert_pass(connection, row_of_then(connection, record), record)
    connection.close()


def row_of_then(connection: sqlite3.Connection, record: PassRecord, zone: tzinfo | None = None) -> dict[str, Any]:
    """The row of a pass, as far as the table of then has columns for it."""
    columns = {name for _, name, *_ in connection.execute("PRAGMA table_info(pass)")}
    row = to_row(record, zone)
    row["answer"] = OLD_ANSWERS[record.fact] if record.source == "told" else ""
    return {name: value for name, value in row.items() if name in columns}
