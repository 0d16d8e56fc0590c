"""How far off is off: a player's own spread, and what follows from it."""

import random
from itertools import combinations
from statistics import fmean

import pytest
from practice.marking_trials import WAYS, trial

from companion.practice.marking.beat import SteadyStretch
from companion.practice.marking.robust import nth_difference, qn
from companion.practice.marking.timing import in_time, own_spread_ms
from companion.practice.model import Expected, Group, StrikeMark


def marked(offset_ms, spreads=1.0):
    strike = Expected("left", Group(0, 0, 0), (50, 60), 0.0, spreads=spreads)
    return StrikeMark(strike, "right", offset_ms, (50, 60))


def test_the_spread_is_that_of_the_formula():
    """Rousseeuw & Croux 1993, of the values 0 to 9, by hand: 2.2219 times the 15th smallest of the 45 differences, which is 2 (nine
    are 1, eight are 2), by the correction for ten values, 10 / (10 + 3.8)."""
    assert own_spread_ms([marked(float(value)) for value in range(10)]) == pytest.approx(2.2219 * 2 * 10 / 13.8)


def test_the_nth_difference_is_that_of_all_pairs_in_order():
    """Values apart, equal, and so near that binary fractions are at their end."""
    for seed in range(200):
        rng = random.Random(seed)
        values = [
            rng.choice((rng.gauss(0.0, 25.0), float(rng.randint(-3, 3)), 1e-12 * rng.random()))
            for _ in range(rng.randint(2, 40))
        ]
        apart = sorted(abs(one - other) for one, other in combinations(values, 2))
        number = rng.randint(1, len(apart))
        assert nth_difference(values, number) == apart[number - 1], seed


def test_the_spread_is_that_of_the_player_with_slips_or_without():
    """Drawn from a normal distribution, whose standard deviation is known."""
    found, slipped = [], []
    for seed in range(60):
        rng = random.Random(seed)
        offsets = [rng.gauss(0.0, 25.0) for _ in range(60)]
        found.append(own_spread_ms([marked(offset) for offset in offsets]))
        slipped.append(own_spread_ms([marked(offset) for offset in [*offsets, 150.0, -150.0, 150.0]]))
    assert fmean(found) == pytest.approx(25.0, rel=0.05)
    assert fmean(slipped) == pytest.approx(25.0, rel=0.15)
    assert own_spread_ms([marked(100.0)] * 7) == 0.0


@pytest.mark.parametrize("helps", [True, False])
def test_how_far_offsets_spread_is_known_whether_a_strike_says_when_it_was_due_or_not(helps):
    """The standard deviation over many takes of one strike's offset from the beat that the strikes around it give."""
    rng = random.Random(3)
    offs, told = [], []
    for _ in range(1500):
        points = [(float(u), 0.5 * u + rng.gauss(0.0, 0.02)) for u in range(0, 24, 2)]
        own = points[5]
        stretch = SteadyStretch(tuple(points if helps else [point for point in points if point is not own]), 0.5)
        due_s, spreads = stretch.read(own[0], own)
        offs.append(own[1] - due_s)
        told.append(spreads)
    assert fmean(off * off for off in offs) ** 0.5 == pytest.approx(0.02 * fmean(told), rel=0.06)
    assert (fmean(told) < 1.0) == helps


@pytest.mark.parametrize(("strikes", "width"), [(60, 3.7), (200, 3.7), (240, 3.709), (500, 3.891), (1600, 4.164)])
def test_of_more_strikes_chance_carries_one_further(strikes, width):
    """A twentieth of a strike called off by chance in a take, however long: two-sided quantiles of the normal distribution (scipy.stats.norm.isf(0.05 / 2 / n)), no less than 3.7."""
    rng = random.Random(strikes)
    offsets = [marked(rng.gauss(0.0, 20.0)) for _ in range(strikes)]
    assert 3.7 * own_spread_ms(offsets) == pytest.approx(width * qn([mark.offset_ms for mark in offsets]), rel=0.002)


def verdicts(offsets_ms, spread_ms, spreads=1.0):
    marks = in_time([marked(offset, spreads) for offset in offsets_ms], 0.0, spread_ms)
    return [mark.verdict for mark in marks]


def test_a_chord_is_late_by_what_all_its_strikes_say_together():
    """At 120 a minute a strike is off past 50 ms, with a spread of 25 ms past 92.5; the mean of four past 50."""
    assert verdicts([92.0, 0.0, -20.0, 10.0], 25.0) == ["right"] * 4
    assert verdicts([93.0, 0.0, -20.0, 10.0], 25.0) == ["late", "right", "right", "right"]
    assert verdicts([70.0, 60.0, 80.0, 20.0], 25.0) == ["late", "late", "late", "right"]
    assert verdicts([-70.0, -60.0, -80.0, -20.0], 25.0) == ["early", "early", "early", "right"]
    assert verdicts([45.0, 40.0, 40.0, 45.0], 5.0) == ["right"] * 4


def test_no_more_than_a_sixteenth_is_ever_forgiven():
    assert verdicts([124.0], 60.0) == ["right"] and verdicts([126.0], 60.0) == ["late"]


def test_what_the_beat_is_in_doubt_by_is_forgiven():
    assert verdicts([110.0], 25.0) == ["late"] and verdicts([110.0], 25.0, spreads=1.2) == ["right"]


def test_clean_chords_of_uneven_players_are_not_called_off(deep):
    tally = trial(WAYS["steady"], (2002, 2012, 2017, 2041)[: 4 if deep else 2])
    assert tally.false == 0 and tally.found == tally.slips, tally.faults
