"""Whole arrangements of our songs through checkers that import nothing of what makes them; and these checkers through what is spoiled."""

from __future__ import annotations

from random import Random

import pytest
from arrangement_checker import Played, limits_broken
from arrangements_of_songs import all_faults, everything, played_of, spoiled
from shipped import SONGS, spread

from companion.session.arranged import arranged

# Seeds that were not looked at while arrangements were made better; all of them with tests/bench/arrangement.py.
GRID = [
    (song, pc, voices, seed)
    for seed in range(50_000, 50_014)
    for song in SONGS
    if any(section.melody for section in song.sections.values())
    for pc in range(12)
    for voices in (1, 2, 3, 4)
]


@pytest.mark.parametrize("which", spread(GRID, 4211, 133))
def test_two_hands_can_play_it_and_every_rule_is_kept(which, settings):
    song, pc, voices, seed = which
    stand = everything(song, pc, voices, seed, settings)
    whole = arranged(stand)
    strokes, chance = played_of(stand, whole), Random(seed)
    assert not all_faults(stand, whole, strokes)
    for _ in range(10):
        way, wrong = spoiled(strokes, chance)
        assert limits_broken(wrong), way


RIGHT = Played("right", 0.0, (500.0,), (72,))


@pytest.mark.parametrize(
    ("strokes", "words"),
    [
        ([Played("right", 0.0, (500.0, 500.0), (60, 72))], ""),
        ([Played("right", 0.0, (500.0, 500.0), (60, 73))], "out of reach"),
        ([RIGHT, Played("right", 400.0, (800.0,), (85,))], "out of reach"),
        ([RIGHT, Played("right", 500.0, (800.0,), (85,))], ""),
        ([Played("right", 0.0, (90.0,), (72,)), Played("right", 250.0, (800.0,), (91,))], ""),
        ([Played("right", 0.0, (90.0,), (72,)), Played("right", 250.0, (800.0,), (92,))], "a leap too far"),
        ([Played("right", 0.0, (90.0,), (72,)), Played("right", 300.0, (800.0,), (92,))], ""),
        ([Played("right", 0.0, (80.0,), (72,)), Played("right", 95.0, (300.0,), (72,))], "again too soon"),
        ([Played("right", 0.0, (80.0,), (72,)), Played("right", 100.0, (300.0,), (72,))], ""),
        ([RIGHT, Played("left", 100.0, (300.0,), (72,))], "under the other hand"),
        ([RIGHT, Played("left", 100.0, (300.0,), (73,))], "the hands cross"),
    ],
)
def test_each_limit_is_the_one_that_is_named(strokes, words):
    """Common practice: an octave, an octave and a fifth within 300 ms, 100 ms, right above left."""
    found = limits_broken(strokes)
    assert bool(found) == bool(words) and all(words in each for each in found[:1])
