"""Which fingers take a chord in close position, all its notes together: the table that is taught.

A row is a shape: how many letters each note lies above the one below it (a third is 2, a second 1, a fourth 3), so it holds in every
key and on every inversion. The table wins over any price of spans and stretches: by those alone a triad is cheapest with 1-2-4 (spans of
Parncutt, Sloboda, Clarke, Raekallio and Desain 1997, Music Perception 14(4):341-382), and nobody teaches that.

Fingers are counted 1 for the thumb to 5 for the little finger and written from the lowest note up. Hands differ: a teacher's or the
student's own fingering is as good.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

# Letters from note to note -> (right, left), the usual fingering first. Triads and sevenths: common practice, as the methods teach them. The
# rest, which no method prints, follows from them: a second goes to neighbouring fingers, the thumb and the little finger lie outside, and
# every pair stays within the practical spans of the paper above (a test holds that).
FINGERINGS: Mapping[tuple[int, ...], tuple[tuple[str, ...], tuple[str, ...]]] = {
    (): (("1",), ("5",)),
    # two notes: what is left of a chord where tones are left out
    (1,): (("1-2",), ("2-1",)),
    (2,): (("1-3",), ("3-1",)),
    (3,): (("1-4",), ("4-1",)),
    (4,): (("1-5",), ("5-1",)),
    (5,): (("1-5",), ("5-1",)),
    (6,): (("1-5",), ("5-1",)),
    # triads: root position, first and second inversion
    (2, 2): (("1-3-5",), ("5-3-1",)),
    (2, 3): (("1-2-5",), ("5-3-1",)),
    (3, 2): (("1-3-5",), ("5-2-1",)),
    # a fourth or a second for the third, and its inversions
    (3, 1): (("1-4-5",), ("5-2-1",)),
    (1, 3): (("1-2-5",), ("5-4-1",)),
    (3, 3): (("1-2-5",), ("5-2-1",)),
    # a seventh or a sixth and no fifth, or no third
    (2, 4): (("1-2-5",), ("5-3-1",)),
    (4, 1): (("1-4-5",), ("5-2-1",)),
    (1, 2): (("1-2-4",), ("4-2-1",)),
    (4, 2): (("1-3-5",), ("5-2-1",)),
    (2, 1): (("1-3-4",), ("4-2-1",)),
    (1, 4): (("1-2-5",), ("5-4-1",)),
    (1, 1): (("1-2-3",), ("3-2-1",)),
    (1, 5): (("1-2-5",), ("5-4-1",)),
    (5, 1): (("1-4-5",), ("5-2-1",)),
    # sevenths: root position, first, second and third inversion; sixths are the same shapes
    (2, 2, 2): (("1-2-3-5", "1-2-4-5"), ("5-3-2-1", "5-4-2-1")),
    (2, 2, 1): (("1-2-4-5", "1-2-3-5"), ("5-3-2-1",)),
    (2, 1, 2): (("1-2-3-5",), ("5-3-2-1",)),
    (1, 2, 2): (("1-2-3-5",), ("5-4-2-1", "5-3-2-1")),
    # sevenths and sixths with a fourth or a second for the third
    (3, 1, 2): (("1-2-3-5",), ("5-3-2-1",)),
    (1, 2, 1): (("1-2-4-5",), ("5-4-2-1",)),
    (2, 1, 3): (("1-2-3-5",), ("5-3-2-1",)),
    (1, 3, 1): (("1-2-4-5",), ("5-4-2-1",)),
    (1, 3, 2): (("1-2-4-5",), ("5-4-2-1",)),
    (3, 2, 1): (("1-2-4-5",), ("5-3-2-1",)),
    (2, 1, 1): (("1-2-3-4",), ("5-3-2-1",)),
    (1, 1, 2): (("1-2-3-5",), ("4-3-2-1",)),
    (1, 1, 3): (("1-2-3-5",), ("5-4-3-1",)),
    (3, 1, 1): (("1-3-4-5",), ("5-3-2-1",)),
    (1, 2, 3): (("1-2-3-5",), ("5-4-2-1",)),
    (2, 3, 1): (("1-2-4-5",), ("5-4-2-1",)),
}


def fingerings_of(letters: Sequence[int], hand: str) -> tuple[str, ...]:
    """The fingerings of a shape, the usual one first. letters: from note to note; hand: "left" or "right". Raises KeyError for a shape that
    no chord in close position has."""
    right, left = FINGERINGS[tuple(letters)]
    return right if hand == "right" else left
