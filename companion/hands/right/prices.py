"""What a fingering of a melody costs: the twelve rules of a published model of the right hand, and its table of spans.

Source: Parncutt, Sloboda, Clarke, Raekallio and Desain 1997, "An ergonomic model of keyboard fingering for melodic fragments", Music
Perception 14(4):341-382; table and rules as several re-implementations give them. The model knows no note struck again and no leap
past the practical spans; what stands here for those is ours: a finger spans nothing by itself, and a step that no hand can
take costs more than all that can be taken.

Units: semitones, points. Fingers are counted 1 for the thumb to 5 for the little finger; a span is that from the key of the lower
numbered finger up to the key of the other, negative where the thumb has passed under it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

FINGERS = (1, 2, 3, 4, 5)
BLACK = frozenset({1, 3, 6, 8, 10})
IMPRACTICAL = 1000  # ours: more than a phrase of practical steps costs


@dataclass(frozen=True, slots=True)
class Span:
    """How far two fingers stand apart, in semitones: practical, comfortable, relaxed."""

    min_prac: int
    min_comf: int
    min_rel: int
    max_rel: int
    max_comf: int
    max_prac: int


# (lower finger, higher finger) -> spans of the right hand. All rows: Parncutt and others 1997, table 1.
SPANS = {
    (1, 2): Span(-5, -3, 1, 5, 8, 10),
    (1, 3): Span(-4, -2, 3, 7, 10, 12),
    (1, 4): Span(-3, -1, 5, 9, 12, 14),
    (1, 5): Span(-1, 1, 7, 10, 13, 15),
    (2, 3): Span(1, 1, 1, 2, 3, 5),
    (2, 4): Span(1, 1, 3, 4, 5, 7),
    (2, 5): Span(2, 2, 5, 6, 8, 10),
    (3, 4): Span(1, 1, 1, 2, 2, 4),
    (3, 5): Span(1, 1, 3, 4, 5, 7),
    (4, 5): Span(1, 1, 1, 2, 3, 5),
}
_ALONE = Span(0, 0, 0, 0, 0, 0)  # ours: one finger on two keys

# Points of each rule, by its number in the paper.
STRETCH = 2  # 1: a semitone outside the comfortable span
SPAN_WITH_THUMB, SPAN_WITHOUT = 1, 2  # 2 and 3: a semitone outside the relaxed span
FULL_CHANGE, HALF_CHANGE = 2, 1  # 4: a change of position; 5: and 1 a semitone outside the comfortable span
WEAK_FINGER = 1  # 6: each use of the fourth or fifth finger
THREE_FOUR_FIVE = 1  # 7: the three in a row, in any order
THREE_TO_FOUR = 1  # 8
FOUR_ON_BLACK = 1  # 9: the fourth on a black key beside the third on a white one
THUMB_ON_BLACK, THUMB_BESIDE_WHITE = 1, 2  # 10: and for a white key before, and one after
FIVE_BESIDE_WHITE = 2  # 11: of a little finger on a black key, for a white key before, and one after
PASS_LEVEL, PASS_UP_TO_BLACK = 1, 3  # 12: thumb and finger pass; from a white key to the thumb on a black one above


def is_black(midi: int) -> bool:
    """Whether it is a black key."""
    return midi % 12 in BLACK


def note_cost(finger: int, key: int, before: int | None, after: int | None) -> int:
    """Rules 6, 10 and 11. key, before, after: MIDI numbers, None where nothing is played."""
    cost = WEAK_FINGER if finger >= 4 else 0
    if is_black(key) and finger in (1, 5):
        whites = sum(other is not None and not is_black(other) for other in (before, after))
        cost += THUMB_ON_BLACK + THUMB_BESIDE_WHITE * whites if finger == 1 else FIVE_BESIDE_WHITE * whites
    return cost


def pair_cost(first: int, second: int, left: int, right: int) -> int:
    """Rules 1, 2, 3, 8, 9 and 12. first, second: fingers; left, right: the keys they play, one after the other."""
    if left == right and first == second:
        return 0
    span, size = _span(first, second, right - left)
    thumb = 1 in (first, second)
    cost = 0 if span.min_prac <= size <= span.max_prac and first != second else IMPRACTICAL
    cost += STRETCH * _outside(size, span.min_comf, span.max_comf)
    cost += (SPAN_WITH_THUMB if thumb else SPAN_WITHOUT) * _outside(size, span.min_rel, span.max_rel)
    cost += THREE_TO_FOUR if (first, second) == (3, 4) else 0
    if {first, second} == {3, 4}:
        third, fourth = (left, right) if first == 3 else (right, left)
        cost += FOUR_ON_BLACK if is_black(fourth) and not is_black(third) else 0
    if thumb and first != second and size < 0:  # the thumb lies above the finger it passed
        low, high = sorted((left, right))
        if is_black(low) == is_black(high):
            cost += PASS_LEVEL
        elif is_black(high):
            cost += PASS_UP_TO_BLACK
    return cost


def triple_cost(fingers: tuple[int, int, int], up: int, then: int) -> int:
    """Rules 4, 5 and 7. up, then: semitones from the first key to the second, from the second to the third."""
    first, second, third = fingers
    cost = THREE_FOUR_FIVE if set(fingers) == {3, 4, 5} else 0
    span, size = _span(first, third, up + then)
    outside = _outside(size, span.min_comf, span.max_comf)
    if outside:
        between = up * then > 0
        is_full = second == 1 and between and not span.min_prac <= size <= span.max_prac
        cost += (FULL_CHANGE if is_full else HALF_CHANGE) + outside
    return cost


def _span(first: int, second: int, up: int) -> tuple[Span, int]:
    """The row of two fingers, and how far they stand apart where the second plays so many semitones above the first."""
    if first == second:
        return _ALONE, up
    return (SPANS[first, second], up) if first < second else (SPANS[second, first], -up)


def _outside(size: int, least: int, most: int) -> int:
    return max(0, least - size, size - most)


def fingering_cost(fingers: tuple[int, ...], keys: tuple[int, ...]) -> int:
    """The sum of all rules over a phrase: one finger a key."""
    around = (None, *keys, None)
    cost = sum(note_cost(finger, *_around(around, at)) for at, finger in enumerate(fingers))
    cost += sum(pair_cost(*fingers[at : at + 2], *keys[at : at + 2]) for at in range(len(keys) - 1))
    return cost + sum(
        triple_cost(
            (fingers[at], fingers[at + 1], fingers[at + 2]), keys[at + 1] - keys[at], keys[at + 2] - keys[at + 1]
        )
        for at in range(len(keys) - 2)
    )


def _around(keys: tuple[int | None, ...], at: int) -> tuple[int, int | None, int | None]:
    before, key, after = keys[at : at + 3]
    assert key is not None
    return key, before, after


# --- the same as tables, of which a melody needs few


Table = tuple[tuple[int, ...], ...]


@cache
def _pairs(left: int, up: int) -> Table:
    """[first - 1][second - 1]; left: a key of the first octave."""
    return tuple(tuple(pair_cost(a, b, left, left + up) for b in FINGERS) for a in FINGERS)


def pair_table(left: int, right: int) -> Table:
    """`pair_cost` for all fingers: [first - 1][second - 1]."""
    return _pairs(left % 12, right - left)


@cache
def triple_table(up: int, then: int) -> tuple[Table, ...]:
    """`triple_cost` for all fingers: [first - 1][second - 1][third - 1]."""
    return tuple(tuple(tuple(triple_cost((a, b, c), up, then) for c in FINGERS) for b in FINGERS) for a in FINGERS)
