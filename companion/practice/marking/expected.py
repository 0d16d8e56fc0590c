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

from companion.groove.model import Arrangement, Strike
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
    length_s: how long it is written, over bar lines too. notes: of a tremolo its first
    stroke; grace, turns: see Expected."""

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
            options=tuple(
                notes for notes in legal.get((strike.group.index, strike.group.chord), ()) if notes != strike.notes
            ),
            beat_s=strike.beat_s,
            window_s=window_s(strike.beat_s, strike.gap_s),
            length_s=0.0 if strike.turns else strike.length_s,
            grace=strike.grace,
            turns=strike.turns,
            tremolo_s=strike.length_s if strike.turns else 0.0,
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
        start_s += bar.meter.pulses * 60.0 / tempo_bpm
    return tuple(starts)


def strikes(
    arrangement: Arrangement, bar_starts: Iterable[BarStart | tuple[float, float]], part: str = "left"
) -> list[TimedStrike]:
    """One hand's strikes of one pass (see expected_strikes) in order of time, each with the gap to its nearest neighbour. What is still
    held from the bar before is not struck."""
    placed: list[tuple[Group, int, float, float, Strike]] = []
    lengths: list[float] = []
    first_s = end_s = 0.0
    for position, (bar, (start_s, tempo_bpm)) in enumerate(zip(arrangement.bars, bar_starts)):
        ratio = played_ratio(arrangement.feel, arrangement.swing_ratio, tempo_bpm)
        rate = bar.meter.seconds_per_tick(tempo_bpm)
        first_s = first_s if position else start_s
        end_s = start_s + bar.meter.bar_ticks * rate
        played = bar_strikes(arrangement.pattern, bar, part)
        swing = swing_of(played, bar.meter, ratio)
        numbers: Counter[int] = Counter()
        for strike in played:
            length_s = (swing.tick(strike.end_tick) - swing.tick(strike.tick)) * rate
            # What lies under a melody may end at the bar line that the melody is held over.
            if strike.held and placed and set(strike.notes) <= set(placed[-1][-1].notes):
                lengths[-1] += length_s
            if not strike.held:
                due_s = start_s + swing.tick(strike.tick) * rate
                lengths.append(length_s)
                group = Group(position, bar.index, strike.chord)
                placed.append((group, numbers[strike.chord], due_s, 60.0 / tempo_bpm, strike))
                numbers[strike.chord] += 1
    times = [due_s for _, _, due_s, _, _ in placed]
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
        )
        for place, (group, number, due_s, beat_s, strike) in enumerate(placed)
    ]
