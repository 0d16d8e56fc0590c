"""Passes and songs for the tests of lessons, progress and today's plan."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from companion.chart.model import Song
from companion.chart.reader import parse_chart
from companion.practice.model import PassRecord

NOW = datetime(2026, 3, 20, 18, 0, tzinfo=UTC)  # a Friday
SONG = parse_chart(
    'title = "Lantern Street"\nkey = "F"\nmeter = "4/4"\ntempo = 120\nform = "A B A"\n'
    '[section.A]\nbars = "F6 | D7 | Gm7 | C7"\n[section.B]\nbars = "A7 | D7 | G7 | C7"\n',
    id="lantern-street",
)


def chords_of(song: Song, loop: tuple[int, ...], slips: dict[int, str] | None = None) -> tuple[dict, ...]:
    """The marks of a heard pass. slips: bar's index -> verdict of its first chord; a late one by 80 ms."""
    bars, rows = song.unroll(), []
    for index in loop:
        for number, placed in enumerate(bars[index].chords):
            verdict = (slips or {}).get(index, "right") if number == 0 else "right"
            rows.append(
                {
                    "index": index,
                    "bar": bars[index].bar,
                    "section": bars[index].section,
                    "chord": number,
                    "symbol": placed.chord.symbol,
                    "verdict": verdict,
                    "offset_ms": {"late": 80.0, "early": -80.0}.get(verdict, None if verdict == "missing" else 0.0),
                    "played": [],
                }
            )
    return tuple(rows)


def played(
    days_ago: float = 0,
    loop=range(12),
    slips: dict[int, str] | None = None,
    song: Song = SONG,
    told: bool = False,
    **fields,
) -> PassRecord:
    """A pass that ended days_ago before NOW; heard unless told."""
    loop = tuple(loop)
    bars = song.unroll()
    sections = dict.fromkeys(bar.section for bar in bars)
    whole = [name for name in sections if any(_holds(bars, loop, name, number) for number in range(1, 9))]
    started = NOW - timedelta(days=days_ago, seconds=30)
    values = {
        "id": f"{started.timestamp()}",
        "started_at": started.isoformat(timespec="milliseconds"),
        "duration_s": 30.0,
        "song_id": song.id,
        "title": song.title,
        "key": song.key.name,
        "loop_name": "loop",
        "loop": loop,
        "sections": tuple(whole),
        "tempo_bpm": 80.0,
        "target_bpm": song.tempo_bpm,
        "pattern": "four",
        "hands": "left",
        "kind": "play",
        "round": 0,
        "cues": 1.0,
        "source": "told" if told else "heard",
        "fact": "slipped" if slips else "ran",
        "share_right": 1 - len(slips or ()) / len(loop),
        "clean": not slips,
        "slipped": tuple(sorted(slips or ())),
        "chords": () if told else chords_of(song, loop, slips),
    }
    return PassRecord(**values | fields)


def _holds(bars, loop: tuple[int, ...], name: str, occurrence: int) -> bool:
    wanted = {bar.index for bar in bars if (bar.section, bar.occurrence) == (name, occurrence)}
    return bool(wanted) and wanted <= set(loop)
