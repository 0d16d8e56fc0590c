"""MIDI files of a melody with a swing ratio and a place that are known, written by mido."""

from __future__ import annotations

import random
from collections.abc import Sequence
from pathlib import Path

import mido

TPQ = 960
Note = tuple[int, int, int]  # onset and length in straight ticks of 1/960 quarter, MIDI number


def write(
    path: Path,
    notes: Sequence[Note],
    chorus_ticks: int,
    ratio: float,
    tempo_bpm: float,
    *,
    choruses: int = 2,
    late_ms: float = 0.0,
    click: bool = False,
    jitter_ms: float = 0.0,
    below: Sequence[Note] = (),
) -> Path:
    """late_ms: of every note on a beat. click: on every quarter, channel 10. below: what the left hand plays, on the grid."""
    draw = random.Random(tempo_bpm)
    per_ms = tempo_bpm * TPQ / 60_000

    def heard(tick: int) -> float:
        beat, rest = divmod(tick, TPQ)
        return TPQ * (beat + (ratio / (ratio + 1) if rest == TPQ // 2 else rest / TPQ)) + 4 * TPQ

    events: list[tuple[float, int, int, int]] = []
    for turn in range(choruses):
        for start, ticks, note in [*notes, *below]:
            late = late_ms if start % TPQ == 0 and (start, ticks, note) not in below else 0.0
            at = heard(start + turn * chorus_ticks) + (late + draw.gauss(0, jitter_ms)) * per_ms
            events += [(at, 64, note, 0), (heard(start + ticks + turn * chorus_ticks) - 30, 0, note, 0)]
    if click:
        for beat in range(chorus_ticks * choruses // TPQ + 4):
            events += [(beat * TPQ, 90, 37, 9), (beat * TPQ + 60, 0, 37, 9)]
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(tempo_bpm))])
    now = 0
    for at, velocity, note, channel in sorted(events, key=lambda event: (round(event[0]), event[1])):
        track.append(mido.Message("note_on", note=note, velocity=velocity, channel=channel, time=round(at) - now))
        now = round(at)
    mido.MidiFile(type=0, ticks_per_beat=TPQ, tracks=[track]).save(path)
    return path
