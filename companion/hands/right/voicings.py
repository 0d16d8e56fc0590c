"""Every voicing that the right hand may play on one melody note: the melody on top, chord tones under it, a finger for each.

The rules are those of voicing_rules.py. What is added ends with its chord, so it is held against that chord and all that the left hand plays in
the meantime; a note that is pushed ahead of the next chord sounds with both, and takes only tones that belong to both.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, pairwise

from companion.hands.limits import DEFAULT_LIMITS, Limit, lowest_for
from companion.hands.right import voicing_rules as rules
from companion.hands.right.prices import FINGERS, SPAN_WITH_THUMB, SPAN_WITHOUT, SPANS, STRETCH, note_cost
from companion.theory.chord import Chord

LIGHT, LAST = "light", "last"


@dataclass(frozen=True, slots=True)
class MelodyStroke:
    """A note of the melody as it is to be harmonised. key: MIDI number. onset: in ticks, from anywhere. room_ms: until the right hand's next
    stroke, at the target tempo; before_ms: since the one before. leap: semitones to the farther one of these that is nearer in time than
    `FAR_LEAP_MS`, 0 without one. chords: those that sound while what is added does, none for N.C.; shell: every key of the left hand meanwhile.
    pin: degrees of the first chord that the student wants under it, from the lowest, () for the melody alone; None for what is best. place: LIGHT on a light beat
    between others, LAST at the end of a phrase, else "".
    """

    key: int
    onset: int
    room_ms: float
    chords: tuple[Chord, ...]
    shell: tuple[int, ...]
    leap: int = 0
    pin: tuple[str, ...] | None = None
    place: str = ""


@dataclass(frozen=True, slots=True)
class Voicing:
    """keys: MIDI numbers from the lowest, the melody last. fingers: one each."""

    keys: tuple[int, ...]
    fingers: tuple[int, ...]

    @property
    def added(self) -> tuple[int, ...]:
        """The keys under the melody."""
        return self.keys[:-1]


def most_notes(stroke: MelodyStroke, voices: int) -> int:
    """How many notes the hand may play there at most, the melody among them: by the time it has, and 1 without a chord."""
    if not stroke.chords:
        return 1
    return max(
        (notes for notes, room_ms in rules.ROOM_MS.items() if notes <= voices and stroke.room_ms >= room_ms), default=1
    )


def is_due(stroke: MelodyStroke, voices: int) -> bool:
    """Whether the melody is to have company there."""
    return most_notes(stroke, voices) > 1


def voicings_of(
    stroke: MelodyStroke,
    voices: int,
    *,
    tensions: bool,
    limits: tuple[Limit, ...] = DEFAULT_LIMITS,
    reach: int = rules.SPAN,
) -> Mapping[Voicing, int]:
    """Every voicing that keeps all hard rules, with every fingering that reaches it, and what it costs but for the way from note to note. The
    melody alone is always among them, but for a pin.

    voices: 1 to 4, notes in the hand with the melody. reach: of the right hand, in semitones."""
    most = most_notes(stroke, voices)
    span = min(reach, rules.SPAN, rules.FAR_LEAP - abs(stroke.leap) if stroke.leap else reach)
    return _voicings(
        stroke.key,
        stroke.chords,
        tuple(sorted(set(stroke.shell))),
        voices,
        most,
        span,
        tensions,
        limits,
        stroke.pin,
        stroke.place,
    )


@lru_cache(maxsize=4096)  # the same note over the same chord comes again and again in a song
def _voicings(
    melody: int, chords: tuple[Chord, ...], shell: tuple[int, ...], voices: int, most: int, span: int, tensions: bool,
    limits: tuple[Limit, ...], pin: tuple[str, ...] | None, place: str,
) -> Mapping[Voicing, int]:  # fmt: skip
    found: dict[Voicing, int] = {}
    for added in _sets(melody, chords, shell, voices, most, span, tensions, pin):
        keys = (*added, melody)
        if added and not _is_legal(keys, chords, shell, limits):
            continue
        cost = _harmony_cost(keys, chords, shell, voices, place)
        found |= {Voicing(keys, fingers): cost + hold for fingers, hold in fingerings(keys)}
    if pin is not None and not found:
        return _voicings(melody, chords, shell, voices, most, span, tensions, limits, None, place)
    return found


def _sets(
    melody: int, chords: tuple[Chord, ...], shell: tuple[int, ...], voices: int, most: int, span: int, tensions: bool,
    pin: tuple[str, ...] | None,
) -> Iterator[tuple[int, ...]]:  # fmt: skip
    """Sets of added keys, from the lowest up, () first where no pin asks for others."""
    if not chords or (pin is None or not pin):
        yield ()
        if not chords or pin is not None:
            return
    lowest = max(rules.LOWEST_ADDED, melody - span, max(shell, default=0) + rules.ABOVE_SHELL)
    places = [key for key in range(lowest, melody - rules.UNDER_MELODY + 1) if key % 12 != melody % 12]
    if pin is not None:
        wanted = {rules.pc_of(chords[0], degree) for degree in pin}
        for keys in combinations([key for key in places if key % 12 in wanted], len(wanted)):
            if len({key % 12 for key in keys}) == len(wanted):
                yield keys
        return
    pcs = addable(chords, tensions=tensions and voices > 2)
    keys_there = [key for key in places if key % 12 in pcs]
    if voices == 2:
        keys_there = [key for key in keys_there if melody - key in (3, 4, 8, 9) or _tells(key, chords, shell)]
    for count in range(1, most):
        yield from combinations(keys_there, count)


def addable(chords: Sequence[Chord], *, tensions: bool) -> frozenset[int]:
    """Pitch classes that belong to all the chords."""
    each = [
        frozenset(rules.pc_of(chord, degree) for degree in rules.addable_degrees(chord, tensions=tensions))
        for chord in chords
    ]
    return frozenset.intersection(*each)


def _tells(key: int, chords: Sequence[Chord], shell: Sequence[int]) -> bool:
    """Whether it is a guide tone that the shell lacks."""
    heard = {other % 12 for other in shell}
    return key % 12 not in heard and any(
        key % 12 == rules.pc_of(chords[0], degree) for degree in rules.guide_degrees(chords[0])
    )


def _is_legal(keys: Sequence[int], chords: Sequence[Chord], shell: Sequence[int], limits: tuple[Limit, ...]) -> bool:
    if len({key % 12 for key in keys}) < len(keys) or any(
        upper - lower < rules.INSIDE for lower, upper in pairwise(keys)
    ):
        return False
    for lower, upper in (*combinations(keys, 2), *((low, key) for low in shell for key in keys[:-1])):
        if lower < lowest_for(limits, upper - lower):
            return False
        if upper - lower in rules.MINOR_NINTHS and not _is_own_ninth(lower, upper, chords):
            return False
    return True


def _is_own_ninth(lower: int, upper: int, chords: Sequence[Chord]) -> bool:
    """Whether it is the chord's own flat ninth over its root."""
    return all(lower % 12 == chord.root.pc and "b9" in chord.degrees for chord in chords)


def _harmony_cost(keys: Sequence[int], chords: Sequence[Chord], shell: Sequence[int], voices: int, place: str) -> int:
    if not chords:
        return 0
    in_shell = {key % 12 for key in shell}
    heard = in_shell | {key % 12 for key in keys}
    silent = sum(rules.pc_of(chords[0], degree) not in heard for degree in rules.guide_degrees(chords[0]))
    cost = _missing(voices, len(keys), place) + (rules.LIGHT_GUIDE if place == LIGHT else rules.NO_GUIDE_TONE) * silent
    for lower, upper in pairwise(keys):
        size = upper - lower
        is_open = place == LAST and size >= rules.WIDE
        cost += min(rules.WIDE_LAST, rules.INTERVALS[size]) if is_open else rules.INTERVALS[size]
    for key in keys[:-1]:
        if key % 12 in in_shell:
            cost += rules.DOUBLED_LOW if key < rules.LOW else rules.DOUBLED
    return cost


def _missing(voices: int, notes: int, place: str) -> int:
    """What it costs to play fewer notes than are wanted."""
    if place != LIGHT:
        return rules.MISSING * (voices - notes)
    more = rules.LIGHT_MISSING * (voices - max(2, notes))
    return more + (rules.LIGHT_ALONE[voices] if notes == 1 and voices > 1 else 0)


@lru_cache(maxsize=16384)
def inner_cost(before: tuple[int, ...], after: tuple[int, ...]) -> int:
    """What it costs that notes under the melody move from one chord to the next: each from the nearest of those before it. Nothing where one of the two has none."""
    if not before or not after:
        return 0
    moves = (min(abs(key - old) for old in before) for key in after)
    return min(rules.INNER_MOST, rules.INNER_EACH * sum(max(0, move - rules.INNER_FREE) for move in moves))


@lru_cache(maxsize=4096)
def fingerings(keys: tuple[int, ...]) -> list[tuple[tuple[int, ...], int]]:
    """(fingers, cost) of every way to hold the keys at once within the practical spans."""
    if len(keys) == 1:
        return [((finger,), 0) for finger in FINGERS]
    found = []
    for fingers in combinations(FINGERS, len(keys)):
        pairs = [(fingers[a], fingers[b], keys[b] - keys[a]) for a, b in combinations(range(len(keys)), 2)]
        if all(SPANS[low, high].min_prac <= size <= SPANS[low, high].max_prac for low, high, size in pairs):
            cost = sum(_held(low, high, size) for low, high, size in pairs)
            cost += sum(note_cost(finger, key, None, None) for finger, key in zip(fingers[:-1], keys))
            found.append((fingers, min(rules.HAND_MOST, cost)))
    return found


def _held(low: int, high: int, size: int) -> int:
    """What two fingers that far apart cost: stretch, and what lies outside the relaxed span."""
    span = SPANS[low, high]
    stretch = max(0, span.min_comf - size, size - span.max_comf)
    outside = max(0, span.min_rel - size, size - span.max_rel)
    return STRETCH * stretch + (SPAN_WITH_THUMB if low == 1 else SPAN_WITHOUT) * outside
