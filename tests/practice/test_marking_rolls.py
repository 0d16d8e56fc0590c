"""Rolled shells, played to a click: in time where they begin with the beat, and neither late nor uneven."""

import random
from dataclasses import replace

import pytest
from groove.loops import arrange

from companion.practice.marking.expected import expected_strikes, steady_starts
from companion.practice.marking.marks import mark_pass
from companion.practice.marking.timing import timing_words
from companion.practice.model import Press

ROLL_S = 0.12


def due():
    """Four bars at 120 a minute, four to the bar."""
    arrangement = arrange("Dm7 | G7 | Cmaj7 | A7")
    return expected_strikes(arrangement, steady_starts(arrangement, 10.0, 120.0))


def rolled(expected, rng, behind_s=0.0, roll=lambda strike: ROLL_S):
    """Every strike from its lower note upwards, with a jitter of 12 ms (2 to 4 % of the beat: Repp & Su 2013, from memory)."""
    presses = []
    for strike in expected:
        at_s = strike.due_s + behind_s + rng.gauss(0.0, 0.012)
        presses += [Press(at_s + number * roll(strike), note) for number, note in enumerate(strike.notes)]
    return presses


@pytest.mark.parametrize("behind_s", [0.0, 0.01])
@pytest.mark.parametrize("seed", range(20))
def test_shells_rolled_from_the_beat_are_in_time(seed, behind_s):
    """At 120 a minute the middle of a roll of 120 ms lies 60 ms behind the beat, and the beat is where it begins (common practice)."""
    expected = due()
    figures = mark_pass(expected, rolled(expected, random.Random(seed), behind_s)).figures
    assert figures.right == 4
    assert timing_words(figures, 0.5) == "in time" and figures.spread_ms < 20


@pytest.mark.parametrize("seed", range(20))
def test_one_chord_rolled_among_others_is_in_time(seed):
    expected = due()
    presses = rolled(expected, random.Random(seed), roll=lambda strike: ROLL_S if strike.group.index == 2 else 0.0)
    assert mark_pass(expected, presses).figures.right == 4


def test_a_roll_that_begins_late_is_late_and_one_that_begins_early_is_early():
    expected = due()
    for off_s, verdict in ((0.1, "late"), (-0.2, "early")):
        presses = [
            Press(strike.due_s + (off_s if strike.group.index == 2 else 0.0) + number * ROLL_S, note)
            for strike in expected
            for number, note in enumerate(strike.notes)
        ]
        assert [chord.verdict for chord in mark_pass(expected, presses).chords] == ["right", "right", verdict, "right"]


@pytest.mark.parametrize("begins_s", [0.0, -ROLL_S / 2])
@pytest.mark.parametrize("seed", range(10))
def test_of_one_who_always_rolls_a_chord_that_comes_late_is_late(seed, begins_s):
    """Whether the beat is where the rolls begin or in their middle: there this roll has it not."""
    expected = due()
    presses = [
        replace(press, time_s=press.time_s + (0.1 if 11.8 < press.time_s < 13.8 else 0.0))
        for press in rolled(expected, random.Random(seed), begins_s)
    ]
    assert [chord.verdict for chord in mark_pass(expected, presses).chords] == ["right", "late", "right", "right"]


def test_a_wrong_key_that_the_strike_before_lacks_is_no_late_roll_of_it():
    """A repeat a tenth of a second before the change, as in a fast charleston: what went down with the change is of the change."""
    arrangement = arrange("A7 D7", pattern="charleston")
    first, repeat, change = expected_strikes(arrangement, steady_starts(arrangement, 10.0, 200.0))
    change = replace(change, notes=(48, 58))
    expected = [first, repeat, change]
    assert repeat.group != change.group and change.due_s - repeat.due_s < ROLL_S
    played = {repeat: (repeat.notes[0], repeat.notes[1] + 1), change: (change.notes[0], repeat.notes[1])}
    presses = [Press(strike.due_s, note) for strike in expected for note in played.get(strike, strike.notes)]
    marks = mark_pass(expected, presses)
    slipped = [mark.expected for chord in marks.chords for mark in chord.strikes if mark.verdict == "wrong"]
    assert slipped == [repeat, change] and not marks.extra
