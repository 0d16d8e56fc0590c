"""Melodies of our songs as a student plays them in with the click: late throughout, uneven, let go early, swung or not.

How it is played knows nothing of the reader: its swing is its own, a pulse with nothing but halves in it, and it writes down what was to be played.
"""

from __future__ import annotations

import random
from collections import defaultdict
from dataclasses import dataclass

from companion.authoring.played_in import Reading, melody_of, read_played
from companion.chart.melody import section_melody
from companion.chart.model import Song
from companion.practice.model import Press


@dataclass(frozen=True)
class PlayedIn:
    """presses: seconds from the first bar line. written: bar -> (start tick, ticks, key) of each note that begins there."""

    song: Song
    section: str
    tempo_bpm: float
    ratio: float
    presses: list[Press]
    written: dict[int, list[tuple[int, int, int]]]

    @property
    def pickup_ticks(self) -> int:
        """How far before the first bar line it begins."""
        return max(0, -min(start for notes in self.written.values() for start, _, _ in notes))


def by_bar(notes, bar_ticks: int) -> dict[int, list[tuple[int, int, int]]]:
    """Notes of a melody in order, by the bar they begin in."""
    bars = defaultdict(list)
    for note in notes:
        bars[note.start_tick // bar_ticks].append((note.start_tick, note.ticks, note.pitch.midi))
    return dict(bars)


def play_in(songs: list[Song], seed: int) -> PlayedIn:
    """One section of one of the songs. Onsets spread by 8 to 22 ms, as amateurs tap (15 to 30 ms with those that begin, a value from
    memory); keys let go after 80 to 100 % of their length."""
    rng = random.Random(seed)
    song = rng.choice(songs)
    name = rng.choice([name for name, section in song.sections.items() if section.melody])
    meter = song.sections[name].meter
    tempo_bpm, late_s = rng.uniform(60, 150), rng.uniform(-0.03, 0.05)
    spread_s, held = rng.uniform(0.008, 0.022), rng.uniform(0.8, 1.0)
    ratio = rng.uniform(1.2, 2.4) if song.feel == "swing" and meter.pulse_ticks == 960 else 1.0
    notes = [note for note in section_melody(song, name) if note.pitch]
    edges = {tick for note in notes for tick in (note.start_tick, note.start_tick + note.ticks)}

    def seconds(tick: int) -> float:
        pulse, rest = divmod(tick, meter.pulse_ticks)
        swings = rest == 480 and all((edge - 480) % 960 in (0, 480) for edge in edges if edge // 960 == pulse)
        within = ratio / (ratio + 1) if swings and ratio > 1 else rest / meter.pulse_ticks
        return (pulse + within) * 60 / tempo_bpm

    presses = []
    for note in notes:
        start, end = seconds(note.start_tick), seconds(note.start_tick + note.ticks)
        share = min(1.0, held * rng.uniform(0.93, 1.05))
        presses.append(Press(start + late_s + rng.gauss(0, spread_s), note.pitch.midi, 80, (end - start) * share))
    return PlayedIn(song, name, tempo_bpm, ratio, presses, by_bar(notes, meter.bar_ticks))


def read_again(played: PlayedIn) -> tuple[Reading, dict[int, list[tuple[int, int, int]]]]:
    """What the companion reads it as, and its notes by bar."""
    section = played.song.sections[played.section]
    reading = read_played(
        played.presses,
        played.tempo_bpm,
        section.meter,
        len(section.bars),
        swings=played.song.feel == "swing",
        pickup_ticks=played.pickup_ticks,
    )
    return reading, by_bar(melody_of(reading, section.meter, section.key), section.meter.bar_ticks)
