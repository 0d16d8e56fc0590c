import itertools
from fractions import Fraction

import pytest
from groove.loops import loop, placed
from hypothesis import given
from hypothesis import strategies as st
from strategies import arrangements, meters

from companion.groove.names import PATTERN_NAMES
from companion.groove.patterns import PATTERNS, pattern_strikes, pattern_words
from companion.theory.meter import Meter

# (pattern, meter, onsets in pulses). Source of every row: common practice; the 4/4 Charleston is a dotted quarter and
# an eighth.
ONSETS = [
    ("four", "4/4", "0 1 2 3"),
    ("four", "3/4", "0 1 2"),
    ("four", "5/4", "0 1 2 3 4"),
    ("four", "6/8", "0 1"),
    ("four", "12/8", "0 1 2 3"),
    ("two", "4/4", "0 2"),
    ("two", "3/4", "0 2"),  # half and quarter
    ("two", "5/4", "0 3"),  # 3 + 2
    ("two", "6/8", "0 1"),
    ("two", "12/8", "0 2"),
    ("two", "1/4", "0"),
    ("whole", "4/4", "0"),
    ("whole", "3/4", "0"),
    ("whole", "6/8", "0"),
    ("charleston", "4/4", "0 3/2"),
    ("charleston", "3/4", "0 3/2"),  # two dotted quarters
    ("charleston", "2/4", "0 3/2"),
    ("charleston", "5/4", "0 3/2 3"),
    ("charleston", "7/4", "0 3/2 4 11/2"),
    ("charleston", "6/8", "0 5/3"),  # the third eighth of the second pulse: a swung "and" written out
    ("charleston", "12/8", "0 5/3"),
    ("charleston", "1/4", "0"),
    ("late-charleston", "4/4", "1/2 2"),
    ("late-charleston", "12/8", "2/3 2"),
    ("late-charleston", "3/4", "1/2 2"),
]


@pytest.mark.parametrize(("pattern", "meter", "pulses"), ONSETS)
def test_onsets_are_those_of_the_trade(pattern, meter, pulses):
    bar = loop("C7", meter)[0]
    expected = [Fraction(pulse) * bar.meter.pulse_ticks for pulse in pulses.split()]
    assert [hit.tick for hit in pattern_strikes(pattern, bar)] == expected


def test_every_pattern_has_words_and_a_source():
    assert [pattern.id for pattern in PATTERNS] == list(PATTERN_NAMES)
    assert all(pattern.words and pattern.source for pattern in PATTERNS)


def test_the_charleston_is_a_dotted_quarter_and_an_eighth():
    assert [(hit.tick, hit.ticks) for hit in pattern_strikes("charleston", loop("C7")[0])] == [(0, 1440), (1440, 480)]


def test_in_three_the_charleston_is_two_dotted_quarters():
    assert [hit.ticks for hit in pattern_strikes("charleston", loop("C7", "3/4")[0])] == [1440, 1440]


def test_a_chord_inside_the_bar_is_struck_where_it_comes_in():
    bar = placed("4/4", ("C7", 0, 2880), ("F7", 2880, 960))
    assert [(hit.tick, hit.ticks, hit.chord) for hit in pattern_strikes("whole", bar)] == [(0, 2880, 0), (2880, 960, 1)]
    # Two to the bar goes on with its own strike: 1, 3 and the change on 4.
    assert [hit.tick for hit in pattern_strikes("two", bar)] == [0, 1920, 2880]
    early = placed("4/4", ("C7", 0, 960), ("F7", 960, 2880))
    assert [(hit.tick, hit.chord) for hit in pattern_strikes("two", early)] == [(0, 0), (960, 1), (1920, 1)]


def test_a_first_chord_that_the_pattern_passes_over_is_struck_on_one():
    bar = placed("4/4", ("C7", 0, 480), ("F7", 480, 3360))
    assert [(hit.tick, hit.chord) for hit in pattern_strikes("late-charleston", bar)] == [(0, 0), (480, 1), (1920, 1)]


def test_no_chord_is_silent():
    assert pattern_strikes("four", loop("N.C.")[0]) == ()
    assert [hit.tick for hit in pattern_strikes("four", loop("N.C. C7")[0])] == [1920, 2880]


@pytest.mark.parametrize(
    ("pattern", "meter", "words"),
    [
        ("four", "4/4", "four to the bar"),
        ("four", "3/4", "three to the bar"),
        ("four", "6/8", "two to the bar"),
        ("whole", "4/4", "whole notes"),
        ("whole", "3/4", "once a bar"),
        ("charleston", "5/4", "Charleston"),
    ],
)
def test_words_are_true_for_the_meter(pattern, meter, words):
    assert pattern_words(pattern, Meter.parse(meter)) == words


@given(arrangements())
def test_no_shell_is_ever_missing_nor_outlasts_its_chord(arrangement):
    for bar in arrangement.bars:
        hits = pattern_strikes(arrangement.pattern, bar)
        assert {hit.chord for hit in hits} == {n for n, chord in enumerate(bar.chords) if chord.notes}
        for hit in hits:
            chord = bar.chords[hit.chord]
            assert hit.ticks > 0 and chord.tick <= hit.tick and hit.tick + hit.ticks <= chord.tick + chord.ticks
        assert all(before.tick + before.ticks <= hit.tick for before, hit in itertools.pairwise(hits))


@given(meters(), st.sampled_from(PATTERNS))
def test_strikes_are_in_order(meter, pattern):
    pulses = [strike.pulse for strike in pattern.strikes(meter)]
    assert pulses == sorted(set(pulses))
