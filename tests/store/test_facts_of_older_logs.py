"""A log from before passes had facts: what its four sentences said is kept, and nothing else changes."""

from __future__ import annotations

import json
import sqlite3
from datetime import UTC

import pytest
from store.older_log import write_older_log

from companion.practice.facts import BROKE_OFF, RAN, SLIPPED, UNTOLD
from companion.store.log.practice_log import PracticeLog

CARD = {"song_id": "left-sock-blues", "section": "A", "card": {"stability": 2.3}}
# source, what was said, bars that slipped, share, clean, broken -> fact
ROWS = [
    ("told", "It ran by itself", [], 1.0, 1, 0, RAN),
    ("told", "It held, with thought", [], 0.9, 1, 0, RAN),
    ("told", "It held, with thought", [2], 0.75, 0, 0, SLIPPED),
    ("told", "It stumbled", [], 0.7, 0, 0, SLIPPED),
    ("told", "It broke down", [], 0.3, 0, 0, BROKE_OFF),
    ("told", "It broke down", [1, 2], 0.5, 0, 0, BROKE_OFF),
    ("told", "", [], 0.0, 0, 0, UNTOLD),
    ("told", "", [], 0.0, 0, 1, UNTOLD),
    ("heard", "", [], 1.0, 1, 0, RAN),
    ("heard", "", [0, 3], 0.5, 0, 0, SLIPPED),
    ("heard", "", [], 0.0, 0, 1, UNTOLD),
]


@pytest.fixture
def older(paths):
    write_older_log(paths, "facts", *["left-sock-blues"] * len(ROWS))
    with sqlite3.connect(paths.log) as connection:
        columns = {name for _, name, *_ in connection.execute("PRAGMA table_info(pass)")}
        assert "answer" in columns and "fact" not in columns
        for number, (source, answer, slipped, share, clean, broken, _) in enumerate(ROWS, 1):
            connection.execute(
                "UPDATE pass SET source=?, answer=?, slipped=?, share_right=?, clean=?, broken=? WHERE number=?",
                (source, answer, json.dumps(slipped, separators=(",", ":")), share, clean, broken, number),
            )
        connection.execute(
            "INSERT INTO state VALUES ('left-sock-blues', 'left', '', 'A', 'recall', ?)", (json.dumps(CARD),)
        )
        sums = connection.execute("SELECT * FROM day_total"), connection.execute("SELECT * FROM tally")
        before = [each.fetchall() for each in sums]
    connection.close()
    return paths, before


def test_what_was_said_is_a_fact_now_and_all_else_is_as_it_was(older):
    paths, before = older
    with PracticeLog.open(paths, zone=UTC) as log:
        assert log.messages == []
        records = log.passes(broken=True)
        assert [record.fact for record in records] == [fact for *_, fact in ROWS]
        assert [(r.source, list(r.slipped), r.share_right, r.clean, r.broken) for r in records] == [
            (source, slipped, share, bool(clean), bool(broken)) for source, _, slipped, share, clean, broken, _ in ROWS
        ]
        assert log.state("left-sock-blues", "A", "recall", "left") == CARD
    connection = sqlite3.connect(paths.log)
    assert [connection.execute(f"SELECT * FROM {table}").fetchall() for table in ("day_total", "tally")] == before
    connection.close()
