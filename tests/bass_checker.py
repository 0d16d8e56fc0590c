"""What a bass does beside the student's left hand, counted from what sounds alone: nothing of the bass's own code is used.

- onsets: chords that come in with a bass note and a shell; own: those where the bass strikes the very key of the shell's lower note
- notes: of the bass; same: those that sound together with their own key in the left hand; above: those that sound over the left hand's
  lowest key; low, high: those under E1 and over D3; leaps: more than an octave from the note before
- strong: notes on strong beats; tones: those that are tones of the chord (its symbol's third, fifth, sixth or seventh, root or slash bass)
- into: last notes of a chord of two beats or more before a new one; steps: those a whole or half step from where that begins
- lines: chords whose lowest tone lies a step from the one before; walked: those where the bass begins them that step away

Units: ticks of 1/960 quarter from the first bar line, MIDI numbers.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise

from companion.groove.model import GrooveBar, NoteEvent
from companion.theory.chord import Chord

E1, D3, OCTAVE = 28, 50, 12
COUNTS = (
    "onsets",
    "own",
    "notes",
    "same",
    "above",
    "low",
    "high",
    "leaps",
    "strong",
    "tones",
    "into",
    "steps",
    "lines",
    "walked",
)


def counted(bars: Sequence[GrooveBar], events: Sequence[NoteEvent], walks: bool) -> Counter[str]:
    """bars: all that is played, in order; events: what sounds of bass and left hand, straight. walks: whether the bass plays every beat."""
    found: Counter[str] = Counter()
    bass = sorted((event for event in events if event.part == "bass"), key=lambda event: event.tick)
    left = [event for event in events if event.part == "left"]
    for note in bass:
        found["notes"] += 1
        beside = [key.note for key in left if key.tick < note.tick + note.ticks and note.tick < key.tick + key.ticks]
        found["same"] += note.note in beside
        found["above"] += bool(beside) and note.note > min(beside)
        found["low"] += note.note < E1
        found["high"] += note.note > D3
    found["leaps"] = sum(abs(one.note - other.note) > OCTAVE for one, other in pairwise(bass))
    begins = {note.tick: note.note for note in bass}
    _count_chords(bars, begins, found)
    if walks:
        _count_walk(bars, bass, begins, found)
    return found


def _placed(bars: Sequence[GrooveBar]) -> list[tuple[int, int, Chord | None, tuple[int, ...]]]:
    """(tick, ticks, chord, the shell's keys) of every chord, a chord that goes on over a bar line told as one more."""
    found, start = [], 0
    for bar in bars:
        found += [(start + chord.tick, chord.ticks, chord.chord, chord.notes) for chord in bar.chords]
        start += bar.meter.bar_ticks
    return found


def _count_chords(bars: Sequence[GrooveBar], begins: dict[int, int], found: Counter[str]) -> None:
    placed = _placed(bars)
    for tick, _, chord, keys in placed:
        if chord is not None and keys and tick in begins:
            found["onsets"] += 1
            found["own"] += begins[tick] == min(keys)
    for (tick, _, chord, _), (later, _, other, _) in pairwise(placed):
        if chord is None or other is None or tick not in begins or later not in begins:
            continue
        step = (_lowest(other) - _lowest(chord) + 6) % 12 - 6
        if 0 < abs(step) <= 2 and begins[tick] % 12 == _lowest(chord):
            found["lines"] += 1
            found["walked"] += begins[later] - begins[tick] == step


def _count_walk(
    bars: Sequence[GrooveBar], bass: Sequence[NoteEvent], begins: dict[int, int], found: Counter[str]
) -> None:
    start = 0
    for bar in bars:
        pulse = bar.meter.pulse_ticks
        for chord in bar.chords:
            if chord.chord is None:
                continue
            first, end = start + chord.tick, start + chord.tick + chord.ticks
            inside = [note for note in bass if first <= note.tick < end]
            goes_on = end in begins and chord.ticks >= 2 * pulse
            for note in inside:
                approaches = goes_on and note is inside[-1] and note.tick > first
                if (note.tick - start) // pulse in bar.meter.strong_pulses and not approaches:
                    found["strong"] += 1
                    found["tones"] += note.note % 12 in _tones(chord.chord)
            if goes_on and len(inside) > 1:
                found["into"] += 1
                found["steps"] += 1 <= abs(begins[end] - inside[-1].note) <= 2
        start += bar.meter.bar_ticks


def _lowest(chord: Chord) -> int:
    return (chord.bass or chord.root).pc


def _tones(chord: Chord) -> set[int]:
    return {*chord.pitch_classes, _lowest(chord)}
