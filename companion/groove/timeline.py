"""From an arrangement to events: bar by bar for the sound process, or the whole flat timeline for export.

Units: ticks of 1/960 quarter; tempo in pulses a minute, so a change of meter keeps the pulse. Seconds appear at the
edge only.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, replace
from itertools import accumulate

from companion.groove.bass import bass_bar
from companion.groove.click import click_pulses, is_dropped
from companion.groove.model import PARTS, Arrangement, Event, GrooveBar
from companion.groove.patterns import pattern_hits
from companion.groove.swing import played_ratio, swing_tick
from companion.theory.meter import TICKS_PER_QUARTER, Meter

# A note is let go this much before its end, so that the same note can be struck again: 1/24 quarter, 21 ms at 120.
GAP_TICKS = 40
CLICK_TICKS = 60
ACCENT_VELOCITY, GROUP_VELOCITY, CLICK_VELOCITY = 112, 96, 88
BASS_OPENING_VELOCITY, BASS_VELOCITY = 100, 90
LEFT_VELOCITY = 80
_PART_ORDER = {part: number for number, part in enumerate(PARTS)}


def bar_events(arrangement: Arrangement, turn: int, position: int, tempo_bpm: float) -> tuple[Event, ...]:
    """What sounds in one bar, in order of tick, then part (in the order of PARTS), then note.

    turn: pass of the loop from 0. position: bar in the loop from 0. Pure: the same arguments, the same events.
    The arrangement is taken as valid (see check.validate).
    """
    bar = arrangement.bars[position]
    ratio = played_ratio(arrangement.feel, arrangement.swing_ratio, tempo_bpm)
    events: list[Event] = []
    if not is_dropped(arrangement.click, turn * len(arrangement.bars) + position):
        events += _clicks(bar.meter, click_pulses(arrangement.click.mode, bar.meter))
    for bass in bass_bar(arrangement.bars, arrangement.bass, arrangement.seed, turn, position):
        velocity = BASS_OPENING_VELOCITY if bass.opens else BASS_VELOCITY
        events += _note(bar.meter, ratio, bass.tick, bass.ticks, "bass", bass.note, velocity)
    if arrangement.demonstrate:
        events += _shells(arrangement.pattern, bar, ratio)
    return _ordered(events)


def _shells(pattern: str, bar: GrooveBar, ratio: float) -> list[Event]:
    return [
        event
        for hit in pattern_hits(pattern, bar)
        for note in bar.chords[hit.chord].notes
        for event in _note(bar.meter, ratio, hit.tick, hit.ticks, "left", note, LEFT_VELOCITY)
    ]


def _clicks(meter: Meter, pulses: tuple[int, ...]) -> list[Event]:
    ticks = min(CLICK_TICKS, meter.pulse_ticks)
    return [
        Event(
            pulse * meter.pulse_ticks,
            ticks,
            "click",
            int(pulse == 0),
            ACCENT_VELOCITY if pulse == 0 else GROUP_VELOCITY if pulse in meter.strong_pulses else CLICK_VELOCITY,
        )
        for pulse in pulses
    ]


def _note(meter: Meter, ratio: float, tick: int, ticks: int, part: str, note: int, velocity: int) -> list[Event]:
    """A straight note as it is played, swung and let go in time; none if it is too short to have a tick left."""
    start, end = swing_tick(tick, meter, ratio), swing_tick(tick + ticks, meter, ratio)
    length = end - start - min(GAP_TICKS, (end - start) // 4)
    return [Event(start, length, part, note, velocity)] if length > 0 else []


def _ordered(events: list[Event]) -> tuple[Event, ...]:
    return tuple(sorted(events, key=lambda event: (event.tick, _PART_ORDER[event.part], event.note)))


# --- count-in


def count_in(arrangement: Arrangement, first_bar: int = 0, tempo_bpm: float = 0.0) -> tuple[tuple[Event, ...], ...]:
    """The bars counted before the loop starts at position `first_bar`: the events of each, in that bar's meter.

    A click on every pulse, whatever the click does later, and at any tempo. A pickup lies in the last beats of the
    count: one counts "1 2 3" and the tune comes in. It belongs to the start of the loop, and there it always gets the
    bars it needs, even where a shorter count-in or none is asked for.
    """
    meter = arrangement.bars[first_bar].meter
    pickup_ticks = arrangement.pickup_ticks if first_bar == 0 else 0
    bars = max(arrangement.count_in_bars, -(-pickup_ticks // meter.bar_ticks))
    return (_ordered(_clicks(meter, click_pulses("every", meter))),) * bars


# --- the whole


@dataclass(frozen=True, slots=True)
class TimelineBar:
    """tick: from the start of the count-in. turn: -1 in the count-in. position: in the loop; index: in the chorus;
    both -1 in the count-in."""

    tick: int
    meter: Meter
    turn: int
    position: int
    index: int


@dataclass(frozen=True, slots=True)
class TempoMark:
    """From `tick` on: the meter, and the tempo in quarters a minute as a MIDI file wants it."""

    tick: int
    meter: Meter
    quarters_per_minute: float


@dataclass(frozen=True, slots=True)
class Timeline:
    """Count-in and music end to end. events: their `tick` counts from the start of the count-in. music_tick: where the
    loop's first bar begins; pickup_tick: where the tune does; end_tick: the end of the last bar."""

    events: tuple[Event, ...]
    bars: tuple[TimelineBar, ...]
    tempo_bpm: float
    music_tick: int
    pickup_tick: int
    end_tick: int

    @property
    def tempo_marks(self) -> tuple[TempoMark, ...]:
        """One where the meter changes, the first at tick 0. The pulse keeps its tempo, so the quarter's may change."""
        marks: list[TempoMark] = []
        for bar in self.bars:
            if not marks or marks[-1].meter != bar.meter:
                quarters = self.tempo_bpm * bar.meter.pulse_ticks / TICKS_PER_QUARTER
                marks.append(TempoMark(bar.tick, bar.meter, quarters))
        return tuple(marks)

    def seconds(self, ticks: tuple[int, ...]) -> tuple[float, ...]:
        """When each tick sounds, in seconds from tick 0. Ticks after the end run on in the last bar's meter."""
        marks = self.tempo_marks
        rates = [mark.meter.seconds_per_tick(self.tempo_bpm) for mark in marks]
        spans = ((after.tick - mark.tick) * rate for mark, after, rate in zip(marks, marks[1:], rates))
        starts = list(accumulate(spans, initial=0.0))
        mark_ticks = [mark.tick for mark in marks]
        places = ((max(0, bisect_right(mark_ticks, tick) - 1), tick) for tick in ticks)
        return tuple(starts[place] + (tick - mark_ticks[place]) * rates[place] for place, tick in places)


def timeline(arrangement: Arrangement, turns: int, tempo_bpm: float) -> Timeline:
    """The count-in and `turns` passes of the loop, for export and tests. turns: at least 1."""
    events: list[Event] = []
    bars: list[TimelineBar] = []

    def add(heard: tuple[Event, ...], bar: TimelineBar) -> int:
        events.extend(replace(event, tick=bar.tick + event.tick) for event in heard)
        bars.append(bar)
        return bar.tick + bar.meter.bar_ticks

    tick = 0
    for counted in count_in(arrangement, 0, tempo_bpm):
        tick = add(counted, TimelineBar(tick, arrangement.bars[0].meter, -1, -1, -1))
    music_tick = tick
    for turn in range(turns):
        for position, bar in enumerate(arrangement.bars):
            played = bar_events(arrangement, turn, position, tempo_bpm)
            tick = add(played, TimelineBar(tick, bar.meter, turn, position, bar.index))
    return Timeline(tuple(events), tuple(bars), tempo_bpm, music_tick, music_tick - arrangement.pickup_ticks, tick)
