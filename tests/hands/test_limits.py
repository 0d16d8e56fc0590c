"""The low-interval table: its rows, its sources, and what acoustics says of it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import interval

from companion.errors import SettingsError
from companion.hands.hand import Hand
from companion.hands.limits import DEFAULT_LIMITS, edited_limits, lowest_for
from companion.theory.pitch import Pitch

# Common practice as this product takes it, read with the tables named in limits.py.
DEFAULTS = {
    "minor third": "C3",
    "major third": "Bb2",
    "fourth": "A2",
    "tritone": "A2",
    "fifth": "C#2",
    "minor sixth": "F2",
    "major sixth": "F2",
    "minor seventh": "F2",
    "major seventh": "F2",
}
# Table A, a retailer's glossary read online (sweetwater.com/insync/low-interval-limit), in scientific octaves.
TABLE_A = {1: 52, 2: 51, 3: 48, 4: 47, 5: 45, 6: 35, 7: 37, 8: 41, 9: 41, 10: 41, 11: 41}
# Table B, the arranging-handbook tradition, from memory; (lowest, highest) where texts differ.
TABLE_B = {
    1: (52, 52),
    2: (51, 51),
    3: (48, 48),
    4: (46, 46),
    5: (46, 46),
    6: (47, 47),
    7: (34, 34),
    8: (41, 43),
    9: (41, 41),
    10: (41, 41),
    11: (41, 41),
    13: (40, 40),
    14: (39, 39),
    15: (36, 36),
    16: (34, 34),
}


@pytest.mark.parametrize("row", DEFAULT_LIMITS, ids=lambda row: row.name)
def test_every_row_has_a_source_and_lies_within_three_semitones_of_a_handbook(row):
    assert row.source
    if row.semitones in TABLE_A:
        low, high = TABLE_B[row.semitones]
        assert min(abs(row.lowest - value) for value in (TABLE_A[row.semitones], low, high)) <= 3
    elif row.semitones in TABLE_B:
        assert row.lowest == TABLE_B[row.semitones][0]
    else:
        assert row.lowest is None


@pytest.mark.parametrize("row", DEFAULT_LIMITS, ids=lambda row: row.name)
def test_names_and_sizes_are_those_of_an_outside_library(row):
    """music21's names by semitones, which put "perfect" before the fourth, the fifth and the octave."""
    name = interval.Interval(row.semitones).niceName.lower()
    expected = "diminished fifth" if row.name == "tritone" else row.name
    assert name.removeprefix("perfect ") == expected


def test_the_defaults_stand_as_documented():
    by_name = {row.name: row.lowest for row in DEFAULT_LIMITS}
    for name, pitch in DEFAULTS.items():
        assert by_name[name] == Pitch.parse(pitch).midi
    assert [row.semitones for row in DEFAULT_LIMITS] == list(range(1, 17))


def band_share(lower: int, semitones: int) -> float:
    """The interval as a share of the critical band around its middle.

    Equivalent rectangular bandwidth 24.7 (4.37 f / 1000 + 1) Hz (Glasberg and Moore 1990, from memory).
    """
    low = 440 * 2 ** ((lower - 69) / 12)
    high = 440 * 2 ** ((lower + semitones - 69) / 12)
    middle = (low + high) / 2
    return (high - low) / (24.7 * (4.37 * middle / 1000 + 1))


@given(st.integers(33, 72), st.integers(1, 16))
def test_the_same_interval_an_octave_lower_is_rougher_so_a_limit_is_a_floor(lower, semitones):
    """Plomp and Levelt 1965 (J. Acoust. Soc. Am. 38:548-560): consonance grows with the share of a critical band."""
    assert band_share(lower - 12, semitones) < band_share(lower, semitones)
    roomy = Hand(lowest_root=21, highest_root=108, highest_top=108, reach=24)
    if roomy.allows(lower, lower + semitones):
        assert roomy.allows(lower + 1, lower + semitones + 1)
    if not roomy.allows(lower, lower + semitones):
        assert not roomy.allows(lower - 1, lower + semitones - 1)


@pytest.mark.parametrize(
    ("name", "pitch", "share"),
    [
        ("m2", "E3", 0.23),
        ("M2", "Eb3", 0.45),
        ("m3", "C3", 0.62),
        ("M3", "B2", 0.81),
        ("P4", "A2", 0.96),
        ("P5", "C#2", 1.01),
        ("m7", "F2", 1.81),
        ("m3", "C2", 0.38),
        ("M3", "C2", 0.52),
    ],
)
def test_the_shares_of_a_critical_band_are_those_worked_out_beside_the_tables(name, pitch, share):
    """Figures derived by arithmetic from the same formula, independently of this test."""
    assert band_share(Pitch.parse(pitch).midi, interval.Interval(name).semitones) == pytest.approx(share, abs=0.012)


def test_a_row_can_be_edited_or_lifted():
    table = edited_limits({"major third": "B2", "fourth": None})
    assert lowest_for(table, 4) == 47 and lowest_for(table, 5) == 0 and lowest_for(table, 3) == 48
    assert [row.source for row in table if row.semitones == 4] == ["your own setting"]
    assert not Hand(limits=table).allows(46, 50) and Hand().allows(46, 50)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"major fourth": "C3"}, "'major fourth' is not an interval of the table; expected one of minor second"),
        ({"fourth": "deep"}, "fourth: 'deep' is not a pitch"),
    ],
)
def test_a_bad_edit_is_one_clear_sentence(changes, words):
    with pytest.raises(SettingsError, match=words) as caught:
        edited_limits(changes)
    assert "\n" not in str(caught.value)
