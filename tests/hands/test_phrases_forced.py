"""Where equal phrases do not get equal shells it would cost the chorus more than four for a phrase: worked out by the oracle, which
knows nothing of the solver, from the chord symbols of our songs."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest
from hands.oracle import least_alike, plain
from shipped import SONGS

from companion.chart.transpose import transpose
from companion.hands.hand import Hand
from companion.hands.left.solver import solve
from companion.practice.slots import slots_of
from companion.theory.key import Key

PRICE = 4
# AABA songs of 32 bars, A three times. The keys in which one A differs, what the chorus costs then, and what it would with all alike.
DIFFERING = [
    ("down-the-coal-stairs", "C", 206, 218),
    ("down-the-coal-stairs", "Bb", 220, 232),
    ("down-the-coal-stairs", "B", 212, 224),
    ("five-steps-to-the-bakery", "C", 362, 370),
]
ALIKE = [("down-the-coal-stairs", "G", 150, 150), ("down-the-coal-stairs", "D", 244, 244)]


def slots_in(song_id: str, key: str):
    song = next(song for song in SONGS if song.id == song_id)
    moved = song if song.key.name == key else transpose(song, Key.parse(key))
    return slots_of(moved, moved.unroll())


def in_numbers(slots, key: str):
    """What the oracle wants: the chords from their symbols, the pinned one with its two keys alone."""
    bass = {
        "C": 44,
        "D": 46,
        "Bb": 42,
        "B": 43,
        "G": 51,
    }  # the leading note that the coal stairs pin, its root a minor sixth above
    chords = [plain(slot.chord.symbol) for slot in slots]
    return [
        replace(chord, options=((bass[key], bass[key] + 8, 5),)) if slot.pin else chord
        for slot, chord in zip(slots, chords, strict=True)
    ]


@pytest.mark.parametrize(("song_id", "key", "cost", "alike"), DIFFERING + ALIKE)
def test_phrases_differ_only_where_alike_would_cost_more(song_id, key, cost, alike):
    slots = slots_in(song_id, key)
    chords = in_numbers(slots, key)
    a = sum(slot.bar < 8 for slot in slots)
    spans = [(first, first + a - 1) for first in (0, a, len(slots) - a)]
    by_differing = {
        0: least_alike(chords, spans),
        1: min(least_alike(chords, list(pair)) for pair in combinations(spans, 2)) + PRICE,
        2: least_alike(chords, []) + 2 * PRICE,
    }
    part = solve(slots, Hand())
    assert part.cost == min(by_differing.values()) and part.cost - part.phrases == cost
    assert by_differing[0] == alike and (part.phrases > 0) == (alike > cost + PRICE)
