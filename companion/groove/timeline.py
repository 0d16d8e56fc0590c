"""From an arrangement to events: bar by bar for the sound process, or the whole flat timeline for export.

Units: ticks of 1/960 quarter; tempo in pulses a minute, so a change of meter keeps the pulse. Seconds appear at the
edge only.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from random import Random

from companion.groove.bass import bass_bar
from companion.groove.calls import MOST_BPM, calls_in, said_counting
from companion.groove.click import clicks, is_dropped, kept_time
from companion.groove.counting import bars_counted, counts_for, pulses_counted
from companion.groove.model import CALLS, HAND_PARTS, VOICES, Arrangement, GrooveBar, NoteEvent, Stretch, Strike
from companion.groove.ornamented import grace_ticks, halves, tremolo_ticks
from companion.groove.placing import late_ticks
from companion.groove.strikes import bar_strikes, swing_of
from companion.groove.swing import BarSwing, bar_swing, played_ratio
from companion.groove.touch import held_ticks, louder_or_softer, touched
from companion.theory.meter import TICKS_PER_QUARTER, Meter

# A note is let go this much before its end, so that the same note can be struck again: 1/24 quarter, 21 ms at 120.
GAP_TICKS = 40
BASS_OPENING_VELOCITY, BASS_VELOCITY = 100, 90
GRACE_VELOCITY = 84  # lighter than the note it leads to
HAND_VELOCITY = {"left": 80, "right": 96}  # a tune lies a little above what goes with it
_PART_ORDER = {part: number for number, part in enumerate(VOICES)}


def bar_events(
    arrangement: Arrangement,
    turn: int,
    position: int,
    tempo_bpm: float,
    stretch: Stretch = Stretch.LOOP,
    *,
    is_last: bool = False,
) -> tuple[NoteEvent, ...]:
    """What sounds in one bar, in order of tick, then part (in the order of VOICES), then note.

    turn: pass of the loop from 0, -1 outside of it. position: bar in its stretch from 0. is_last: whether the ending follows this pass of the
    loop. Pure: the same arguments, the same events. The arrangement is taken as valid (see check.validate).
    """
    bars = arrangement.bars_of(stretch, is_last=is_last)
    bar, parts = bars[position], arrangement.parts
    ratio = played_ratio(arrangement.feel, arrangement.swing_ratio, tempo_bpm)
    events: list[NoteEvent] = []
    drops = stretch is Stretch.LOOP and is_dropped(arrangement.click, turn * len(bars) + position)
    if "click" in parts and not drops:
        events += kept_time(arrangement.click, bar.meter, arrangement.feel, ratio)
    if "bass" in parts:
        events += _bass(arrangement, stretch, turn, position, ratio, is_last)
    for hand in HAND_PARTS:
        if hand in parts:
            then = arrangement.bars_after(stretch, is_last=is_last)
            events += _hand(arrangement, bars, position, hand, tempo_bpm, then, turn)
    if _calls(arrangement, tempo_bpm):
        events += calls_in(arrangement, stretch, position, tempo_bpm, is_last=is_last)
    if stretch is Stretch.LEAD_IN and arrangement.pickup:
        after = sum(later.meter.bar_ticks for later in bars[position:])
        events += _between(_pickup(arrangement, tempo_bpm), -after, bar.meter.bar_ticks)
    return _ordered(events)


def _calls(arrangement: Arrangement, tempo_bpm: float) -> bool:
    return CALLS in arrangement.parts and tempo_bpm <= MOST_BPM


def _bass(
    arrangement: Arrangement, stretch: Stretch, turn: int, position: int, ratio: float, is_last: bool
) -> list[NoteEvent]:
    bars = arrangement.bars_of(stretch, is_last=is_last)
    # A line that just ends does so as if it went on.
    then = arrangement.bars_after(stretch, is_last=is_last and bool(arrangement.ending))
    notes = bass_bar(bars, arrangement.bass, arrangement.seed, max(0, turn), position, then, arrangement.pattern)
    meter = bars[position].meter
    swing = bar_swing((tick for bass in notes for tick in (bass.tick, bass.tick + bass.ticks)), meter, ratio)
    chance = Random(f"bass/{arrangement.touch_seed}/{turn}/{position}")
    return [
        _event(swing.tick(bass.tick), swing.tick(bass.tick + bass.ticks), "bass", bass.note, velocity)
        for bass in notes
        for velocity in [louder_or_softer(BASS_OPENING_VELOCITY if bass.opens else BASS_VELOCITY, chance)]
    ]


def _hand(
    arrangement: Arrangement,
    bars: Sequence[GrooveBar],
    position: int,
    hand: str,
    tempo_bpm: float,
    then: Sequence[GrooveBar] = (),
    turn: int = 0,
) -> list[NoteEvent]:
    """then: what follows `bars`, whose first note may have a grace before the bar line."""
    meter, ratio = bars[position].meter, played_ratio(arrangement.feel, arrangement.swing_ratio, tempo_bpm)
    strikes = bar_strikes(arrangement.pattern, bars[position], hand)
    swing = swing_of(strikes, meter, ratio)
    swings, written = arrangement.feel == "swing", bars[position].written
    chance = Random(f"left/{arrangement.touch_seed}/{turn}/{position}") if hand == "left" else None
    events: list[NoteEvent] = []
    graces: list[NoteEvent] = []
    for strike in strikes:
        if not strike.held:
            end = _end_tick(arrangement.pattern, bars, position, strike, swing, ratio, tempo_bpm)
            start = swing.tick(strike.tick) + _late(arrangement, strike, meter, tempo_bpm)
            graces += _grace(strike, start, meter, tempo_bpm)
            if arrangement.pattern == "four" and strike not in written:
                end = start + held_ticks(strike, end - start, meter, swings)
            struck = strike if chance is None else touched(strike, meter, HAND_VELOCITY[hand], swings, chance)
            events += _events(start, end, struck, swing, meter, tempo_bpm)
    coming = bars[position + 1 : position + 2] or then[:1]
    for strike in bar_strikes(arrangement.pattern, coming[0], hand)[:1] if coming else ():
        late = _late(arrangement, strike, coming[0].meter, tempo_bpm)
        graces += _grace(strike, meter.bar_ticks + strike.tick + late, meter, tempo_bpm)
    return _with_graces(events, [grace for grace in graces if 0 <= grace.tick < meter.bar_ticks])


def _grace(strike: Strike, start: int, meter: Meter, tempo_bpm: float) -> list[NoteEvent]:
    """What slides into a strike that is heard at `start`."""
    if strike.grace is None or strike.held:
        return []
    ticks = grace_ticks(strike.grace.ms, meter, tempo_bpm)
    return [NoteEvent(start - ticks, ticks, strike.part, strike.grace.key, GRACE_VELOCITY)]


def _with_graces(events: list[NoteEvent], graces: list[NoteEvent]) -> list[NoteEvent]:
    """Both, with each note let go where a grace begins."""
    found = [*events, *graces]
    for grace in graces:
        found = [
            replace(event, ticks=grace.tick - event.tick)
            if event.tick < grace.tick < event.tick + event.ticks
            else event
            for event in found
        ]
    return found


def _late(arrangement: Arrangement, strike: Strike, meter: Meter, tempo_bpm: float) -> int:
    """How many ticks behind its place a strike is heard, at most half of its length."""
    if not arrangement.laid_back or strike.part != "right" or arrangement.feel == "straight":
        return 0
    return min(late_ticks(strike.tick, meter, tempo_bpm), strike.ticks // 2)


def _end_tick(
    pattern: str,
    bars: Sequence[GrooveBar],
    position: int,
    strike: Strike,
    swing: BarSwing,
    ratio: float,
    tempo_bpm: float,
) -> int:
    """Where a strike of the bar at `position` is heard to end, in ticks of that bar; it may be held over bar lines, and ends before a grace."""
    line = bars[position].meter.bar_ticks if position >= 0 else 0
    end = swing.tick(strike.end_tick)
    while strike.goes_on and position + 1 < len(bars):
        position += 1
        meter = bars[position].meter
        strikes = bar_strikes(pattern, bars[position], strike.part)
        rest = next((later for later in strikes if later.held and later.notes[-1] == strike.notes[-1]), None)
        if rest is None:
            break
        end = line + swing_of(strikes, meter, ratio).tick(rest.end_tick)
        strike, line = rest, line + meter.bar_ticks
    return end - min(strike.ticks // 2, _room_for_grace(pattern, bars, position, strike, tempo_bpm))


def _room_for_grace(pattern: str, bars: Sequence[GrooveBar], position: int, strike: Strike, tempo_bpm: float) -> int:
    """How many ticks the strike that follows takes from the end of this one."""
    tick = strike.end_tick
    if (position >= 0 and tick >= bars[position].meter.bar_ticks) or (position < 0 and tick >= 0):
        position, tick = position + 1, 0
    if not 0 <= position < len(bars):
        return 0
    after = next((each for each in bar_strikes(pattern, bars[position], strike.part) if each.tick == tick), None)
    if after is None or after.grace is None or after.held:
        return 0
    return grace_ticks(after.grace.ms, bars[position].meter, tempo_bpm)


def _pickup(arrangement: Arrangement, tempo_bpm: float) -> list[NoteEvent]:
    """The tune before the loop's first bar line, in negative ticks from it."""
    bars, meter = arrangement.bars, arrangement.bars[0].meter
    ratio = played_ratio(arrangement.feel, arrangement.swing_ratio, tempo_bpm)
    strikes = [strike for strike in arrangement.pickup if strike.part in arrangement.parts]
    events: list[NoteEvent] = []
    graces: list[NoteEvent] = []
    for hand in HAND_PARTS:
        own = [strike for strike in strikes if strike.part == hand]
        swing = swing_of(own, meter, ratio)
        for strike in own:
            end = _end_tick(arrangement.pattern, bars, -1, strike, swing, ratio, tempo_bpm)
            start = swing.tick(strike.tick) + _late(arrangement, strike, meter, tempo_bpm)
            graces += _grace(strike, start, meter, tempo_bpm)
            events += _events(start, end, strike, swing, meter, tempo_bpm)
        if hand in arrangement.parts and not arrangement.lead_in:
            for strike in bar_strikes(arrangement.pattern, bars[0], hand)[:1]:
                start = strike.tick + _late(arrangement, strike, meter, tempo_bpm)
                graces += [grace for grace in _grace(strike, start, meter, tempo_bpm) if grace.tick < 0]
    return _with_graces(events, graces)


def _between(events: Iterable[NoteEvent], start: int, ticks: int) -> list[NoteEvent]:
    """Those that begin in so many ticks from `start`, counted from there."""
    return [replace(event, tick=event.tick - start) for event in events if start <= event.tick < start + ticks]


def _events(start: int, end: int, strike: Strike, swing: BarSwing, meter: Meter, tempo_bpm: float) -> list[NoteEvent]:
    """Inner notes end with a chord, so mostly on a beat, where nothing swings; behind the bar line that is taken to be so."""
    if strike.turns:
        return _tremolo(start, end, strike, meter, tempo_bpm)
    ends = [end] * len(strike.notes)
    if strike.inner_ticks is not None:
        inner = strike.tick + strike.inner_ticks
        ends[:-1] = [min(end, swing.tick(inner) if strike.inner_ticks <= strike.ticks else inner)] * (len(ends) - 1)
    velocity = strike.velocity or HAND_VELOCITY[strike.part]
    return [_event(start, at, strike.part, note, velocity) for note, at in zip(strike.notes, ends)]


def _tremolo(start: int, end: int, strike: Strike, meter: Meter, tempo_bpm: float) -> list[NoteEvent]:
    both = halves(strike.notes, strike.turns)
    onsets = [start + tick for tick in tremolo_ticks(end - start, meter, tempo_bpm)]
    return [
        _event(at, until, strike.part, note, HAND_VELOCITY[strike.part])
        for number, (at, until) in enumerate(zip(onsets, (*onsets[1:], end)))
        for note in both[number % 2]
    ]


def _event(start: int, end: int, part: str, note: int, velocity: int) -> NoteEvent:
    """Let go in time; what is too short for that lasts to its end."""
    return NoteEvent(start, end - start - min(GAP_TICKS, (end - start) // 4), part, note, velocity)


def _ordered(events: list[NoteEvent]) -> tuple[NoteEvent, ...]:
    return tuple(sorted(events, key=lambda event: (event.tick, _PART_ORDER[event.part], event.note)))


# --- count-in


def count_in(
    arrangement: Arrangement, first_bar: int = 0, tempo_bpm: float = 120.0
) -> tuple[tuple[NoteEvent, ...], ...]:
    """The bars counted before the music starts at position `first_bar` of the loop: the events of each, in that bar's
    meter; before a lead-in, in the lead-in's.

    A click on every pulse that is counted, whatever the click does later, and at any tempo. Without a lead-in a pickup lies
    in the last beats of the count: one counts "1 2 3" and the tune comes in. It belongs to the start of the loop.
    """
    first, bars = counts_for(arrangement, first_bar), bars_counted(arrangement, first_bar, tempo_bpm)
    meter = first.meter
    pickup = _pickup(arrangement, tempo_bpm) if first_bar == 0 and not arrangement.lead_in else []
    said = said_counting(first, bars, tempo_bpm) if _calls(arrangement, tempo_bpm) else [[]] * bars
    return tuple(
        _ordered(
            [
                *clicks(meter, pulses_counted(meter, number, bars)),
                *_between(pickup, (number - bars) * meter.bar_ticks, meter.bar_ticks),
                *said[number],
            ]
        )
        for number in range(bars)
    )


# --- the whole


@dataclass(frozen=True, slots=True)
class TimelineBar:
    """tick: from the start of the count-in. turn: pass of the loop from 0, -1 outside of it. position: in its stretch;
    index: in the chorus; -1 in the count-in."""

    tick: int
    meter: Meter
    stretch: Stretch
    turn: int
    position: int
    index: int


@dataclass(frozen=True, slots=True)
class TempoMark:
    """From `tick` on: the meter, and the tempo in pulses a minute."""

    tick: int
    meter: Meter
    tempo_bpm: float

    @property
    def quarters_per_minute(self) -> float:
        """As a MIDI file and MusicXML want it: the quarter's tempo, even in 6/8."""
        return self.tempo_bpm * self.meter.pulse_ticks / TICKS_PER_QUARTER


@dataclass(frozen=True, slots=True)
class Timeline:
    """Count-in and music end to end. events: their `tick` counts from the start of the count-in. tempo_marks: where meter or
    tempo change, the first at tick 0. music_tick: where the loop's first bar begins;
    end_tick: the end of the last bar."""

    events: tuple[NoteEvent, ...]
    bars: tuple[TimelineBar, ...]
    tempo_marks: tuple[TempoMark, ...]
    music_tick: int
    end_tick: int

    def seconds(self, ticks: Iterable[int]) -> tuple[float, ...]:
        """When each tick sounds, in seconds from tick 0. Ticks after the end run on in the last bar's meter."""
        marks = self.tempo_marks
        rates = [mark.meter.seconds_per_tick(mark.tempo_bpm) for mark in marks]
        spans = ((after.tick - mark.tick) * rate for mark, after, rate in zip(marks, marks[1:], rates))
        starts = list(accumulate(spans, initial=0.0))
        mark_ticks = [mark.tick for mark in marks]
        places = ((max(0, bisect_right(mark_ticks, tick) - 1), tick) for tick in ticks)
        return tuple(starts[place] + (tick - mark_ticks[place]) * rates[place] for place, tick in places)


def timeline(arrangement: Arrangement, tempos: Sequence[float]) -> Timeline:
    """The count-in, the lead-in, a pass of the loop at each of the tempos (at least one), and the ending."""
    events: list[NoteEvent] = []
    bars: list[TimelineBar] = []
    marks: list[TempoMark] = []
    tick = 0

    def add(
        heard: Iterable[NoteEvent],
        meter: Meter,
        stretch: Stretch,
        turn: int,
        position: int,
        index: int,
        shares: Sequence[float] = (),
    ) -> None:
        nonlocal tick
        asked_bpm = tempos[-1] if stretch is Stretch.ENDING else tempos[max(0, turn)]
        for pulse, share in enumerate(shares or (1.0,)):
            tempo_bpm = asked_bpm * share
            if not marks or (marks[-1].meter, marks[-1].tempo_bpm) != (meter, tempo_bpm):
                marks.append(TempoMark(tick + pulse * meter.pulse_ticks, meter, tempo_bpm))
        events.extend(replace(event, tick=tick + event.tick) for event in heard)
        bars.append(TimelineBar(tick, meter, stretch, turn, position, index))
        tick += meter.bar_ticks

    def add_all(stretch: Stretch, turn: int, tempo_bpm: float) -> None:
        for position, bar in enumerate(arrangement.bars_of(stretch)):
            last = turn == len(tempos) - 1
            heard = bar_events(arrangement, turn, position, tempo_bpm, stretch, is_last=last)
            add(heard, bar.meter, stretch, turn, position, bar.index, bar.shares)

    counted_meter = counts_for(arrangement, 0).meter
    for counted in count_in(arrangement, 0, tempos[0]):
        add(counted, counted_meter, Stretch.COUNT_IN, -1, -1, -1)
    add_all(Stretch.LEAD_IN, -1, tempos[0])
    music_tick = tick
    for turn, tempo_bpm in enumerate(tempos):
        add_all(Stretch.LOOP, turn, tempo_bpm)
    add_all(Stretch.ENDING, -1, tempos[-1])
    return Timeline(tuple(events), tuple(bars), tuple(marks), music_tick, tick)
