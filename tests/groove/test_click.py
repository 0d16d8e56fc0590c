import pytest
from groove.loops import arrange
from hypothesis import given
from hypothesis import strategies as st
from strategies import arrangements

from companion.groove.click import click_pulses, is_dropped
from companion.groove.model import Click
from companion.groove.timeline import bar_events
from companion.theory.meter import Meter

# (mode, meter, beats counted from 1 as musicians do). Source of every row: common practice; for 3/4 see click.py.
CLICKS = [
    ("every", "4/4", "1 2 3 4"), ("every", "3/4", "1 2 3"), ("every", "6/8", "1 2"), ("every", "12/8", "1 2 3 4"),
    ("offbeats", "4/4", "2 4"), ("offbeats", "3/4", "2 3"), ("offbeats", "2/4", "2"), ("offbeats", "5/4", "2 3 5"),
    ("offbeats", "6/8", "2"), ("offbeats", "9/8", "2 3"), ("offbeats", "12/8", "2 4"), ("offbeats", "7/4", "2 4 6 7"),
    ("offbeats", "6/4", "2 3 5 6"), ("offbeats", "2/2", "2"), ("offbeats", "8/4", "2 4 6 8"), ("offbeats", "1/4", ""),
    ("bar", "4/4", "1"), ("bar", "5/4", "1"), ("bar", "12/8", "1"),
    ("off", "4/4", ""),
]  # fmt: skip


@pytest.mark.parametrize(("mode", "meter", "beats"), CLICKS)
def test_pulses_that_click(mode, meter, beats):
    assert [pulse + 1 for pulse in click_pulses(mode, Meter.parse(meter))] == [int(beat) for beat in beats.split()]


def test_the_first_beat_has_the_accent_and_the_other_pitch():
    clicks = bar_events(arrange("C7", bass="off"), 0, 0, 120)
    assert [(event.tick, event.note) for event in clicks] == [(0, 1), (960, 0), (1920, 0), (2880, 0)]
    assert clicks[0].velocity > max(event.velocity for event in clicks[1:])


def test_the_click_drops_out_of_the_last_bars_over_turns():
    # Two of every four bars, over a loop of three: bars 1 2 click, 3 4 rest, 5 6 click, ... whatever the loop's length.
    arrangement = arrange("C7 | F7 | G7", bass="off", click=Click("every", drop_bars=2, drop_every=4))
    heard = [bool(bar_events(arrangement, turn, position, 120)) for turn in range(4) for position in range(3)]
    assert heard == [True, True, False, False] * 3


@given(arrangements(bass="off", parts=("click", "bass")), st.integers(1, 5))
def test_exactly_the_asked_number_of_bars_rests(arrangement, turns):
    click = arrangement.click
    number = 0
    for turn in range(turns):
        for position, bar in enumerate(arrangement.bars):
            number += 1
            # Counted as a drummer would: the place in the group of m bars, from 1.
            place = (number - 1) % click.drop_every + 1 if click.drop_every else 0
            rests = place > click.drop_every - click.drop_bars if click.drop_every else False
            heard = len(bar_events(arrangement, turn, position, 120))
            assert heard == (0 if rests else len(click_pulses(click.mode, bar.meter)))


def test_without_a_group_nothing_drops():
    assert not any(is_dropped(Click("every", 3, 0), number) for number in range(20))
