"""Meter against music21's TimeSignature; where the two count differently the reason stands beside it."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.theory.meter import TICKS_PER_QUARTER, Meter

COMMON = [
    "2/4",
    "3/4",
    "4/4",
    "5/4",
    "7/4",
    "2/2",
    "3/2",
    "4/8",
    "5/8",
    "6/8",
    "7/8",
    "9/8",
    "12/8",
    "15/8",
    "6/16",
    "1/4",
]
# meter -> (pulses there, pulses here, reason)
DISAGREEMENTS = {
    "6/4": (2, 6, "a pianist counts six quarters; two slow pulses would make the tempo hard to name"),
    "3/8": (1, 3, "one pulse a bar would leave the click nothing to count"),
}


@pytest.mark.parametrize("name", COMMON)
def test_pulses_agree_with_music21(name):
    from music21.meter import TimeSignature

    ours, theirs = Meter.parse(name), TimeSignature(name)
    assert ours.pulses == theirs.beatCount
    assert Fraction(ours.pulse_ticks, TICKS_PER_QUARTER) == Fraction(theirs.beatDuration.quarterLength)
    assert Fraction(ours.bar_ticks, TICKS_PER_QUARTER) == Fraction(theirs.barDuration.quarterLength)


@pytest.mark.parametrize("name", DISAGREEMENTS)
def test_every_disagreement_is_as_told(name):
    from music21.meter import TimeSignature

    theirs, ours, _ = DISAGREEMENTS[name]
    assert (TimeSignature(name).beatCount, Meter.parse(name).pulses) == (theirs, ours)


@pytest.mark.parametrize(
    ("name", "groups", "strong"),
    [  # common practice
        ("4/4", (2, 2), (0, 2)),
        ("3/4", (3,), (0,)),
        ("5/4", (3, 2), (0, 3)),
        ("7/4", (4, 3), (0, 4)),
        ("6/4", (3, 3), (0, 3)),
        ("6/8", (2,), (0,)),
        ("12/8", (2, 2), (0, 2)),
    ],
)
def test_groups(name, groups, strong):
    meter = Meter.parse(name)
    assert meter.groups == groups
    assert meter.strong_pulses == strong


@pytest.mark.parametrize("text", ["", "4", "4/", "/4", "0/4", "4/3", "33/4", "4/64", "four/4", "4/4/4", "-3/4"])
def test_other_texts_are_no_meter(text):
    with pytest.raises(ValueError, match="not a meter"):
        Meter.parse(text)


def test_seconds():
    """At 120 quarters a minute a quarter lasts half a second; in 6/8 the tempo counts dotted quarters."""
    assert Meter(4, 4).seconds_per_tick(120) * TICKS_PER_QUARTER == pytest.approx(0.5)
    assert Meter(6, 8).seconds_per_tick(60) * 3 * TICKS_PER_QUARTER / 2 == pytest.approx(1.0)


meters = st.builds(Meter, st.integers(1, 32), st.sampled_from((1, 2, 4, 8, 16, 32)))


@given(meters)
def test_the_bar_is_filled_exactly(meter):
    assert Meter.parse(meter.name) == meter
    assert meter.pulses * meter.pulse_ticks == meter.beats * meter.beat_ticks == meter.bar_ticks
    assert sum(meter.groups) == meter.pulses
    assert meter.strong_pulses[0] == 0
    assert len(meter.strong_pulses) == len(meter.groups)
    assert meter.ticks(meter.beats) == meter.bar_ticks


@given(meters, st.fractions(0, 32))
def test_ticks_are_the_nearest(meter, beats):
    assert abs(meter.ticks(beats) - beats * meter.beat_ticks) <= Fraction(1, 2)
