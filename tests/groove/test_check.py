from dataclasses import replace

import pytest
from groove.loops import arrange, placed
from hypothesis import given
from strategies import arrangements

from companion.errors import GrooveError
from companion.groove.check import validate
from companion.groove.model import Arrangement, Click
from companion.groove.timeline import bar_events

GOOD = arrange("Dm7 | G7")


@given(arrangements())
def test_what_can_be_played_is_accepted_and_plays(arrangement):
    validate(arrangement)
    events = [event for position in range(len(arrangement.bars)) for event in bar_events(arrangement, 0, position, 120)]
    assert all(event.ticks > 0 and 0 < event.velocity < 128 for event in events)


@pytest.mark.parametrize(("fields", "said"), [
    ({"pattern": "charlston"}, "There is no pattern 'charlston'; did you mean charleston?"),
    ({"pattern": "zzz"}, "expected one of four, two, whole, charleston"),
    ({"bass": "walkin"}, "There is no bass 'walkin'; did you mean walking?"),
    ({"click": Click("offbeat")}, "There is no click 'offbeat'; did you mean offbeats?"),
    ({"feel": "swung"}, "There is no feel 'swung'; did you mean swing?"),
    ({"click": Click("every", 5, 4)}, "cannot drop out for 5 of every 4 bars"),
    ({"click": Click("every", -1, 4)}, "cannot drop out for -1 of every 4 bars"),
    ({"swing_ratio": 4.0}, "The swing ratio is 4; expected 1 (straight) to 3.5"),
    ({"swing_ratio": 0.5}, "The swing ratio is 0.5"),
    ({"swing_ratio": float("nan")}, "The swing ratio is nan"),
    ({"count_in_bars": 3}, "The count-in is 3 bars; expected 0 to 2"),
    ({"bars": ()}, "The loop has no bars"),
    ({"pickup_ticks": 3 * 3840}, "The pickup is longer than 2 bars"),
    ({"bars": (GOOD.bars[0], placed("4/4", ("C7", 0, 960)))}, "Bar 2 of the loop: its chords do not fill 4/4"),
    ({"bars": (placed("4/4", ("C7", 0, 960), ("F7", 1920, 1920)),)}, "Bar 1 of the loop"),
    ({"bars": (placed("4/4"),)}, "Bar 1 of the loop"),
])  # fmt: skip
def test_what_cannot_is_said_in_one_sentence(fields, said):
    with pytest.raises(GrooveError) as error:
        validate(replace(GOOD, **fields))
    assert said in str(error.value) and "\n" not in str(error.value)


def test_the_defaults_are_valid():
    plain = Arrangement(GOOD.bars)
    validate(plain)
    assert bar_events(plain, 0, 0, 120)
