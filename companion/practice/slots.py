"""A song's chorus as the solver of the left hand wants it."""

from __future__ import annotations

from dataclasses import replace

from companion.chart.model import FormBar, Song
from companion.hands.left.model import Slot
from companion.theory.shell_kinds import Pin

ChordPlace = tuple[str, int, int]  # section, bar, chord; bar and chord from 1
Pins = dict[ChordPlace, Pin]


def slots_of(song: Song, bars: tuple[FormBar, ...], own_pins: Pins | None = None) -> list[Slot]:
    """The chords of one chorus as the solver wants them, with the pins of the song and over them the student's own."""
    pins = {**song.pins, **(own_pins or {})}
    slots: list[Slot] = []
    ends: dict[tuple[str, int], int] = {}  # the last chord that sounds each time a section comes
    for bar in bars:
        label = f"section {bar.section}, bar {bar.bar}"
        for number, placed in enumerate(bar.chords, 1):
            place = (bar.section, bar.bar, number)
            if placed.chord is not None:
                ends[bar.section, bar.occurrence] = len(slots)
            slots.append(Slot(placed.chord, place, pins.get(place), label, bar.index))
    for last in ends.values():
        slots[last] = replace(slots[last], ends=True)
    return slots
