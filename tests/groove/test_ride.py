"""The ride against patterns written out by hand: beats counted from 1 as drummers do, "2+" the eighth behind 2."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from groove.loops import arrange
from hypothesis import given
from hypothesis import strategies as st
from strategies import arrangements

from companion.groove.click import while_marked
from companion.groove.model import Click
from companion.groove.timeline import bar_events, count_in
from companion.theory.meter import Meter

RIDE, HI_HAT = 51, 44  # General MIDI 1, percussion key map: Ride Cymbal 1, Pedal Hi-Hat (MIDI Association, RP-003)
# (feel, meter, ride, hi-hat). Source of every row: common practice; 12/8 and 6/8 write the swung eighth out as the third of three.
PATTERNS = [
    ("swing", "4/4", "1 2 2+ 3 4 4+", "2 4"),
    ("swing", "3/4", "1 2 2+ 3", "2 3"),
    ("swing", "2/4", "1 2 2+", "2"),
    ("swing", "5/4", "1 2 2+ 3 4 5 5+", "2 3 5"),
    ("swing", "12/8", "1 2 2++ 3 4 4++", "2 4"),
    ("swing", "6/8", "1 2 2++", "2"),
    ("swing", "2/2", "1 2 2+", "2"),
    ("swing", "1/4", "1", ""),
    ("straight", "4/4", "1 1+ 2 2+ 3 3+ 4 4+", "2 4"),
    ("straight", "3/4", "1 1+ 2 2+ 3 3+", "2 3"),
    ("straight", "6/8", "1 1+ 1++ 2 2+ 2++", "2"),
]


def ticks(beats: str, meter: Meter, ratio: Fraction) -> list[int]:
    """Where they are heard. ratio: of the swung eighths of a quarter."""
    late = {"": 0, "+": Fraction(1, 3) if meter.is_compound else ratio / (ratio + 1), "++": Fraction(2, 3)}
    split = [(int(beat.rstrip("+")), beat.lstrip("0123456789")) for beat in beats.split()]
    return [round((beat - 1 + late[sign]) * meter.pulse_ticks) for beat, sign in split]


@pytest.mark.parametrize(("feel", "meter", "ride", "hi_hat"), PATTERNS)
@pytest.mark.parametrize("ratio", [1, 2, 3])
def test_the_ride_strikes_where_drummers_do(feel, meter, ride, hi_hat, ratio):
    of = Meter.parse(meter)
    played = Fraction(ratio) if feel == "swing" and meter.endswith("/4") else Fraction(1)
    arrangement = arrange("C7", meter=meter, feel=feel, swing_ratio=ratio, bass="off", click=Click("ride"))
    heard = bar_events(arrangement, 0, 0, 120)
    assert {event.part for event in heard} == {"click"} and {event.note for event in heard} <= {RIDE, HI_HAT}
    assert [event.tick for event in heard if event.note == RIDE] == ticks(ride, of, played)
    assert [event.tick for event in heard if event.note == HI_HAT] == ticks(hi_hat, of, played)


def test_without_a_ratio_of_its_own_it_swings_as_the_band_does():
    """Triplets at 120 (swing.py): the skip lies 640 ticks of 960 into its beat, exactly where the bass of a swung eighth would."""
    heard = bar_events(arrange("C7", bass="off", click=Click("ride")), 0, 0, 120)
    assert [event.tick for event in heard if event.note == RIDE] == [0, 960, 1600, 1920, 2880, 3520]


def test_the_beat_leans_on_two_and_four_and_is_lighter_between():
    heard = [
        event for event in bar_events(arrange("C7", bass="off", click=Click("ride")), 0, 0, 120) if event.note == RIDE
    ]
    one, two, skip, *_ = (event.velocity for event in heard)
    assert skip < one < two


@given(arrangements(bass="off", parts=("click",)), st.sampled_from(["ride", "ride-always"]), st.integers(60, 300))
def test_no_cymbal_is_struck_while_it_is_held_and_all_lies_in_its_bar(arrangement, mode, tempo_bpm):
    arrangement = replace(arrangement, click=Click(mode))
    for position, bar in enumerate(arrangement.bars):
        heard = bar_events(arrangement, 0, position, tempo_bpm)
        for note in (RIDE, HI_HAT):
            own = [event for event in heard if event.note == note]
            assert all(event.tick + event.ticks <= after.tick for event, after in pairwise(own))
            assert all(event.tick >= 0 and event.tick + event.ticks <= bar.meter.bar_ticks for event in own)
            assert all(event.ticks > 0 for event in own)
        assert {pulse * bar.meter.pulse_ticks for pulse in range(bar.meter.pulses)} <= {event.tick for event in heard}


def test_it_is_counted_in_by_the_click_and_rests_with_it():
    arrangement = arrange("C7 | F7", bass="off", click=Click("ride", drop_bars=1, drop_every=2), count_in_bars=1)
    assert [event.note for event in count_in(arrangement)[0]] == [1, 0, 0, 0]
    assert [bool(bar_events(arrangement, 0, position, 120)) for position in (0, 1)] == [True, False]


@pytest.mark.parametrize(
    ("mode", "then"), [("ride", "every"), ("ride-always", "ride-always"), ("offbeats", "offbeats"), ("off", "off")]
)
def test_while_a_pass_is_marked_the_ride_gives_way_to_the_click_unless_it_is_wanted(mode, then):
    assert while_marked(arrange("C7", click=Click(mode, 1, 4))).click == Click(then, 1, 4)
