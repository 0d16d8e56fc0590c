"""Fingering a melody the slow way, every fingering tried. Imports nothing of the project; table and rules were written anew from the
paper: Parncutt, Sloboda, Clarke, Raekallio and Desain 1997, Music Perception 14(4):341-382 (re-implementations; the page of the
rules is 348 to 365, from memory)."""

from __future__ import annotations

from itertools import product

# fingers: MinPrac MinComf MinRel MaxRel MaxComf MaxPrac
TABLE = """
1-2 -5 -3 1 5 8 10
1-3 -4 -2 3 7 10 12
1-4 -3 -1 5 9 12 14
1-5 -1 1 7 10 13 15
2-3 1 1 1 2 3 5
2-4 1 1 3 4 5 7
2-5 2 2 5 6 8 10
3-4 1 1 1 2 2 4
3-5 1 1 3 4 5 7
4-5 1 1 1 2 3 5
"""
ROWS = {
    tuple(map(int, line.split()[0].split("-"))): tuple(map(int, line.split()[1:]))
    for line in TABLE.strip().splitlines()
}
NO_WAY = 1000  # a step that the table calls impractical; one finger on two keys is one


def black(key):
    return key % 12 in (1, 3, 6, 8, 10)


def row(f, g, p, q):
    """The table's row and how far the keys lie apart, as the table counts."""
    if f == g:
        return (0, 0, 0, 0, 0, 0), q - p
    return (ROWS[f, g], q - p) if f < g else (ROWS[g, f], p - q)


def note_points(f, p, around):
    """Rules 6, 10 and 11. around: the keys before and after, as many as there are."""
    whites = sum(not black(key) for key in around)
    total = 1 if f in (4, 5) else 0
    if f == 1 and black(p):
        total += 1 + 2 * whites
    if f == 5 and black(p):
        total += 2 * whites
    return total


def pair_points(f, g, p, q):
    """Rules 1, 2, 3, 8, 9 and 12."""
    if f == g and p == q:
        return 0
    (min_prac, min_comf, min_rel, max_rel, max_comf, max_prac), d = row(f, g, p, q)
    total = NO_WAY if f == g or d < min_prac or d > max_prac else 0
    if d > max_comf:  # rule 1
        total += 2 * (d - max_comf)
    if d < min_comf:
        total += 2 * (min_comf - d)
    each = 1 if f == 1 or g == 1 else 2
    if d < min_rel:  # rule 2
        total += each * (min_rel - d)
    if d > max_rel:  # rule 3
        total += each * (d - max_rel)
    if f == 3 and g == 4:  # rule 8
        total += 1
    if (f, g, black(p), black(q)) in ((3, 4, False, True), (4, 3, True, False)):  # rule 9
        total += 1
    if f != g and ((f == 1 and q < p) or (g == 1 and q > p)):  # rule 12: the thumb on the upper of the two keys
        thumb, other = (p, q) if f == 1 else (q, p)
        if black(thumb) == black(other):
            total += 1
        elif black(thumb):
            total += 3
    return total


def triple_points(f, g, h, p, q, r):
    """Rules 4, 5 and 7."""
    total = 1 if sorted((f, g, h)) == [3, 4, 5] else 0
    (min_prac, min_comf, _, _, max_comf, max_prac), d = row(f, h, p, r)
    if d < min_comf or d > max_comf:
        full = g == 1 and (p < q < r or p > q > r) and (d < min_prac or d > max_prac)
        total += 2 if full else 1
        total += d - max_comf if d > max_comf else min_comf - d
    return total


def points(fingers, keys):
    total = sum(
        note_points(f, p, [*keys[max(0, n - 1) : n], *keys[n + 1 : n + 2]])
        for n, (f, p) in enumerate(zip(fingers, keys))
    )
    total += sum(map(pair_points, fingers, fingers[1:], keys, keys[1:]))
    return total + sum(map(triple_points, fingers, fingers[1:], fingers[2:], keys, keys[1:], keys[2:]))


def best(lines, held=None):
    """The least fingering for all lines together, of equals the first in order of fingers."""
    held = held or {}
    choices = [(held[n],) if n in held else (1, 2, 3, 4, 5) for n in range(len(lines[0]))]
    return min(product(*choices), key=lambda fingers: (sum(points(fingers, keys) for keys in lines), fingers))
