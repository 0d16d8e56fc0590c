"""What is written into the practice log at once: a pass and what it leaves behind, and how that goes into the tables."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any, NamedTuple

from companion.practice.model import PassRecord
from companion.practice.planning.totals import best_of, way_of


class StateKey(NamedTuple):
    """Where something is kept. loop_key: of a loop (chart.loops), or a section's name; kind: such as "fade", "symbols", "climb", "recall".
    hands: whose it is, one of chart.lesson.HANDS, "" where it is nobody's (the plan of a day). key: "" for the song's own key or
    where the key does not matter."""

    song_id: str
    loop_key: str
    kind: str
    hands: str = ""
    key: str = ""


@dataclass(frozen=True, slots=True)
class SavedState:
    """Something that is kept between sessions. value: JSON data, None to keep nothing. For the rest see StateKey."""

    song_id: str
    loop_key: str
    kind: str
    value: Any
    hands: str = ""
    key: str = ""

    @property
    def place(self) -> StateKey:
        """Where it is kept."""
        return StateKey(self.song_id, self.loop_key, self.kind, self.hands, self.key)


@dataclass(frozen=True, slots=True)
class Entry:
    """A pass, or None, and what is to be kept from now on. All of it is written, or nothing."""

    record: PassRecord | None = None
    states: tuple[SavedState, ...] = ()


STATE_COLUMNS = ", ".join(StateKey._fields)
_AT_PLACE = " AND ".join(f"{name} = ?" for name in StateKey._fields)
READ_STATE = f"SELECT value FROM state WHERE {_AT_PLACE}"


def insert_states(connection: sqlite3.Connection, states: Iterable[tuple[StateKey, Any]]) -> None:
    """Put JSON data in the place of what was kept there; None takes that away."""
    for place, value in states:
        if value is None:
            connection.execute(f"DELETE FROM state WHERE {_AT_PLACE}", place)
        else:
            connection.execute(
                f"INSERT OR REPLACE INTO state ({STATE_COLUMNS}, value) VALUES (?, ?, ?, ?, ?, ?)",
                (*place, json.dumps(value, ensure_ascii=False)),
            )


@cache
def _insert_into_pass(columns: tuple[str, ...]) -> str:
    values = ", ".join(f":{name}" for name in columns)
    return f"INSERT INTO pass ({', '.join(columns)}) VALUES ({values}) ON CONFLICT (id) DO NOTHING"


def insert_pass(connection: sqlite3.Connection, row: dict[str, Any], record: PassRecord) -> None:
    """The pass (row: see rows.to_row) and the sums that it changes; one that a fault cut off changes none."""
    if connection.execute(_insert_into_pass(tuple(row)), row).rowcount == 0 or record.broken:
        return
    connection.execute(
        """INSERT INTO day_total (song_id, hands, day, seconds, passes, clean, best_bpm)
        VALUES (:song_id, :hands, :day, :duration_s, 1, :clean, :best_bpm)
        ON CONFLICT DO UPDATE SET
        seconds = seconds + excluded.seconds, passes = passes + 1, clean = clean + excluded.clean,
        best_bpm = max(coalesce(best_bpm, excluded.best_bpm), coalesce(excluded.best_bpm, best_bpm))""",
        row | {"best_bpm": best_of(record)},
    )
    way = way_of(record)
    connection.execute(
        """INSERT INTO tally VALUES (:song_id, :loop, :sections, :hands, :pattern, :whole_bpm, :by_heart, 1, :clean)
        ON CONFLICT DO UPDATE SET passes = passes + 1, clean = clean + excluded.clean""",
        row | {"whole_bpm": way.tempo_bpm, "by_heart": way.by_heart},
    )
