"""Whether a melody and the shells below it keep apart, and whether its fingers are a hand's, from what stands on the stand alone. Imports
nothing of the project."""

from __future__ import annotations

from itertools import pairwise


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


# How far apart two keys may lie under two fingers of the right hand, in semitones from the first finger to the second: MinPrac and MaxPrac of the
# table in Parncutt, Sloboda, Clarke, Raekallio and Desain 1997, Music Perception 14(4):341-382 (read in re-implementations).
PRACTICAL = {
    (1, 2): (-5, 10), (1, 3): (-4, 12), (1, 4): (-3, 14), (1, 5): (-1, 15), (2, 3): (1, 5),
    (2, 4): (1, 7), (2, 5): (2, 10), (3, 4): (1, 4), (3, 5): (1, 7), (4, 5): (1, 5),
}  # fmt: skip


def cannot_be_taken(stand, notes) -> list[tuple[int, int, int]]:
    """(tick, finger, key) of every note of a melody without a finger; and of those that no hand takes legato from the note before, though the
    two keys lie within an octave, nothing rests between them, and no section or ninth bar begins there, where the hand is put anew. notes: of
    the melody, each with its finger."""
    found = [(each.note.start_tick, each.finger, each.midi) for each in notes if each.finger not in (1, 2, 3, 4, 5)]
    anew = {bar.start_tick for bar in stand.bars if bar.bar % 8 == 1}
    for one, other in pairwise(notes):
        start, f, g, apart = other.note.start_tick, one.finger, other.finger, other.midi - one.midi
        if start in anew or start > one.note.end_tick or apart == 0 or abs(apart) > 12 or {f, g} - {1, 2, 3, 4, 5}:
            continue
        low, high = PRACTICAL.get((min(f, g), max(f, g)), (1, 0))
        if not low <= (apart if f < g else -apart) <= high:
            found.append((start, g, other.midi))
    return found
