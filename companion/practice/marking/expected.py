"""What is expected of the player in one pass, and when, from the groove's own rhythm and swing: what is heard as a demonstration
is what is asked. The tune before the loop's first bar line is not asked for, as only the first pass has it.

Units: seconds on the clock of `bar_starts`; tempo in pulses a minute. A tempo is given per bar and holds through it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from companion.groove.keys_struck import SHELL, struck_with
from companion.groove.model import Arrangement, Grace, GrooveBar, Strike
from companion.groove.ornamented import halves
from companion.groove.strikes import bar_strikes, swing_of
from companion.groove.swing import played_ratio
from companion.practice.model import Expected, Group

ShellOptions = Mapping[tuple[int, int], Sequence[tuple[int, ...]]]

# The matching window, to either side. It narrows with the tempo and never reaches half-way to the next strike, so no
# press can be meant for two strikes (our own choice: at 120 a minute 200 ms, at 240 100 ms; below 80 no wider than
# 300 ms).
WIDEST_WINDOW_S = 0.300
WINDOW_SHARE = 0.4


class BarStart(NamedTuple):
    """start_s: when the bar begins; tempo_bpm: pulses a minute in it. A plain pair will do."""

    start_s: float
    tempo_bpm: float


@dataclass(frozen=True, slots=True)
class TimedStrike:
    """A strike of one hand. number: of its group, from 0. gap_s: to the hand's nearest strike before or after it, the loop closing on itself.
    keys: see Strike. length_s: how long it is written, over bar lines too. notes: of a tremolo its first
    stroke; grace, turns, free: see Expected. taken_s: of its length, by the grace of the next strike, in seconds at any tempo."""

    part: str
    group: Group
    number: int
    due_s: float
    beat_s: float
    gap_s: float
    notes: tuple[int, ...]
    length_s: float
    grace: int | None = None
    turns: tuple[int, ...] = ()
    free: bool = False
    taken_s: float = 0.0
    keys: str = SHELL


def window_s(beat_s: float, gap_s: float = float("inf")) -> float:
    """Half the width of the matching window in seconds, to a tenth of a millisecond.

    beat_s: the length of a pulse; gap_s: to the nearest other strike. At most 300 ms and 40 % of either.
    """
    return round(min(WIDEST_WINDOW_S, WINDOW_SHARE * beat_s, WINDOW_SHARE * gap_s), 4)


def expected_strikes(
    arrangement: Arrangement,
    bar_starts: Sequence[BarStart | tuple[float, float]],
    options: ShellOptions | None = None,
    parts: Sequence[str] = ("left",),
) -> tuple[Expected, ...]:
    """Every strike of one pass in order of time.

    bar_starts: for each position of the loop its start and tempo; fewer than the loop has bars gives the strikes of
    those. A tempo that changes inside a bar is not followed before the next bar line. options: (index in the chorus,
    chord from 0) -> the legal shells there as MIDI notes; the due one may be among them. parts: the hands that are asked for, "left" (the
    shells) or "right" (the melody).
    """
    options = options or {}
    expected = [
        Expected(
            part=strike.part,
            group=strike.group,
            notes=strike.notes,
            due_s=strike.due_s,
            number=strike.number,
            options=other_strikes(arrangement, strike, legal),
            beat_s=strike.beat_s,
            window_s=window_s(strike.beat_s, strike.gap_s),
            length_s=0.0 if strike.turns else strike.length_s - strike.taken_s,
            grace=strike.grace,
            turns=strike.turns,
            tremolo_s=strike.length_s if strike.turns else 0.0,
            free=strike.free,
        )
        for part, legal in ((part, options if part == "left" else {}) for part in parts)
        for strike in strikes(arrangement, bar_starts, part)
    ]
    return tuple(sorted(expected, key=lambda strike: strike.due_s))


def steady_starts(arrangement: Arrangement, start_s: float, tempo_bpm: float) -> tuple[BarStart, ...]:
    """The bars of one pass at one tempo."""
    starts = []
    for bar in arrangement.bars:
        starts.append(BarStart(start_s, tempo_bpm))
        start_s += seconds_into(bar, bar.meter.bar_ticks, tempo_bpm)
    return tuple(starts)


def _taken_s(grace: Grace | None) -> float:
    return grace.ms / 1000.0 if grace is not None else 0.0


def seconds_into(bar: GrooveBar, tick: float, tempo_bpm: float) -> float:
    """The seconds from a bar line to a tick of the bar, as it slows down where it does."""
    rate, pulse = bar.meter.seconds_per_tick(tempo_bpm), bar.meter.pulse_ticks
    if not bar.shares:
        return tick * rate
    before = min(int(tick // pulse), len(bar.shares) - 1)
    slowed = sum(pulse / share for share in bar.shares[:before])
    return rate * (slowed + (tick - before * pulse) / bar.shares[before])


def strikes(
    arrangement: Arrangement, bar_starts: Iterable[BarStart | tuple[float, float]], part: str = "left"
) -> list[TimedStrike]:
    """One hand's strikes of one pass (see expected_strikes) in order of time, each with the gap to its nearest neighbour. What is still
    held from the bar before is not struck."""
    placed: list[tuple[Group, int, float, float, Strike, bool]] = []
    lengths: list[float] = []
    first_s = end_s = 0.0
    for position, (bar, (start_s, tempo_bpm)) in enumerate(zip(arrangement.bars, bar_starts)):
        ratio = played_ratio(arrangement.feel, arrangement.swing_ratio, tempo_bpm)
        first_s = first_s if position else start_s
        end_s = start_s + seconds_into(bar, bar.meter.bar_ticks, tempo_bpm)
        played = bar_strikes(arrangement.pattern, bar, part)
        swing = swing_of(played, bar.meter, ratio)
        numbers: Counter[int] = Counter()
        for strike in played:
            begins_s, ends_s = (
                seconds_into(bar, swing.tick(tick), tempo_bpm) for tick in (strike.tick, strike.end_tick)
            )
            length_s = ends_s - begins_s
            # What lies under a melody may end at the bar line that the melody is held over.
            if strike.held and placed and set(strike.notes) <= set(placed[-1][4].notes):
                lengths[-1] += length_s
            if not strike.held:
                lengths.append(length_s)
                group = _group(arrangement, position, strike)
                free = bool(bar.shares) and bar.shares[strike.tick // bar.meter.pulse_ticks] < 1.0
                placed.append((group, numbers[strike.chord], start_s + begins_s, 60.0 / tempo_bpm, strike, free))
                numbers[strike.chord] += 1
    times = [due_s for _, _, due_s, *_ in placed]
    if not times:
        return []
    gaps = [after - before for before, after in pairwise(times)]
    round_s = times[0] - first_s + end_s - times[-1]  # from the last strike round to the first
    gaps = [round_s, *gaps, round_s]
    return [
        TimedStrike(
            part,
            group,
            number,
            due_s,
            beat_s,
            min(gaps[place], gaps[place + 1]),
            halves(strike.notes, strike.turns)[0],
            lengths[place],
            strike.grace.key if strike.grace else None,
            strike.turns,
            free,
            _taken_s(placed[place + 1][4].grace if place + 1 < len(placed) else None),
            strike.keys,
        )
        for place, (group, number, due_s, beat_s, strike, free) in enumerate(placed)
    ]


def other_strikes(arrangement: Arrangement, strike: TimedStrike, options: ShellOptions) -> tuple[tuple[int, ...], ...]:
    """What a strike would be with the other legal shells of its chord. options: as in expected_strikes."""
    shells = options.get((strike.group.index, strike.group.chord), ())
    if not shells:
        return ()
    chord = arrangement.bars[strike.group.position].chords[strike.group.chord]
    return tuple(keys for keys in struck_with(strike.keys, chord, shells) if keys != strike.notes)


def _group(arrangement: Arrangement, position: int, strike: Strike) -> Group:
    """The chord that a strike in the bar at `position` belongs to: one struck early is the next bar's."""
    bar = arrangement.bars[position]
    if strike.chord < len(bar.chords):
        return Group(position, bar.index, strike.chord)
    return Group(position + 1, arrangement.bars[position + 1].index, 0)
