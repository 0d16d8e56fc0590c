"""A soloist's laid-back placing, against the papers that measured it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from groove.loops import loop

from companion.groove.model import Arrangement, Strike
from companion.groove.placing import downbeat_late_ms, late_ticks
from companion.groove.timeline import bar_events, timeline
from companion.theory.meter import Meter


def line(*onsets: int, meter: str = "4/4", **fields) -> Arrangement:
    """One bar of eighths of the right hand that begin at these ticks."""
    bar = loop("C6", meter)[0]
    written = tuple(Strike("right", tick, 480, (72,)) for tick in onsets)
    return Arrangement((replace(bar, written=written),), parts=("right",), laid_back=True, **fields)


def heard(arrangement: Arrangement, tempo_bpm: float) -> list[float]:
    """Onsets in milliseconds from the bar line."""
    rate = arrangement.bars[0].meter.seconds_per_tick(tempo_bpm)
    return [1000 * event.tick * rate for event in bar_events(arrangement, 0, 0, tempo_bpm)]


def test_downbeats_lie_30_ms_behind_at_150_and_off_beats_with_the_cymbal() -> None:
    """Nelias and others 2022, and the soloist's ratio that comes of it: (off - d) / (beat - off + d) for 2:1 is 1.45."""
    eighths = tuple(range(0, 3840, 480))
    placed = heard(line(*eighths, swing_ratio=2.0), 150)
    plain = heard(replace(line(*eighths, swing_ratio=2.0), laid_back=False), 150)
    assert [late - due for late, due in zip(placed, plain)] == pytest.approx([30, 0] * 4, abs=0.5)
    first, off, second = placed[:3]
    assert (off - first) / (second - off) == pytest.approx(1.45, abs=0.01)


@pytest.mark.parametrize(
    ("tempo_bpm", "late_ms"), [(40, 30), (60, 30), (150, 30), (200, 22.5), (300, 15), (400, 11.25)]
)
def test_the_faster_the_less(tempo_bpm, late_ms) -> None:
    """Never more than 30 ms, and less with the tempo (Friberg & Sundstrom 2002)."""
    assert downbeat_late_ms(tempo_bpm) == late_ms
    assert heard(line(0, 480), tempo_bpm)[0] == pytest.approx(late_ms, abs=0.5)


def test_it_is_a_choice_of_the_right_hand_alone_and_of_swing() -> None:
    assert heard(replace(line(0, 960), laid_back=False), 150)[0] == 0
    assert heard(replace(line(0, 960), feel="straight"), 150)[0] == 0
    assert late_ticks(0, Meter(12, 8), 150) == late_ticks(0, Meter(2, 2), 150) == 0
    bar = replace(line(0).bars[0], written=(Strike("right", 0, 480, (72,)), Strike("left", 0, 480, (48,))))
    both = Arrangement((bar,), parts=("left", "right"), pattern="whole", laid_back=True)
    assert {event.part: event.tick for event in bar_events(both, 0, 0, 150)} == {"left": 0, "right": 72}


def test_a_pickup_lies_back_too_and_no_note_ends_before_it_begins() -> None:
    bar = line(0).bars[0]
    short = replace(bar, written=(Strike("right", 0, 60, (72,)),))
    arrangement = Arrangement(
        (short,),
        ("right",),
        laid_back=True,
        count_in_bars=1,
        pickup_ticks=960,
        pickup=(Strike("right", -960, 960, (71,)),),
    )
    events = [event for event in timeline(arrangement, (150.0,)).events if event.part == "right"]
    assert [event.tick for event in events] == [3 * 960 + 72, 4 * 960 + 30]
    assert all(event.ticks > 0 for event in events) and events[0].tick + events[0].ticks <= 4 * 960
