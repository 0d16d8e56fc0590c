from collections import defaultdict
from dataclasses import replace
from itertools import pairwise

import pytest
from groove.loops import arrange
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import arrangements

from companion.groove.timeline import timeline
from companion.practice.marking.expected import expected_strikes, steady_starts, window_s


@given(arrangements(), st.floats(40, 320))
@settings(deadline=None)
def test_what_is_due_is_what_is_demonstrated(arrangement, tempo_bpm):
    """The groove's own timeline is the reference: same notes at the same seconds, to a millionth."""
    line = timeline(replace(arrangement, parts=("click", "bass", "left"), count_in_bars=0, pickup_ticks=0), [tempo_bpm])
    shells = [event for event in line.events if event.part == "left"]
    heard, asked = defaultdict(list), defaultdict(list)
    for event, time_s in zip(shells, line.seconds(tuple(event.tick for event in shells))):
        heard[event.note].append(time_s)
    for strike in expected_strikes(arrangement, steady_starts(arrangement, 0.0, tempo_bpm)):
        for note in strike.notes:
            asked[note].append(strike.due_s)
    assert asked.keys() == heard.keys()
    for note, times in asked.items():
        assert times == pytest.approx(heard[note], abs=1e-6)


@given(arrangements(), st.floats(40, 320))
@settings(deadline=None)
def test_windows_never_overlap_and_keep_to_the_stated_share(arrangement, tempo_bpm):
    """Two passes end to end: no moment lies in two windows."""
    starts = steady_starts(arrangement, 0.0, tempo_bpm)
    first = expected_strikes(arrangement, starts)
    length_s = sum(bar.meter.pulses for bar in arrangement.bars) * 60.0 / tempo_bpm
    expected = [*first, *expected_strikes(arrangement, steady_starts(arrangement, length_s, tempo_bpm))]
    for before, after in pairwise(expected):
        gap_s = after.due_s - before.due_s
        assert max(before.window_s, after.window_s) <= 0.4 * gap_s + 1e-4
        assert before.due_s + before.window_s < after.due_s - after.window_s


@pytest.mark.parametrize(
    ("tempo_bpm", "window_ms"),
    [(40, 300), (60, 300), (80, 300), (100, 240), (120, 200), (160, 150), (200, 120), (240, 100), (400, 60)],
)
def test_the_window_narrows_with_the_tempo(tempo_bpm, window_ms):
    """The product's own table."""
    assert window_s(60.0 / tempo_bpm) == pytest.approx(window_ms / 1000.0)


def test_a_tempo_per_bar_and_the_other_shells():
    arrangement = arrange("Dm7 | G7", pattern="two")
    options = {(0, 0): ((50, 60), (50, 53)), (1, 0): ((43, 53),)}
    expected = expected_strikes(arrangement, [(10.0, 120.0), (12.5, 60.0)], options)
    assert [strike.due_s for strike in expected] == [10.0, 11.0, 12.5, 14.5]
    assert [strike.number for strike in expected] == [0, 1, 0, 1]
    assert [strike.options for strike in expected] == [((50, 53),)] * 2 + [((43, 53),)] * 2
    assert [strike.window_s for strike in expected] == [0.2, 0.2, 0.3, 0.3]
    assert len(expected_strikes(arrangement, [(10.0, 120.0)])) == 2  # only the bars that have a start


def test_nothing_is_due_where_no_chord_is_played():
    assert expected_strikes(arrange("N.C. | N.C."), [(0.0, 120.0), (2.0, 120.0)]) == ()
