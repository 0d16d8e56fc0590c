"""Four to the bar breathes. Where a swinging hand is harder and shorter (2 and 4) and a waltz is (1): common practice; the sizes are ours."""

from dataclasses import replace
from statistics import mean, pstdev

import pytest
from groove.loops import arrange

from companion.groove.model import Grace, Strike
from companion.groove.timeline import bar_events, timeline

LINE = " | ".join(["G7", "Cmaj7"] * 8)


def by_beat(meter="4/4", feel="swing", passes=4, pattern="four", touch_seed=1):
    """For each beat of the bar the strikes of the left hand, as (velocity, ticks)."""
    arrangement = arrange(
        LINE, meter, parts=("left",), feel=feel, pattern=pattern, touch_seed=touch_seed, count_in_bars=0
    )
    pulse, bar = arrangement.bars[0].meter.pulse_ticks, arrangement.bars[0].meter.bar_ticks
    found = {}
    for event in timeline(arrangement, [120.0] * passes).events:
        beat, off = divmod(event.tick % bar, pulse)
        assert not off, "nothing of it is in time"
        found.setdefault(beat + 1, []).append((event.velocity, event.ticks))
    return found


@pytest.mark.parametrize(("meter", "feel", "hard", "long"), [
    ("4/4", "swing", {2, 4}, {1, 3}), ("4/4", "straight", {1, 3}, {1, 3}), ("3/4", "swing", {1}, {1}), ("5/4", "straight", {1, 4}, {1, 4}),
])  # fmt: skip
def test_accents_and_lengths_go_by_the_beat(meter, feel, hard, long):
    beats = by_beat(meter, feel)
    loud = {beat: mean(velocity for velocity, _ in struck) for beat, struck in beats.items()}
    held = {beat: mean(ticks for _, ticks in struck) for beat, struck in beats.items()}
    assert min(loud[beat] for beat in hard) > max(loud[beat] for beat in loud.keys() - hard) + 2
    assert min(held[beat] for beat in long) > max(held[beat] for beat in held.keys() - long) + 60


def test_no_two_hands_strike_alike_and_none_strikes_twice_alike():
    """About as loud as before (80), with a spread that is heard and stays small; both keys of a shell go down as one."""
    beats = by_beat()
    assert all(2 < pstdev(velocity for velocity, _ in struck) < 5 for struck in beats.values())
    every = [velocity for struck in beats.values() for velocity, _ in struck]
    assert abs(mean(every) - 80) < 1 and min(every) >= 70 and max(every) <= 90
    assert all(one == other for struck in beats.values() for one, other in zip(struck[::2], struck[1::2], strict=True))
    assert by_beat() == beats != by_beat(touch_seed=2)


def test_each_pass_differs_and_comes_again_the_same():
    arrangement = arrange(LINE, parts=("left", "bass"))
    passes = [tuple(event.velocity for event in bar_events(arrangement, turn, 0, 120.0)) for turn in range(3)]
    assert len(set(passes)) == 3
    assert passes[1] == tuple(event.velocity for event in bar_events(arrangement, 1, 0, 120.0))


def test_what_rings_longer_than_a_beat_is_held_as_it_was():
    assert {ticks for struck in by_beat(pattern="two").values() for _, ticks in struck} == {1920 - 40}


def test_what_was_recorded_or_written_keeps_its_length_and_a_velocity_of_its_own():
    bar = arrange("C7").bars[0]
    walk = (Strike("left", 0, 960, (48,), velocity=33), Strike("left", 960, 960, (47,)))
    arrangement = arrange("C7", parts=("left",))
    events = bar_events(replace(arrangement, bars=(replace(bar, written=walk, pattern_ticks=0),)), 0, 0, 120.0)
    assert events[0].velocity == 33 and {event.ticks for event in events} == {920}


def test_a_strike_as_loud_as_a_grace_is_none():
    """A slide makes room for itself; a note that only happens to be as loud does not."""
    bar = arrange("C7").bars[0]
    written = (
        Strike("right", 0, 1920, (60,), velocity=84),
        Strike("right", 960, 960, (64,), velocity=84),
        Strike("right", 1920, 1920, (67,), grace=Grace(66, 80.0)),
    )
    arrangement = replace(arrange("C7", parts=("right",)), bars=(replace(bar, written=written),))
    held = {event.note: event.ticks for event in bar_events(arrangement, 0, 0, 120.0)}
    assert held[60] > 1600, "as long as the slide lets it"
