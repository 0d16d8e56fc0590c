"""Tempos typed and tapped, loops typed."""

import random

import pytest
from session_songs import EIGHT

from companion.chart.loops import WHOLE_FORM
from companion.chart.reader import parse_chart
from companion.errors import SettingsError
from companion.session.loops import find_loop
from companion.session.stand import Stand
from companion.session.tempi import Taps, typed_tempo


@pytest.mark.parametrize(
    ("text", "means"),
    [("96", 96.0), (" 96,5 ", 96.5), ("double", 180.0), ("d", 180.0), ("Half", 45.0), ("h", 45.0), ("20", 20.0)],
)
def test_a_typed_tempo(text, means):
    assert typed_tempo(text, 90.0) == means


@pytest.mark.parametrize("text", ["", "fast", "19", "401", "nan", "inf", "-90", "1e3", "9 6"])
def test_what_is_no_tempo_is_said(text):
    with pytest.raises(SettingsError, match="expected beats a minute from 20 to 400"):
        typed_tempo(text, 90.0)


def test_twice_a_fast_tempo_is_refused():
    with pytest.raises(SettingsError, match="double of 250 is no tempo"):
        typed_tempo("double", 250.0)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("tempo_bpm", [40, 60, 90, 126, 200, 300])
def test_taps_of_a_human_hand_give_the_tempo(tempo_bpm, seed):
    """Taps off by about 10 ms (standard deviation; tapping studies find 2 to 4 % of the gap, from memory), chords of three keys within 30 ms."""
    chance = random.Random(seed)
    taps, found = Taps(), None
    for number in range(12):
        at_s = 5.0 + number * 60 / tempo_bpm + chance.gauss(0, 0.010)
        for late_s in (0.0, 0.012, 0.03):
            found = taps.tap(at_s + late_s)
    assert found == pytest.approx(tempo_bpm, rel=0.08)


def test_after_a_pause_tapping_begins_anew_and_one_stray_tap_does_not_count():
    taps = Taps()
    for at_s in (0.0, 0.5, 1.0, 1.2, 1.5, 2.0, 2.5, 3.0):
        found = taps.tap(at_s)
    assert found == 120.0
    assert taps.tap(60.0) is None
    assert taps.tap(61.0) == 60.0


def test_loops_are_typed_by_bars_sections_and_bars_of_sections(settings):
    stand = Stand.put(parse_chart(EIGHT, id="a-song"), settings)
    sections = dict(stand.section_loops()[1:])
    for name, bars in sections.items():
        assert find_loop(stand, name.lower()).loop == bars
        assert find_loop(stand, f" {name}  2 - 3 ").loop == bars[1:3]
        assert find_loop(stand, f"{name} 1").loop == bars[:1]
    assert find_loop(stand, "3-5").loop == (2, 3, 4)
    whole = find_loop(find_loop(stand, "2"), "Whole")
    assert (whole.loop, whole.loop_name) == (tuple(range(len(stand.bars))), WHOLE_FORM)
    for text in ("", "0-3", "5-2", "1-900", f"{name} 0", f"{name} 2-90", "Z", "Z 1-2", "1-"):
        with pytest.raises(SettingsError, match="is not a loop of this song: expected a section"):
            find_loop(stand, text)
