"""Passes for the tests of the log."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from companion.practice.model import PassRecord

START = datetime(2026, 1, 5, 18, 0, tzinfo=UTC)
PASS = PassRecord(
    id="0",
    started_at=START.isoformat(timespec="milliseconds"),
    duration_s=24.5,
    song_id="left-sock-blues",
    title="Left Sock Blues",
    key="Eb",
    loop_name="bars 1-4",
    loop=(0, 1, 2, 3),
    sections=(),
    tempo_bpm=92.0,
    target_bpm=132.0,
    pattern="four",
    hands="left",
    kind="fade",
    round=2,
    cues=0.4,
    source="heard",
    fact="slipped",
    share_right=0.75,
    clean=False,
    slipped=(3,),
    offset_ms=-12.5,
    spread_ms=18.0,
    evenness_ms=21.0,
    extra=1,
    chords=tuple(
        {
            "index": index,
            "bar": index + 1,
            "section": "A",
            "chord": 0,
            "symbol": symbol,
            "verdict": verdict,
            "offset_ms": offset_ms,
            "played": [39, 49],
        }
        for index, (symbol, verdict, offset_ms) in enumerate(
            (("Eb7", "right", -10.0), ("Ab7", "right", -20.0), ("Eb7", "right", -8.0), ("Bbm7", "late", 84.0))
        )
    ),
)


def numbered(number: int, **fields) -> PassRecord:
    """The pass of that number, a minute after the one before."""
    started = START + timedelta(minutes=number)
    return replace(PASS, id=str(number), started_at=started.isoformat(timespec="milliseconds"), **fields)
