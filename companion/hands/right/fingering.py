"""Which finger of the right hand takes each note of a melody: phrase by phrase, the least by the published costs (prices.py).

Exact dynamic programming over the last two fingers, as three rules look at three notes. Pins win over the taught fingers of
runs (taught.py), these over the costs. Phrases of one shape, the same intervals in the same rhythm, are fingered alike: by what is least
for all of them together, as transposed ones lie on other black keys. Among equals the lower fingers come first, note by note.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from companion.hands.right.prices import FINGERS, note_cost, pair_table, triple_table
from companion.hands.right.taught import taught_fingers
from companion.hands.right.voicing_rules import STEP_MOST, TURN_MOST
from companion.theory.key import Key

Held = dict[int, int]  # place in the phrase -> the finger it must have


@dataclass(frozen=True, slots=True)
class HandPhrase:
    """A phrase as the hand sees it. keys: MIDI numbers, one at least. onsets: when each is struck, from anywhere, in any unit. key: that it
    is in. pins: place in the phrase, from 0 -> the student's own finger. upbeat: how many notes come before its first bar line, not all."""

    keys: tuple[int, ...]
    onsets: tuple[int, ...]
    key: Key
    pins: Mapping[int, int] = field(default_factory=dict)
    upbeat: int = 0

    @property
    def shape(self) -> Hashable:
        """Equal for phrases that are the same, if not at the same pitch."""
        return tuple(key - self.keys[0] for key in self.keys), tuple(onset - self.onsets[0] for onset in self.onsets)

    @property
    def body(self) -> HandPhrase:
        """Without the upbeat."""
        pins = {place - self.upbeat: finger for place, finger in self.pins.items() if place >= self.upbeat}
        return HandPhrase(self.keys[self.upbeat :], self.onsets[self.upbeat :], self.key, pins)


def finger_phrases(phrases: Sequence[HandPhrase]) -> list[tuple[int, ...]]:
    """A finger, 1 to 5, for each note of each phrase. Phrases that differ by their upbeat alone are fingered alike behind it."""
    settled = list(phrases)
    for numbers in _groups([phrase.body.shape for phrase in phrases]):
        if len({phrases[number].shape for number in numbers}) > 1:
            bodies = _finger_whole([phrases[number].body for number in numbers])
            for number, fingers in zip(numbers, bodies, strict=True):
                phrase = phrases[number]
                behind = dict(enumerate(fingers, phrase.upbeat))
                settled[number] = replace(phrase, pins={**phrase.pins, **behind})
    return _finger_whole(settled)


def _finger_whole(phrases: Sequence[HandPhrase]) -> list[tuple[int, ...]]:
    found: dict[int, tuple[int, ...]] = {}
    for numbers in _groups([phrase.shape for phrase in phrases]):
        for together, held in _together([(number, phrases[number]) for number in numbers]):
            fingers = least_fingering(sorted({phrases[number].keys for number in together}), held)
            found |= dict.fromkeys(together, fingers)
    return [found[number] for number in range(len(phrases))]


def _groups(shapes: Sequence[Hashable]) -> list[list[int]]:
    """The numbers of those that are equal, group by group."""
    found: dict[Hashable, list[int]] = {}
    for number, shape in enumerate(shapes):
        found.setdefault(shape, []).append(number)
    return list(found.values())


def _together(alike: Sequence[tuple[int, HandPhrase]]) -> list[tuple[list[int], Held]]:
    """Phrases of one shape in groups that one fingering can serve: all of them, or where what must be contradicts itself, those
    of which the same must be."""
    held = {number: _held(phrase, alike) for number, phrase in alike}
    everything = {item for each in held.values() for item in each.items()}
    if len({place for place, _ in everything}) == len(everything):
        return [(list(held), dict(everything))]
    groups: dict[Hashable, list[int]] = {}
    for number, each in held.items():
        groups.setdefault(tuple(sorted(each.items())), []).append(number)
    return [(numbers, held[numbers[0]]) for numbers in groups.values()]


def _held(phrase: HandPhrase, alike: Sequence[tuple[int, HandPhrase]]) -> Held:
    """The pins, those of equal phrases too where the phrase has none there, and the taught fingers of runs that no pin touches
    otherwise."""
    pins = {place: finger for _, other in alike for place, finger in other.pins.items()} | dict(phrase.pins)
    taught = taught_fingers(phrase.keys, phrase.key)
    if any(taught.get(place, finger) != finger for place, finger in pins.items()):
        taught = {}  # the student goes another way
    return taught | pins


def least_fingering(
    lines: Sequence[tuple[int, ...]], held: Mapping[int, int], chords: Mapping[int, Mapping[int, int]] | None = None
) -> tuple[int, ...]:
    """The fingers that cost least for all lines together. lines: keys of phrases of one shape; held: place -> the finger it must have.
    chords: place where other notes lie under this one -> finger -> what the chord costs for all lines with that finger on top; other
    fingers cannot be. The way from or to a chord costs STEP_MOST and TURN_MOST at most, as the hand may lift."""
    count = len(lines[0])
    chords = chords or {}
    choices: list[Sequence[int]] = [
        (held[at],) if at in held else tuple(chords.get(at, FINGERS)) for at in range(count)
    ]
    notes = [_note_costs(lines, at, chords.get(at)) for at in range(count)]
    if count == 1:
        return (min(choices[0], key=lambda finger: notes[0][finger - 1]),)
    pairs = [_pair_costs(lines, at, STEP_MOST if chords.keys() & {at, at + 1} else None) for at in range(count - 1)]
    triples = [triple_table(*_steps(lines[0], at)) for at in range(count - 2)]
    lifts = [bool(chords.keys() & {at, at + 1, at + 2}) for at in range(count - 2)]
    to_come: list[dict[tuple[int, int], int]] = [
        {} for _ in range(count - 1)
    ]  # by the fingers of this note and the next

    def then(at: int, a: int, b: int, c: int) -> int:
        """All from the note behind the next on, which c plays."""
        turn = triples[at][a - 1][b - 1][c - 1]
        of_three = len(lines) * (min(TURN_MOST, turn) if lifts[at] else turn)
        return of_three + pairs[at + 1][b - 1][c - 1] + notes[at + 2][c - 1] + to_come[at + 1][b, c]

    for at in range(count - 2, -1, -1):
        for a in choices[at]:
            for b in choices[at + 1]:
                to_come[at][a, b] = 0 if at == count - 2 else min(then(at, a, b, c) for c in choices[at + 2])

    def whole(first: tuple[int, int]) -> int:
        a, b = first
        return notes[0][a - 1] + notes[1][b - 1] + pairs[0][a - 1][b - 1] + to_come[0][a, b]

    pairs_of_fingers = [(a, b) for a in choices[0] for b in choices[1]]
    fingers = [*min(pairs_of_fingers, key=whole)]
    for at in range(count - 2):
        a, b = fingers[-2:]
        fingers.append(min(choices[at + 2], key=lambda c: then(at, a, b, c)))
    return tuple(fingers)


def _note_costs(lines: Sequence[tuple[int, ...]], at: int, chord: Mapping[int, int] | None) -> list[int]:
    def around(keys: tuple[int, ...]) -> tuple[int, int | None, int | None]:
        return keys[at], keys[at - 1] if at else None, keys[at + 1] if at + 1 < len(keys) else None

    alone = [sum(note_cost(finger, *around(keys)) for keys in lines) for finger in FINGERS]
    return [cost + (chord or {}).get(finger, 0) for finger, cost in zip(FINGERS, alone)]


def _pair_costs(lines: Sequence[tuple[int, ...]], at: int, most: int | None) -> list[list[int]]:
    tables = [pair_table(*keys[at : at + 2]) for keys in lines]
    return [
        [sum(cost if most is None else min(most, cost) for cost in costs) for costs in zip(*rows, strict=True)]
        for rows in zip(*tables, strict=True)
    ]


def _steps(keys: tuple[int, ...], at: int) -> tuple[int, int]:
    return keys[at + 1] - keys[at], keys[at + 2] - keys[at + 1]
