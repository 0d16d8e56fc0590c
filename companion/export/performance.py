"""A loop played a number of times, each time at its own tempo: what MIDI files and practice tracks are made from.

Units: ticks of 1/960 quarter from the start of the count-in; tempo in pulses a minute. Seconds at the edge only.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

from companion.export.melody import melody_events
from companion.export.options import MOST_CHORUSES, ExportError, Wishes
from companion.groove.check import validate
from companion.groove.model import Arrangement, Event
from companion.groove.timeline import TimelineBar, bar_events, count_in
from companion.session.stand import Stand
from companion.theory.key import Key
from companion.theory.meter import TICKS_PER_QUARTER, Meter

DEFAULT_CHORUSES = 3


@dataclass(frozen=True, slots=True)
class TempoChange:
    """From `tick` on. tempo_bpm: pulses a minute."""

    tick: int
    meter: Meter
    tempo_bpm: float

    @property
    def quarters_per_minute(self) -> float:
        """As a MIDI file and MusicXML want it: the quarter's tempo, even in 6/8."""
        return self.tempo_bpm * self.meter.pulse_ticks / TICKS_PER_QUARTER


@dataclass(frozen=True, slots=True)
class Performance:
    """Count-in and music end to end. events: `tick` counts from the start of the count-in. bars: as in a Timeline.
    changes: of meter or tempo, the first at tick 0. markers: (tick, words) where a section begins. music_tick: the
    loop's first bar line; end_tick: the last."""

    events: tuple[Event, ...]
    bars: tuple[TimelineBar, ...]
    changes: tuple[TempoChange, ...]
    markers: tuple[tuple[int, str], ...]
    music_tick: int
    end_tick: int

    def seconds(self, ticks: Sequence[int]) -> list[float]:
        """When each tick sounds, in seconds from tick 0."""
        starts_ticks = [change.tick for change in self.changes]
        rates = [change.meter.seconds_per_tick(change.tempo_bpm) for change in self.changes]
        spans = [(after - tick) * rate for tick, after, rate in zip(starts_ticks, starts_ticks[1:], rates)]
        starts_s = list(accumulate(spans, initial=0.0))
        places = ((bisect_right(starts_ticks, tick) - 1, tick) for tick in ticks)
        return [starts_s[place] + (tick - starts_ticks[place]) * rates[place] for place, tick in places]


def perform(stand: Stand, wishes: Wishes, choruses: int = DEFAULT_CHORUSES) -> Performance:
    """The stand's loop as wished. choruses: where none are asked for.

    Raises ExportError or GrooveError where a wish cannot be met.
    """
    arrangement = wanted_arrangement(stand, wishes)
    tempos = chorus_tempos(stand.tempo_bpm, wishes, choruses)
    events: list[Event] = []
    bars: list[TimelineBar] = []
    tempo_of: list[float] = []
    tick = 0

    def add(heard: Sequence[Event], meter: Meter, turn: int, position: int, index: int) -> int:
        events.extend(replace(event, tick=tick + event.tick) for event in heard if wishes.has(event.part) or turn < 0)
        bars.append(TimelineBar(tick, meter, turn, position, index))
        tempo_of.append(tempos[max(0, turn)])
        return tick + meter.bar_ticks

    for counted in count_in(arrangement, 0, tempos[0]):
        tick = add(counted, arrangement.bars[0].meter, -1, -1, -1)
    music_tick = tick
    for turn, tempo_bpm in enumerate(tempos):
        for position, bar in enumerate(arrangement.bars):
            tick = add(bar_events(arrangement, turn, position, tempo_bpm), bar.meter, turn, position, bar.index)
    if wishes.has("right"):
        events += melody_events(stand, bars, tempo_of)
    return Performance(
        tuple(sorted(events, key=lambda event: event.tick)),
        tuple(bars),
        _changes(bars, tempo_of),
        _markers(stand, bars),
        music_tick,
        tick,
    )


def wanted_arrangement(stand: Stand, wishes: Wishes) -> Arrangement:
    """What plays. A part asked for by name sounds even where the stand has it off."""
    arrangement = stand.arrangement()
    if wishes.parts is not None:
        if "bass" in wishes.parts and arrangement.bass == "off":
            arrangement = replace(arrangement, bass="roots")
        if "click" in wishes.parts and arrangement.click.mode == "off":
            arrangement = replace(arrangement, click=replace(arrangement.click, mode="every"))
    arrangement = replace(arrangement, demonstrate=wishes.has("left"))
    validate(arrangement)
    return arrangement


def chorus_tempos(target_bpm: float, wishes: Wishes, default_choruses: int = DEFAULT_CHORUSES) -> tuple[float, ...]:
    """The tempo of each chorus. A climb takes equal ratios, so every step sounds as big as the one before it.

    Raises ExportError where a climb has fewer than two choruses.
    """
    choruses = wishes.choruses or default_choruses
    if choruses > MOST_CHORUSES:
        raise ExportError(f"{choruses} choruses are too many for one file; expected at most {MOST_CHORUSES}")
    if wishes.from_tempo_bpm is None:
        return (target_bpm,) * choruses
    if choruses < 2:
        raise ExportError("a climb needs at least 2 choruses, one at each tempo")
    ratio = (target_bpm / wishes.from_tempo_bpm) ** (1 / (choruses - 1))
    return (*(wishes.from_tempo_bpm * ratio**step for step in range(choruses - 1)), target_bpm)


def _changes(bars: Sequence[TimelineBar], tempo_of: Sequence[float]) -> tuple[TempoChange, ...]:
    changes: list[TempoChange] = []
    for bar, tempo_bpm in zip(bars, tempo_of, strict=True):
        if not changes or (changes[-1].meter, changes[-1].tempo_bpm) != (bar.meter, tempo_bpm):
            changes.append(TempoChange(bar.tick, bar.meter, tempo_bpm))
    return tuple(changes)


def _markers(stand: Stand, bars: Sequence[TimelineBar]) -> tuple[tuple[int, str], ...]:
    """The count-in, then the name of every section where it begins or the loop jumps into it."""
    counted = [(bars[0].tick, "Count-in")] if bars[0].turn < 0 else []
    played = ((bar, stand.bars[bar.index]) for bar in bars if bar.turn >= 0)
    return (*counted, *((bar.tick, there.section) for bar, there in played if bar.position == 0 or there.bar == 1))


def key_changes(stand: Stand, bars: Sequence[TimelineBar]) -> tuple[tuple[int, Key], ...]:
    """(tick, key) where the key changes, the first at tick 0; the count-in has the key it leads into."""
    keys: list[tuple[int, Key]] = []
    for bar in bars:
        index = stand.loop[0] if bar.turn < 0 else bar.index
        key = stand.song.sections[stand.bars[index].section].key
        if not keys or keys[-1][1] != key:
            keys.append((bar.tick, key))
    return tuple(keys)
