"""The practice log in formats that other programs read: JSON (RFC 8259) and CSV (RFC 4180)."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any, TextIO

from companion.store.log.practice_log import PracticeLog
from companion.store.log.rows import PASS_FIELDS, as_dict

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")  # the source has the wide signs, too


def write_json(log: PracticeLog, out: TextIO, song_id: str | None = None) -> None:
    """A list of passes, one a line."""
    _write_list(out, (as_dict(record) for record in log.each_pass(song_id)))
    out.write("\n")


def write_csv(log: PracticeLog, out: TextIO, song_id: str | None = None) -> None:
    """A head line, then a line a pass. Lists are separated by spaces, the marks of the chords are JSON in the last
    column. See `_cell` for what begins like a formula."""
    writer = csv.writer(out)
    writer.writerow(PASS_FIELDS)
    for record in log.each_pass(song_id):
        values = as_dict(record)
        for name in ("loop", "sections", "slipped"):
            values[name] = " ".join(map(str, values[name]))
        values["chords"] = json.dumps(values["chords"], ensure_ascii=False)
        writer.writerow(_cell(values[name]) for name in PASS_FIELDS)


def _cell(value: Any) -> Any:
    """A value as a spreadsheet may have it. A text that it would take for a formula gets an apostrophe before it, which
    makes it a text (OWASP, "CSV Injection"); numbers stay numbers."""
    if value is None:
        return ""
    return f"'{value}" if isinstance(value, str) and value.startswith(_FORMULA_STARTS) else value


def write_everything(log: PracticeLog, out: TextIO) -> None:
    """One JSON object with all there is: passes, totals of the days, and what is kept of drills, climbs and recall."""
    out.write('{"passes": ')
    _write_list(out, (as_dict(record) for record in log.each_pass()))
    out.write(',\n"days": ')
    _write_list(out, map(asdict, log.day_totals()))
    out.write(',\n"states": ')
    _write_list(out, map(asdict, log.states()))
    out.write("}\n")


def _write_list(out: TextIO, items: Iterator[dict[str, Any]]) -> None:
    """Written as it is read: a long log does not fit in the memory twice."""
    out.write("[")
    out.writelines(
        (",\n" if number else "\n") + json.dumps(item, ensure_ascii=False) for number, item in enumerate(items)
    )
    out.write("\n]")
