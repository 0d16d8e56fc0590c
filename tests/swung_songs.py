"""Songs and their swung melodies as the plain numbers that the checker takes."""

from __future__ import annotations

from swung_checker import Bar, Chart, Note

from companion.chart.melody import MelodyNote
from companion.chart.model import Song


def chart_of(song: Song) -> Chart:
    bars = song.unroll()
    chords = [
        (bar.start_tick + bar.meter.ticks(placed.beat), placed.chord.pitch_classes if placed.chord else None)
        for bar in bars
        for placed in bar.chords
    ]
    return Chart(
        [
            Bar(bar.start_tick, bar.end_tick, bar.meter.pulse_ticks, bar.meter.strong_pulses, bar.bar == 1)
            for bar in bars
        ],
        chords,
    )


def plain(melody: tuple[MelodyNote, ...]) -> list[Note]:
    return [(note.start_tick, note.start_tick + note.ticks, note.pitch.midi) for note in melody if note.pitch]
