"""A melody played in on a keyboard with the click, read as it would be written: swing taken out, onsets and ends on the grid.

The likeliest reading is found exactly (Viterbi 1967, IEEE Transactions on Information Theory 13(2):260-269, over hidden places on a grid, as
rhythm transcription does it: Raphael 2002, Artificial Intelligence 137:217-238; both from memory): each key lies at a place of a pulse that is divided one way, and a
way of dividing costs the more the rarer it is. Costs are negative logarithms; where no source is named they are ours, set on made-up playing. Units:
pulses from the first bar line as exact fractions, unless it says seconds.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

from companion.chart.melody import MelodyNote
from companion.practice.model import Press
from companion.theory.chord import Chord
from companion.theory.key import Key
from companion.theory.meter import TICKS_PER_QUARTER, Meter
from companion.theory.pitch import LETTERS, Pitch, Tone

SPREAD_S = 0.03  # of a student's onsets about their places
SKIP_COST = 7.0  # of a key that was brushed: nearly four spreads
TOGETHER_S = 0.04  # keys nearer than that are one note, the highest
# How a pulse may be divided -> what that costs; where nothing lies inside it, nothing.
_SIMPLE = {2: 0.0, 3: 3.0, 4: 3.5}
_COMPOUND = {3: 0.0, 6: 3.0, 2: 5.0}
_OFF_COST = 0.4  # of a note that begins inside a pulse
_REST_COST, _SHORT_REST_COST = 1.0, 2.5  # of a rest of a pulse and more, and of a shorter one
_HELD, _HELD_SPREAD = 0.9, 0.12  # how much of its written length a note is held
_RATIOS = (1.0, 1.2, 1.4, 1.6, 1.8, 2.0, 2.3, 2.6, 3.0)
_SOME = (1.0, 2.0)  # tried with every lateness
_LATE_S = (-0.08, -0.05, -0.02, 0.0, 0.02, 0.05, 0.08, 0.11)

Place = tuple[int, int, int]  # pulse, into how many parts it is divided, which of them from 0
_Way = tuple[Place | None, Any] | None  # the last place, and the way before it


@dataclass(frozen=True, slots=True)
class ReadNote:
    """start, length: written, in pulses; midi: the key."""

    start: Fraction
    length: Fraction
    midi: int


@dataclass(frozen=True, slots=True)
class Reading:
    """notes: in order, none over the next. ratio: the swing that was taken out, 1 for none. late_s: how far behind the click it was played
    throughout. brushed: keys left out. cost: of the onsets, see the head."""

    notes: tuple[ReadNote, ...]
    ratio: float
    late_s: float
    brushed: int
    cost: float


@dataclass(frozen=True, slots=True)
class _Grid:
    """pulse_s: seconds of a pulse. swings: whether halves of a pulse lie at the ratio. most: no note begins at this pulse or after it; first: or
    before that one."""

    pulse_s: float
    divisions: dict[int, float]
    swings: bool
    first: int
    most: int
    ratio: float = 1.0
    late_s: float = 0.0

    def heard(self, pulse: int, division: int, part: int) -> float:
        """When a place is struck, in seconds from the first bar line."""
        within = part / division
        if self.swings and division == 2 and part:
            within = self.ratio / (self.ratio + 1)
        return (pulse + within) * self.pulse_s + self.late_s

    def near(self, time_s: float) -> Iterator[tuple[Place, float]]:
        """Places within half a pulse, with what lying there costs."""
        middle = round((time_s - self.late_s) / self.pulse_s)
        for pulse in range(max(self.first, middle - 1), min(self.most, middle + 1)):
            for division in self.divisions:
                for part in range(division):
                    away = time_s - self.heard(pulse, division, part)
                    if abs(away) <= self.pulse_s / 2:
                        yield (pulse, division, part), (away / SPREAD_S) ** 2 / 2 + (_OFF_COST if part else 0.0)


def read_played(
    presses: Sequence[Press], tempo_bpm: float, meter: Meter, bars: int, *, swings: bool = True, pickup_ticks: int = 0
) -> Reading:
    """The likeliest written melody. presses: in seconds from the first bar line, those of the pickup before it; tempo_bpm: pulses a minute.
    Without presses it has no notes."""
    keys = _one_by_one(presses)
    divisions = _COMPOUND if meter.is_compound else _SIMPLE
    swings = swings and meter.pulse_ticks == TICKS_PER_QUARTER
    first = -(-pickup_ticks // meter.pulse_ticks)
    grid = _Grid(60.0 / tempo_bpm, divisions, swings, -first, bars * meter.pulses)
    tried = [_with(keys, grid, late_s=late, ratio=ratio) for late in _LATE_S for ratio in (_SOME if swings else (1.0,))]
    grid, cost, places = min(tried, key=lambda one: one[1])
    for ratio in _RATIOS if swings else ():
        grid, cost, places = min((grid, cost, places), _with(keys, grid, ratio=ratio), key=lambda one: one[1])
    for late in (grid.late_s - 0.01, grid.late_s + 0.01):
        grid, cost, places = min((grid, cost, places), _with(keys, grid, late_s=late), key=lambda one: one[1])
    kept = [(place, key) for place, key in zip(places, keys, strict=True) if place is not None]
    starts = [Fraction(pulse) + Fraction(part, division) for (pulse, division, part), _ in kept]
    ends = [*starts, Fraction(grid.most)][1:]
    notes = tuple(
        ReadNote(start, _end(start, until, place, key, grid) - start, key.note)
        for start, until, (place, key) in zip(starts, ends, kept, strict=True)
    )
    return Reading(notes, grid.ratio if swings else 1.0, grid.late_s, len(keys) - len(kept), cost)


def _with(keys: Sequence[Press], grid: _Grid, **changes: float) -> tuple[_Grid, float, list[Place | None]]:
    grid = replace(grid, **changes)  # type: ignore[arg-type]
    return grid, *_least(keys, grid)


def _one_by_one(presses: Sequence[Press]) -> list[Press]:
    """In order of time; of keys that go down together the highest."""
    keys: list[Press] = []
    for press in sorted(presses, key=lambda press: press.time_s):
        if keys and press.time_s - keys[-1].time_s < TOGETHER_S:
            keys[-1] = max(keys[-1], press, key=lambda one: one.note)
        else:
            keys.append(press)
    return keys


def _least(keys: Sequence[Press], grid: _Grid) -> tuple[float, list[Place | None]]:
    """The least cost, and the place of each key, None for one that was brushed. Exact: the state is the last place taken, and of those
    that no key to come can lie before only the cheapest is kept."""
    ways: dict[Place | None, tuple[float, _Way]] = {None: (0.0, None)}
    for key in keys:
        near = list(grid.near(key.time_s))
        ways = _settled(ways, min((place[0] for place, _ in near), default=grid.first))
        after: dict[Place | None, tuple[float, _Way]] = {
            last: (cost + SKIP_COST, (None, way)) for last, (cost, way) in ways.items()
        }
        for place, own in near:
            for last, (cost, way) in ways.items():
                if _follows(last, place):
                    whole = cost + own + _step(last, place, grid.divisions)
                    if place not in after or whole < after[place][0]:
                        after[place] = whole, (place, way)
        ways = after
    cost, way = min(ways.values(), key=lambda ended: ended[0])
    places: list[Place | None] = []
    while way is not None:
        places.append(way[0])
        way = way[1]
    return cost, places[::-1]


def _settled(ways: dict[Place | None, tuple[float, _Way]], pulse: int) -> dict[Place | None, tuple[float, _Way]]:
    """Without those that are dearer than another, where both lie before this pulse and so bind nothing."""
    free = {last: way for last, way in ways.items() if last is None or last[0] < pulse}
    if len(free) < 2:
        return ways
    best = min(free, key=lambda last: free[last][0])
    return {last: way for last, way in ways.items() if last not in free or last == best}


def _follows(last: Place | None, place: Place) -> bool:
    """Whether a key may lie there after the last one: in a later pulse, or further on in the same, divided alike."""
    if last is None or place[0] > last[0]:
        return True
    return place[0] == last[0] and place[2] > last[2] and (place[1] == last[1] or not last[2])


def _step(last: Place | None, place: Place, divisions: dict[int, float]) -> float:
    """What dividing a pulse costs, once in it, by the first note inside it."""
    inside = last is not None and last[0] == place[0] and last[2] > 0
    return 0.0 if inside or not place[2] else divisions[place[1]]


def _end(start: Fraction, until: Fraction, place: Place, key: Press, grid: _Grid) -> Fraction:
    """Where a note ends: at the next one, or at a place before it where the key was let go."""
    if key.held_s is None:
        return until
    began_s = key.time_s
    ends = [(until, 0.0)]
    ends += [(end, _REST_COST if until - end >= 1 else _SHORT_REST_COST) for end in _ends(start, until, place)]

    def cost(end: Fraction) -> float:
        pulse = int(end // 1)
        within = end - pulse
        due_s = grid.heard(pulse, within.denominator, within.numerator) if within else grid.heard(pulse, 1, 0)
        share = key.held_s / max(1e-3, due_s - began_s) if key.held_s is not None else _HELD
        return ((share - _HELD) / _HELD_SPREAD) ** 2 / 2 if share < _HELD or end != until else 0.0

    return min(ends, key=lambda each: cost(each[0]) + each[1])[0]


def _ends(start: Fraction, until: Fraction, place: Place) -> Iterator[Fraction]:
    """Places between a note's start and the next one's where it may end: pulses and their halves, in its own pulse as that is divided."""
    pulse, division, _ = place
    own = {Fraction(pulse) + Fraction(part, division) for part in range(1, division)}
    others = {Fraction(half, 2) for half in range(2 * (pulse + 1), int(until * 2) + 1)}
    yield from sorted(end for end in own | others if start < end < until)


# --- as a melody


def melody_of(
    reading: Reading, meter: Meter, key: Key, chords: Sequence[tuple[int, Chord | None]] = ()
) -> tuple[MelodyNote, ...]:
    """The reading as notes of a section. chords: (the tick it begins at, chord) in order, by which notes outside of the key are spelled."""
    notes = []
    for each in reading.notes:
        tick = int(each.start * meter.pulse_ticks)
        chord = next((chord for start, chord in reversed(chords) if start <= tick), None)
        notes.append(MelodyNote(tick, int(each.length * meter.pulse_ticks), spelled(each.midi, key, chord)))
    return tuple(_rising(notes, key))


def spelled(midi: int, key: Key, chord: Chord | None = None) -> Pitch:
    """A key's name: of the key's own scale, else of the chord's tones, else raised in keys with sharps and lowered in those with flats."""
    scale = [Tone(letter, key.signature(letter)) for letter in LETTERS]
    chromatic = [Tone(letter, -1 if key.fifths < 0 else 1) for letter in LETTERS]
    plain = [Tone(letter) for letter in LETTERS]
    tones = (*scale, *(chord.tones if chord is not None else ()), *plain, *chromatic)
    return next(tone for tone in tones if tone.pc == midi % 12).at_or_above(midi)


def _rising(notes: Sequence[MelodyNote], key: Key) -> list[MelodyNote]:
    """A note foreign to the key that goes up by a half step is the lower one raised (common practice of spelling)."""
    result = list(notes)
    for number, (note, after) in enumerate(pairwise(notes)):
        if note.pitch is None or after.pitch is None or after.pitch.midi - note.pitch.midi != 1:
            continue
        if note.pitch.tone.alter == key.signature(note.pitch.tone.letter):
            continue
        letter = LETTERS[(LETTERS.index(after.pitch.tone.letter) - 1) % 7]
        raised = Tone(letter, (note.pitch.midi - Tone(letter).pc + 6) % 12 - 6)
        if abs(raised.alter) <= 1 and note.pitch.tone.alter < 0 and note.pitch.tone.letter == after.pitch.tone.letter:
            result[number] = replace(note, pitch=raised.at_or_above(note.pitch.midi))
    return result
