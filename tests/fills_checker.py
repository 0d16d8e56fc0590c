"""Whether a fill keeps every rule, from plain numbers alone. Imports nothing of the project.

Spans of two fingers: Parncutt, Sloboda, Clarke, Raekallio and Desain 1997 (from the table in hands/right_oracle.py). Scales: the chord-scale tables of jazz
teaching (common practice). The rest are the project's own rules, written anew from their words.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from hands.right_oracle import ROWS

# What a chord has of third, fifth and seventh -> semitones of its scale. First row that fits; common practice.
SCALES = (
    ({3, 6, 9}, {0, 2, 3, 5, 6, 8, 9, 11}),
    ({3, 6}, {0, 1, 3, 5, 6, 8, 10}),
    ({3, 7, 11}, {0, 2, 3, 5, 7, 9, 11}),
    ({3}, {0, 2, 3, 5, 7, 9, 10}),
    ({4, 8, 10}, {0, 2, 4, 6, 8, 10}),
    ({4, 8}, {0, 2, 4, 6, 8, 9, 11}),
    ({10}, {0, 2, 4, 5, 7, 9, 10}),
    (set(), {0, 2, 4, 5, 7, 9, 11}),
)
BLUE = {3, 6, 10}  # above the root


@dataclass(frozen=True)
class Note:
    start: int
    end: int
    key: int
    finger: int = 1


@dataclass(frozen=True)
class Chord:
    """semitones: of all its tones above the root, within an octave. shell: the left hand's keys."""

    start: int
    end: int
    root: int
    semitones: frozenset
    shell: tuple


def faults(fill, before, after, chords, tick_ms, pulse, kind=""):
    """A sentence for each rule that is broken. fill: Notes in order; before, after: the melody's Notes around it, after None at the end of the chorus; chords: those
    that sound from the one to the other."""
    found = []
    here = [next((chord for chord in chords if chord.start <= note.start < chord.end), None) for note in fill]
    if not 3 <= len(fill) <= 9:
        found.append("too few notes, or too many")
    if any(a.end > b.start or a.start >= b.start for a, b in pairwise(fill)) or any(n.end <= n.start for n in fill):
        found.append("one note sounds into the next")
    let_go = min(before.end, before.start + pulse)
    if fill[0].start < let_go or (after and fill[-1].end > after.start):
        found.append("over the melody")
    line = [before, *fill, *([after] if after else [])]
    for a, b in pairwise(line):
        ms = (b.start - a.start) * tick_ms
        if b in fill and a in fill and ms < 164:
            found.append("too quick")
        if a.key == b.key and ms < 100:
            found.append("one key again too soon")
        if abs(a.key - b.key) > 19 and ms < 300:
            found.append("a leap too far")
    for note, chord in zip(fill, here, strict=True):
        if chord is None:
            found.append("no chord sounds")
        elif chord.shell and note.key < max(chord.shell) + 3:
            found.append("on top of the shell")
        if not 57 <= note.key <= 84:
            found.append("out of range")
        if not 1 <= note.finger <= 5:
            found.append("no finger")
    for a, b in pairwise(fill):
        if a.finger == b.finger:
            found += ["one finger on two keys"] * (a.key != b.key)
        else:
            low, high = sorted((a, b), key=lambda note: note.finger)
            row = ROWS[low.finger, high.finger]
            if not row[0] <= high.key - low.key <= row[5]:
                found.append(f"fingers {low.finger} and {high.finger} do not reach")
    if None not in here:
        found += _tones(fill, here, after, kind)
        if not (_leads_on(fill, after, pulse) or _rests(fill, here[-1])):
            found.append("it does not resolve")
    return found


def _leads_on(fill, after, pulse):
    return after is not None and 1 <= abs(fill[-1].key - after.key) <= 2 and after.start - fill[-1].start <= pulse


def _rests(fill, chord):
    third = next((step for step in (4, 3, 5, 2) if step in chord.semitones), None)
    seventh = next((step for step in (11, 10, 9) if step in chord.semitones), None)
    step = abs(fill[-1].key - fill[-2].key)
    return (fill[-1].key - chord.root) % 12 in (third, seventh) and 1 <= step <= 2


def _tones(fill, here, after, kind):
    """Every note belongs to the scale of its chord, but a half step into the next or the one behind it, and the blue notes of a blues turn."""
    keys = [note.key for note in fill] + ([after.key] if after else [])
    for number, (note, chord) in enumerate(zip(fill, here, strict=True)):
        fifths = set(chord.semitones)
        scale = next(scale for needed, scale in SCALES if needed <= fifths) | chord.semitones
        step = (note.key - chord.root) % 12
        near = [abs(note.key - key) for key in keys[number + 1 : number + 3]]
        if step not in scale and 1 not in near and not (kind == "blues" and step in BLUE | {0, 2, 5, 7, 9}):
            yield "no tone of its chord"
