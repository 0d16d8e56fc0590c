"""Where a melody leaves room for a fill: silent for two pulses, or three from one note to the next (common practice). Where it is silent a fill begins after
the note; else the note is let go after a pulse at the soonest, for one hand plays both."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from companion.chart.melody import MelodyNote
from companion.chart.model import FormBar, Song
from companion.hands.right.fill_rules import HELD_PULSES, SILENT_PULSES
from companion.hands.right.fills import Gap, Under
from companion.theory.pitch import Pitch


@dataclass(frozen=True, slots=True)
class Room:
    """A gap in its place. note: the index of the melody note before it, among those that sound; bar: in which the gap begins."""

    note: int
    bar: FormBar
    gap: Gap


def rooms(
    song: Song,
    bars: Sequence[FormBar],
    notes: Sequence[MelodyNote],
    under: Sequence[Under | None],
    fingers: Sequence[int] | None = None,
) -> tuple[Room, ...]:
    """Every gap of one chorus. notes: of the melody as it is played, those that sound, in order. under: what sounds below, end to end, None for N.C., where
    nothing is filled. fingers: of each note."""
    found = []
    for number, note in enumerate(notes):
        after = notes[number + 1] if number + 1 < len(notes) else None
        end = bars[-1].end_tick if after is None else after.start_tick
        at = bisect_right(bars, note.start_tick, key=lambda bar: bar.start_tick) - 1
        if at < 0:
            continue
        meter = bars[at].meter
        pulse = meter.pulse_ticks
        is_silent = end - note.end_tick >= SILENT_PULSES * pulse
        if not is_silent and end - note.start_tick < HELD_PULSES * pulse:
            continue
        start = note.end_tick if is_silent else note.start_tick + pulse
        until = bisect_right(bars, end, key=lambda bar: bar.start_tick) - 1
        here = [each for each in under if each is None or (each.end_tick > start and each.start_tick <= end)]
        sounding = [each for each in here if each is not None]
        covered = sum(min(end, each.end_tick) - max(start, each.start_tick) for each in sounding)
        if covered < end - start or any(bar.meter != meter for bar in bars[at : until + 1]):
            continue
        gap = Gap(
            note.start_tick,
            start,
            end,
            _pitch(note),
            None if after is None else _pitch(after),
            tuple(sounding),
            bars[at].start_tick,
            tuple(pulse * number for number in meter.strong_pulses),
            pulse,
            meter.bar_ticks,
            meter.is_compound,
            60_000.0 / song.tempo_bpm / pulse,
            song.sections[bars[at].section].key,
            fingers[number + 1] if fingers is not None and after is not None else None,
        )
        begins = bars[max(at, bisect_right(bars, start, key=lambda bar: bar.start_tick) - 1)]
        found.append(Room(number, begins, gap))
    return tuple(found)


def _pitch(note: MelodyNote) -> Pitch:
    assert note.pitch is not None
    return note.pitch
