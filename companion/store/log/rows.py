"""A pass as a row of the practice log and back."""

from __future__ import annotations

import json
import zlib
from dataclasses import fields
from datetime import UTC, datetime, tzinfo
from typing import Any

from companion.practice.model import PassRecord
from companion.practice.planning.totals import day_of

PASS_FIELDS = tuple(field.name for field in fields(PassRecord))
_LISTS = ("loop", "sections", "slipped")
_FLAGS = ("clean", "broken")
_ENCODER = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"))
_MOST_CHORD_BYTES = 64_000_000  # a damaged row must not fill the memory; a form of 2,000 bars has 2 MB


def utc_text(moment: datetime) -> str:
    """A moment as the log writes it, so that texts sort by time. One without a zone is taken as UTC."""
    moment = moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
    return moment.isoformat(timespec="milliseconds")


def to_row(record: PassRecord, zone: tzinfo | None) -> dict[str, Any]:
    """Column -> value. zone: of the student's day, None for that of the computer. ValueError where started_at is no
    time."""
    row: dict[str, Any] = {name: getattr(record, name) for name in PASS_FIELDS}
    row["started_at"] = utc_text(datetime.fromisoformat(record.started_at))
    row |= {name: _json(row[name]) for name in (*_LISTS, "by_hand")}
    row |= {name: int(row[name]) for name in _FLAGS}
    row["chords"] = zlib.compress(_json(record.chords).encode())
    row["day"] = day_of(row["started_at"], zone)
    return row


def from_row(row: tuple[Any, ...]) -> PassRecord:
    """row: the values of PASS_FIELDS in their order, None for chords that were not read. ValueError where they are damaged."""
    values = dict(zip(PASS_FIELDS, row))
    try:
        values |= {name: tuple(json.loads(values[name])) for name in _LISTS}
        values |= {name: bool(values[name]) for name in _FLAGS}
        values["by_hand"] = dict(json.loads(values["by_hand"]))
        return PassRecord(**values | {"chords": _chords(values["chords"])})
    except (zlib.error, TypeError) as error:
        raise ValueError(str(error)) from error


def _chords(deflated: bytes | None) -> tuple[dict[str, Any], ...]:
    if deflated is None:
        return ()
    return tuple(json.loads(zlib.decompressobj().decompress(deflated, _MOST_CHORD_BYTES)))


def as_dict(record: PassRecord) -> dict[str, Any]:
    """The pass for JSON."""
    return {name: getattr(record, name) for name in PASS_FIELDS}


def _json(value: Any) -> str:
    return _ENCODER.encode(value)
