"""How fast the practice log is when it is long. Run by hand: python tests/bench/log_size.py [PASSES]

Fills a log with passes of eight bars over ten years and twenty songs, as a student of thirty lives could not, and
prints how long it takes to open, to write a pass, and to gather what Today and Progress show, against the same on an
empty log and on one of a thousand passes, from when on Today and Progress have all they look at. Nothing here is asserted. The passes are written in large transactions, for else the filling would take
hours; the measured ones are not."""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

from companion.practice.drills import recall
from companion.practice.model import PassRecord
from companion.session.overview import progress_of, todays_plan
from companion.store.library import read_songs
from companion.store.log.entry import insert_pass
from companion.store.log.practice_log import PracticeLog
from companion.store.log.rows import to_row
from companion.store.paths import find_paths
from companion.store.settings import load_settings

NOW = datetime(2026, 11, 25, 18, tzinfo=UTC)
YEARS = 10
CHUNK = 20_000
SYMBOLS = ("F7", "Bb7", "F7", "Cm7", "Bb7", "Bdim7", "F7", "D7")


@cache  # making them anew would take longer than writing them
def chords_played(shift: int, slip: int | None) -> tuple[dict[str, object], ...]:
    """The marks of a pass. shift: of its offsets; slip: the chord that came late."""
    return tuple(
        {
            "index": index,
            "section": "A",
            "bar": index + 1,
            "chord": 0,
            "symbol": symbol,
            "verdict": "late" if index == slip else "right",
            "offset_ms": float((shift + index * 7) % 50 - 25) + (90 if index == slip else 0),
            "played": [41 + index, 51 + index] * 4,
        }
        for index, symbol in enumerate(SYMBOLS)
    )


def a_pass(number: int, count: int, song_ids: list[str]) -> PassRecord:
    """The pass of that number of so many."""
    song_id = song_ids[number * 7 // 5 % len(song_ids)]
    started = NOW - timedelta(days=365 * YEARS) * (1 - (number + 1) / count)
    slip = (number * 5) % 8 if number % 3 == 0 else None
    slips = () if slip is None else (slip,)
    return PassRecord(
        id=f"{number:032x}",
        started_at=started.isoformat(),
        duration_s=20.0,
        song_id=song_id,
        title=song_id.replace("-", " ").title(),
        key="F",
        loop_name="bars",
        loop=tuple(range(8)) if number % 4 else tuple(range(4)),
        sections=("A",) if number % 4 else (),
        tempo_bpm=60.0 + number % 80,
        target_bpm=132.0,
        pattern=("four", "two", "whole", "charleston")[number // 1000 % 4],
        hands="left",
        kind=("play", "fade", "climb", "fade+climb")[number // 50 % 4],
        round=number % 6,
        cues=(1.0, 0.6, 0.2, 0.0)[number // 20 % 4],
        source="heard",
        fact="ran",
        share_right=1 - len(slips) / 8,
        clean=slip is None,
        slipped=slips,
        offset_ms=-12.0,
        spread_ms=18.0,
        evenness_ms=20.0,
        chords=chords_played(number * 13 % 50, slip),
    )


def fill(log: PracticeLog, count: int, song_ids: list[str]) -> None:
    for start in range(0, count, CHUNK):
        records = [a_pass(number, count, song_ids) for number in range(start, min(count, start + CHUNK))]

        def write(connection, records=records) -> None:
            for record in records:
                insert_pass(connection, to_row(record, UTC), record)

        log._write(write)
    for song_id in song_ids[:10]:
        card = recall.after_review(
            recall.new_card(song_id, "A", NOW - timedelta(days=9)), recall.HELD, NOW - timedelta(days=9)
        )
        log.put_state(song_id, "A", "recall", card.to_json(), "left")


def milliseconds(work: Callable[[], object], rounds: int = 7) -> float:
    taken = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        taken.append(1000 * (time.perf_counter() - start))
    return min(taken)  # the machine may be busy with something else


def measure(home: Path, count: int) -> dict[str, float]:
    paths = find_paths({"COMPANION_HOME": str(home)})
    songs = read_songs(paths, load_settings(paths))
    with PracticeLog.open(paths, zone=UTC) as log:
        start = time.process_time()
        fill(log, count, [song.id for song in songs])
        filled_s = time.process_time() - start
    took = {"fill, processor's seconds": filled_s}
    took |= {"open": milliseconds(lambda: PracticeLog.open(paths).close())}
    with PracticeLog.open(paths, zone=UTC) as log:
        took["Today"] = milliseconds(lambda: todays_plan(log, songs, 20, NOW, afresh=True))
        took["Progress"] = milliseconds(lambda: progress_of(log, songs[0], NOW))
        ids = iter(range(1000))
        took["write a pass"] = milliseconds(
            lambda: log.add_pass(replace(a_pass(1, 2, [songs[0].id]), id=f"new-{next(ids)}")), 21
        )
        took["megabytes"] = paths.log.stat().st_size / 1e6
    return took


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    took = {}
    for passes in (0, 1000, count):
        with tempfile.TemporaryDirectory() as home:
            took[passes] = measure(Path(home), passes)
    print(f"{'':25} {'empty':>9} {1000:>9,} {count:>11,} passes   (milliseconds, the fastest of several)")
    for name in took[0]:
        print(f"{name:25} {took[0][name]:9.1f} {took[1000][name]:9.1f} {took[count][name]:11.1f}")


if __name__ == "__main__":
    main()
