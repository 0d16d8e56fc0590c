"""A song's chorus as the solver of the left hand wants it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from typing import cast

from companion.chart.model import FormBar, Song
from companion.errors import ShellError
from companion.hands.hand import Hand
from companion.hands.left.model import Slot
from companion.hands.left.options import pinned_options
from companion.hands.left.phrases import FEWEST_BARS, find_phrases
from companion.theory.shell_kinds import Pin

ChordPlace = tuple[str, int, int]  # section, bar, chord; bar and chord from 1
Pins = dict[ChordPlace, Pin]


def slots_of(song: Song, bars: tuple[FormBar, ...], own_pins: Pins | None = None) -> list[Slot]:
    """The chords of one chorus as the solver wants them, with the pins of the song and over them the student's own."""
    pins = {**song.pins, **(own_pins or {})}
    slots: list[Slot] = []
    ends: dict[tuple[str, int], int] = {}  # the last chord that sounds each time a section comes
    last_bars = _last_bars(bars)
    for bar in bars:
        label = f"section {bar.section}, bar {bar.bar}"
        for number, placed in enumerate(bar.chords, 1):
            place = (bar.section, bar.bar, number)
            if placed.chord is not None:
                ends[bar.section, bar.occurrence] = len(slots)
            slots.append(Slot(placed.chord, place, pins.get(place), label, bar.index))
        if bar.index in last_bars and bar.chords and bar.chords[-1].chord is not None:
            slots[-1] = replace(slots[-1], ends=True)
    for last in ends.values():
        slots[last] = replace(slots[last], ends=True)
    return slots


def without_unfit(
    slots: list[Slot], hand: Hand, kept: Collection[ChordPlace] = ()
) -> tuple[list[Slot], tuple[ChordPlace, ...]]:
    """The slots of `slots_of` without the pins that the hand has no shell for, and the places of these, each once. kept: places whose pins stay all the
    same."""
    unfit = (cast("ChordPlace", slot.place) for slot in slots if not _pin_fits(slot, hand))
    dropped = tuple(dict.fromkeys(place for place in unfit if place not in kept))
    return [replace(slot, pin=None) if slot.place in dropped else slot for slot in slots], dropped


def _pin_fits(slot: Slot, hand: Hand) -> bool:
    if slot.pin is None or slot.chord is None:
        return True
    try:
        return bool(pinned_options(slot.chord, hand, slot.pin))
    except ShellError:
        return False


def _last_bars(bars: tuple[FormBar, ...]) -> set[int]:
    """The last bars of phrases within a section, by their indices: a phrase that comes again ends there, and the section has then had
    four bars, eight, twelve ... (common practice: phrases of four and eight bars)."""
    phrases = find_phrases([tuple(placed.chord for placed in bar.chords) for bar in bars])
    ends = {start + phrase.length - 1 for phrase in phrases for start in phrase.starts}
    return {index for index in ends if bars[index].bar % FEWEST_BARS == 0}
