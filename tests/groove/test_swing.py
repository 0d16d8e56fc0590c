from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import METERS, meters

from companion.groove.swing import bar_swing, played_ratio, swing_ratio
from companion.theory.meter import Meter

# Source: Friberg & Sundstrom 2002, Music Perception 19:333-349. The short eighth stays near 100 ms at medium and fast
# tempi, ratios run from 3.5:1 (slow) to 1:1 (fast); the figures follow by arithmetic, 600/tempo - 1. 2:1 at about 200
# and 1:1 near 300 beats a minute are the paper's too (from memory).
RATIOS = [
    (120, 3.5), (150, 3.0), (180, 2.333), (200, 2.0), (220, 1.727), (240, 1.5), (260, 1.308), (300, 1.0), (340, 1.0),
]  # fmt: skip
FOUR = Meter(4, 4)


@pytest.mark.parametrize(("tempo_bpm", "ratio"), RATIOS)
def test_ratio_at_a_tempo(tempo_bpm, ratio):
    assert swing_ratio(tempo_bpm) == pytest.approx(ratio, abs=0.001)


@given(st.floats(20, 400), st.floats(20, 400))
def test_ratio_falls_with_the_tempo_and_stays_in_its_limits(one, other):
    slow, fast = sorted((one, other))
    assert 3.5 >= swing_ratio(slow) >= swing_ratio(fast) >= 1.0
    assert 0.5 <= swing_ratio(one) / (swing_ratio(one) + 1) <= 0.778  # the off-beat's place in its beat


@given(st.floats(140, 290))
def test_the_short_note_lasts_100_ms_at_medium_and_fast_tempi(tempo_bpm):
    assert 60_000 / tempo_bpm / (swing_ratio(tempo_bpm) + 1) == pytest.approx(100)


# Source: teachers count swing eighths as the first and last of a triplet (common practice); soloists play 1.3:1
# typically (Corcoran & Frieler 2021, Music Perception 38:372-385), so nothing above 2:1 unless it is asked for.
@pytest.mark.parametrize(("feel", "ratio", "tempo_bpm", "played"), [
    ("swing", None, 60, 2.0), ("swing", None, 120, 2.0), ("swing", None, 200, 2.0), ("swing", None, 240, 1.5),
    ("swing", None, 320, 1.0), ("swing", 1.3, 120, 1.3), ("swing", 3.5, 120, 3.5), ("straight", 2.0, 120, 1.0),
    ("straight", None, 120, 1.0),
])  # fmt: skip
def test_what_an_arrangement_sounds_with(feel, ratio, tempo_bpm, played):
    assert played_ratio(feel, ratio, tempo_bpm) == pytest.approx(played)


@pytest.mark.parametrize(
    ("ratio", "off_beat_tick"),
    [
        (1.0, 480),
        (1.5, 576),
        (2.0, 640),
        (3.0, 720),
        (7 / 3, 672),
        (3.5, 747),
        (1.3, 543),
    ],
)
def test_off_beat_to_the_tick(ratio, off_beat_tick):
    # 960 ticks a quarter, times r/(r+1), rounded once: 3.5 -> 746.67, 1.3 -> 542.61.
    beats = range(0, 3840, 960)
    swing = bar_swing([beat + 480 for beat in beats], FOUR, ratio)
    assert [swing.tick(beat + 480) for beat in beats] == [beat + off_beat_tick for beat in beats]


@given(meters(), st.floats(1.0, 3.5), st.data())
def test_swing_keeps_pulses_and_order(meter, ratio, data):
    edges = sorted(data.draw(st.sets(st.integers(0, meter.bar_ticks).map(lambda tick: tick // 40 * 40), max_size=8)))
    swing = bar_swing(edges, meter, ratio)
    heard = [swing.tick(tick) for tick in edges]
    assert all(before < after for before, after in pairwise(heard))
    assert not heard or (heard[0] >= 0 and heard[-1] <= meter.bar_ticks)
    pulses = range(0, meter.bar_ticks + 1, meter.pulse_ticks)
    assert [swing.tick(pulse) for pulse in pulses] == list(pulses)


@pytest.mark.parametrize("meter", [meter for meter in METERS if meter.unit != 4], ids=str)
def test_only_quarter_pulses_swing(meter):
    ticks = range(0, meter.bar_ticks, 60)
    assert [bar_swing((tick,), meter, 2.0).tick(tick) for tick in ticks] == list(ticks)


# Written triplets and sixteenths are played as written, swing or no swing; a pulse with nothing but eighths swings
# (common practice). Each row: the edges of a pulse as written, and where they are heard at 2:1.
@pytest.mark.parametrize(("edges", "heard"), [
    ((0, 480, 960), (0, 640, 960)),  # two eighths
    ((480, 960), (640, 960)),  # the off-beat alone
    ((0, 320, 640, 960), (0, 320, 640, 960)),  # a triplet
    ((0, 240, 480, 720, 960), (0, 240, 480, 720, 960)),  # sixteenths
    ((0, 480, 720, 960), (0, 480, 720, 960)),  # an eighth and two sixteenths: the whole pulse stays
    ((0, 720, 960), (0, 720, 960)),  # a dotted eighth and a sixteenth
])  # fmt: skip
def test_a_pulse_swings_where_it_holds_nothing_but_eighths(edges, heard):
    for pulse in (0, 2880, -960):
        swing = bar_swing([pulse + tick for tick in edges], FOUR, 2.0)
        assert tuple(swing.tick(pulse + tick) - pulse for tick in edges) == heard
    beside = bar_swing([*edges, 1440], FOUR, 2.0)
    assert beside.tick(1440) == 1600  # the next pulse goes its own way
