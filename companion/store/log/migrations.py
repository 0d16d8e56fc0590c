"""The steps by which the practice log came to its present shape. A step that was released is never changed: a new one
is added.

Each runs in a transaction of its own and leaves its name in the table `migration`, so a file says which steps it went
through. A file with a step that is not in this list was written by a newer companion.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass

from companion.errors import LogError


@dataclass(frozen=True, slots=True)
class Migration:
    """name: for ever. statements: SQL, or work on the connection, in order."""

    name: str
    statements: tuple[str | Callable[[sqlite3.Connection], object], ...]


def _give_to_other_hands(connection: sqlite3.Connection) -> None:
    """What was kept of a loop or section belongs to the hands that played it last; it is the left hand's by now."""
    last: dict[tuple[str, str, str], str] = {}
    passes = connection.execute(
        """SELECT song_id, loop, sections, kind, cues, hands FROM pass
        WHERE NOT broken AND song_id IN (SELECT song_id FROM tally WHERE hands <> 'left') ORDER BY started_at"""
    )
    for song_id, loop, sections, kind, cues, hands in passes:
        try:
            bars, names = json.loads(loop), json.loads(sections)
            follow = bars == list(range(bars[0], bars[-1] + 1))
            loop_key = f"{bars[0]}-{bars[-1]}" if follow else ",".join(map(str, bars))
            drills = set(kind.split("+")) & {"fade", "climb"}
            last |= {(song_id, loop_key, drill): hands for drill in drills}
            if "climb" in drills:
                last[song_id, loop_key, "working_bpm"] = hands
            if cues <= 0.4:
                last |= {(song_id, name, "recall"): hands for name in names}
        except (ValueError, TypeError, LookupError):
            continue  # a damaged row says nothing
    connection.executemany(
        "UPDATE state SET hands = ? WHERE song_id = ? AND loop_key = ? AND kind = ? AND hands = 'left'",
        [(hands, *place) for place, hands in last.items() if hands != "left"],
    )


MIGRATIONS = (
    Migration(
        "passes",
        (
            """CREATE TABLE pass (
                number INTEGER PRIMARY KEY,
                id TEXT NOT NULL UNIQUE,
                started_at TEXT NOT NULL,      -- UTC, ISO 8601 to the millisecond
                day TEXT NOT NULL,             -- the student's own day
                duration_s REAL NOT NULL,
                song_id TEXT NOT NULL,
                title TEXT NOT NULL,
                key TEXT NOT NULL,
                loop_name TEXT NOT NULL,
                loop TEXT NOT NULL,            -- JSON: indices in the chorus
                sections TEXT NOT NULL,        -- JSON
                tempo_bpm REAL NOT NULL,
                target_bpm REAL NOT NULL,
                pattern TEXT NOT NULL,
                hands TEXT NOT NULL,
                kind TEXT NOT NULL,
                round INTEGER NOT NULL,
                cues REAL NOT NULL,
                source TEXT NOT NULL,
                answer TEXT NOT NULL,
                share_right REAL NOT NULL,
                clean INTEGER NOT NULL,
                slipped TEXT NOT NULL,         -- JSON: indices in the chorus
                offset_ms REAL,
                spread_ms REAL,
                evenness_ms REAL,
                extra INTEGER NOT NULL,
                chords BLOB NOT NULL           -- JSON, one object a chord, deflated (a tenth of its length)
            )""",
            "CREATE INDEX pass_by_time ON pass (started_at)",
            "CREATE INDEX pass_by_song ON pass (song_id, started_at)",
        ),
    ),
    Migration(
        "states",
        (
            """CREATE TABLE state (
                song_id TEXT NOT NULL,
                loop_key TEXT NOT NULL,
                kind TEXT NOT NULL,
                value TEXT NOT NULL,           -- JSON
                PRIMARY KEY (song_id, loop_key, kind)
            ) WITHOUT ROWID""",
            "CREATE INDEX state_by_kind ON state (kind, song_id)",
        ),
    ),
    Migration(
        # Sums, kept in the transaction that writes a pass, so that no screen has to read all passes.
        "totals",
        (
            """CREATE TABLE day_total (
                song_id TEXT NOT NULL,
                day TEXT NOT NULL,
                seconds REAL NOT NULL,
                passes INTEGER NOT NULL,
                clean INTEGER NOT NULL,
                best_bpm REAL,
                PRIMARY KEY (song_id, day)
            ) WITHOUT ROWID""",
            "CREATE INDEX day_total_by_day ON day_total (day)",
            """CREATE TABLE tally (
                song_id TEXT NOT NULL,
                loop TEXT NOT NULL,
                sections TEXT NOT NULL,
                hands TEXT NOT NULL,
                pattern TEXT NOT NULL,
                tempo_bpm INTEGER NOT NULL,    -- whole, 0 in free time
                by_heart INTEGER NOT NULL,
                passes INTEGER NOT NULL,
                clean INTEGER NOT NULL,
                PRIMARY KEY (song_id, loop, sections, hands, pattern, tempo_bpm, by_heart)
            ) WITHOUT ROWID""",
            """INSERT INTO day_total
                SELECT song_id, day, sum(duration_s), count(*), sum(clean),
                    max(CASE WHEN clean AND NOT '+' || kind || '+' LIKE '%+free+%'
                        AND NOT '+' || kind || '+' LIKE '%+probe+%' THEN tempo_bpm END)
                FROM pass GROUP BY song_id, day""",
            """INSERT INTO tally
                SELECT song_id, loop, sections, hands, pattern,
                    CASE WHEN '+' || kind || '+' LIKE '%+free+%' THEN 0
                    ELSE CAST(tempo_bpm + 0.5 AS INTEGER) END AS tempo,
                    cues <= 0 AS by_heart, count(*), sum(clean)
                FROM pass GROUP BY song_id, loop, sections, hands, pattern, tempo, by_heart""",
        ),
    ),
    # Passes cut off by a fault: kept, and left out of every sum.
    Migration("broken", ("ALTER TABLE pass ADD COLUMN broken INTEGER NOT NULL DEFAULT 0",)),
    Migration(
        # What is known is known of a hand, and of a section in a key.
        "hands",
        (
            "ALTER TABLE state RENAME TO state_before",
            "DROP INDEX state_by_kind",
            """CREATE TABLE state (
                song_id TEXT NOT NULL,
                hands TEXT NOT NULL,           -- '' for what is nobody's: the plan of a day, ticks
                key TEXT NOT NULL,             -- '' for the song's own, and where it does not matter
                loop_key TEXT NOT NULL,
                kind TEXT NOT NULL,
                value TEXT NOT NULL,           -- JSON
                PRIMARY KEY (song_id, hands, key, loop_key, kind)
            ) WITHOUT ROWID""",
            """INSERT INTO state SELECT song_id,
                CASE WHEN kind IN ('fade', 'climb', 'working_bpm', 'recall') THEN 'left' ELSE '' END,
                '', loop_key, kind, value FROM state_before""",
            "DROP TABLE state_before",
            "CREATE INDEX state_by_kind ON state (kind, song_id)",
            _give_to_other_hands,
            "CREATE INDEX pass_by_hands ON pass (song_id, hands, started_at)",
            "ALTER TABLE day_total RENAME TO day_total_before",
            "DROP INDEX day_total_by_day",
            """CREATE TABLE day_total (
                song_id TEXT NOT NULL,
                hands TEXT NOT NULL,
                day TEXT NOT NULL,
                seconds REAL NOT NULL,
                passes INTEGER NOT NULL,
                clean INTEGER NOT NULL,
                best_bpm REAL,
                PRIMARY KEY (song_id, hands, day)
            ) WITHOUT ROWID""",
            "CREATE INDEX day_total_by_day ON day_total (day)",
            """INSERT INTO day_total SELECT song_id, 'left', day, seconds, passes, clean, best_bpm FROM day_total_before
                WHERE song_id NOT IN (SELECT song_id FROM tally WHERE hands <> 'left')""",
            """INSERT INTO day_total
                SELECT song_id, hands, day, sum(duration_s), count(*), sum(clean),
                    max(CASE WHEN clean AND NOT '+' || kind || '+' LIKE '%+free+%'
                        AND NOT '+' || kind || '+' LIKE '%+probe+%' THEN tempo_bpm END)
                FROM pass WHERE NOT broken AND song_id IN (SELECT song_id FROM tally WHERE hands <> 'left')
                GROUP BY song_id, hands, day""",
            "DROP TABLE day_total_before",
        ),
    ),
    Migration(
        # Songs that a left hand learnt while its shells were chosen otherwise: their student is asked (session/former.py).
        "former shells",
        (
            """INSERT INTO state (song_id, hands, key, loop_key, kind, value)
                SELECT DISTINCT song_id, '', '', '', 'former_shells', 'true' FROM day_total WHERE hands <> 'right'""",
        ),
    ),
    # by_heart was 0 or 1; between all and nothing now stand the chord symbols (planning/totals.py).
    Migration("from symbols", ("UPDATE tally SET by_heart = 2 WHERE by_heart = 1",)),
    # What each hand came to in a pass with both.
    Migration("by hand", ("ALTER TABLE pass ADD COLUMN by_hand TEXT NOT NULL DEFAULT '{}'",)),
    Migration(
        # How a pass went is a fact (practice/facts.py), told or heard. Told before by one of four sentences: what they say is kept, and so
        # are the share of right chords and whether the pass counted, as each drill has moved by them.
        "facts",
        (
            "ALTER TABLE pass RENAME COLUMN answer TO fact",
            """UPDATE pass SET fact = CASE
                WHEN broken OR (source = 'told' AND fact = '') THEN ''
                WHEN fact = 'It broke down' THEN 'broke off'
                WHEN fact = 'It stumbled' OR slipped <> '[]' THEN 'slipped'
                ELSE 'ran' END""",
        ),
    ),
    # How a pass was heard: those before were by a keyboard.
    Migration(
        "heard by",
        (
            "ALTER TABLE pass ADD COLUMN heard_by TEXT NOT NULL DEFAULT ''",
            "ALTER TABLE pass ADD COLUMN unsure INTEGER NOT NULL DEFAULT 0",
        ),
    ),
)


def migrate(connection: sqlite3.Connection, migrations: tuple[Migration, ...] = MIGRATIONS) -> None:
    """Bring a log up to date. Two programs may try at once: each step is taken by one of them.

    Raises LogError where the file was written by a newer companion, sqlite3.DatabaseError where it is no log.
    """
    if applied(connection, migrations) == len(migrations):
        return  # the usual case needs no lock
    for number, migration in enumerate(migrations):
        connection.execute("BEGIN IMMEDIATE")
        try:
            connection.execute("CREATE TABLE IF NOT EXISTS migration (name TEXT PRIMARY KEY, number INTEGER NOT NULL)")
            if applied(connection, migrations) == number:
                for statement in migration.statements:
                    connection.execute(statement) if isinstance(statement, str) else statement(connection)
                connection.execute("INSERT INTO migration VALUES (?, ?)", (migration.name, number))
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise


def applied(connection: sqlite3.Connection, migrations: tuple[Migration, ...] = MIGRATIONS) -> int:
    """How many of the steps a file went through. Raises as `migrate` does."""
    tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    if "migration" not in tables:
        if tables:
            raise sqlite3.DatabaseError("the file is a database, but not a practice log")
        return 0
    names = [name for (name,) in connection.execute("SELECT name FROM migration ORDER BY number")]
    known = [migration.name for migration in migrations]
    if names[: len(known)] == known and len(names) > len(known):
        raise LogError("was written by a newer companion")
    if names != known[: len(names)]:
        raise sqlite3.DatabaseError(f"the file went through other steps: {', '.join(names)}")
    return len(names)
