"""Whether a melody and the shells below it keep apart, from what stands on the stand alone. Imports nothing of the project."""

from __future__ import annotations


def too_close(stand, least: int = 3) -> list[tuple[int, int, int]]:
    """(tick, melody note, shell note) wherever a melody note sounds with a shell note that is less than so many semitones below it."""
    shells = []
    for bar in stand.bars:
        unit = 3840 // bar.meter.unit
        for placed, choice in stand.choices_at(bar.index):
            if choice.shell is not None:
                start = bar.start_tick + placed.beat * unit
                shells.append((start, start + placed.beats * unit, choice.shell.midi))
    found, first = [], 0
    for note in stand.melody:  # in order, as the shells are
        while first < len(shells) and shells[first][1] <= note.start_tick:
            first += 1
        for start, _, keys in shells[first:] if note.pitch else ():
            if start >= note.start_tick + note.ticks:
                break
            found += [(note.start_tick, note.pitch.midi, key) for key in keys if note.pitch.midi - key < least]
    return found
