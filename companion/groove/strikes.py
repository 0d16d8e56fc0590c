"""When a hand strikes: the one rule behind what sounds, what is asked of a player and what stands on a sheet.

A strike is keys that go down together in one part. The left hand strikes the chords in the arrangement's pattern; what
is written out, such as a melody, is struck as it is written. Units: straight ticks within the bar; swung ones come from
`swing_of` (see swing.py).
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from companion.chart.melody import MelodyNote
from companion.chart.model import FormBar
from companion.groove.model import Grace, GrooveBar, GrooveChord, Strike
from companion.groove.patterns import pattern_strikes
from companion.groove.swing import BarSwing, bar_swing
from companion.theory.meter import Meter


def bar_strikes(pattern: str, bar: GrooveBar, part: str) -> tuple[Strike, ...]:
    """The strikes of one hand in a bar, in order of tick. part: "left" or "right"."""
    strikes = [strike for strike in bar.written if strike.part == part]
    if part == "left":
        strikes = sorted([*strikes, *_of_pattern(pattern, bar)], key=lambda strike: strike.tick)
    return tuple(strikes)


def _of_pattern(pattern: str, bar: GrooveBar) -> Sequence[Strike]:
    """As far as the pattern goes in this bar: what begins later is left out, what is held longer ends there."""
    strikes = pattern_strikes(pattern, bar)
    end = bar.pattern_ticks
    if end is not None:
        strikes = tuple(
            replace(strike, ticks=min(strike.ticks, end - strike.tick)) for strike in strikes if strike.tick < end
        )
    return _held_through(strikes, bar.holds) if bar.holds else strikes


def _held_through(strikes: Iterable[Strike], holds: Sequence[tuple[int, int]]) -> tuple[Strike, ...]:
    """Without those that only strike again what their chord has struck already, where one hand is to be quiet: the keys are held instead."""
    found: list[Strike] = []
    for strike in strikes:
        same = found and (found[-1].chord, found[-1].notes) == (strike.chord, strike.notes)
        if same and any(start <= strike.tick < until for start, until in holds):
            found[-1] = replace(found[-1], ticks=strike.end_tick - found[-1].tick)
        else:
            number = found[-1].number + 1 if found and found[-1].chord == strike.chord else strike.number
            found.append(replace(strike, number=number))
    return tuple(found)


def struck_early(bars: Iterable[GrooveBar]) -> tuple[GrooveBar, ...]:
    """Bars that follow each other, with what a pattern that strikes early must know of their neighbours. Into the first one nothing leads: it is
    begun on its beat, each time round. What ends a phrase in place of the pattern leaves no room before the next bar."""
    bars = tuple(bars)
    coming = [after.chords[0].notes if bar.pattern_ticks is None else () for bar, after in pairwise(bars)]
    return tuple(
        replace(bar, coming=then, was_early=bool(own)) if then or own else bar
        for bar, own, then in zip(bars, [(), *coming], [*coming, ()], strict=True)
    )


def swing_of(strikes: Iterable[Strike], meter: Meter, ratio: float) -> BarSwing:
    """How one part swings in one bar. strikes: all that it strikes or holds there."""
    return bar_swing((tick for strike in strikes for tick in (strike.tick, strike.end_tick)), meter, ratio)


# --- a melody in the bars of the form

PICKUP = -1  # in the place of a bar's index: what lies before the first bar line


@dataclass(frozen=True, slots=True)
class NoteInBar:
    """As much of a melody's note as lies in one bar. tick: from the bar line, negative in the pickup, which counts from
    the first one. held: it began in the bar before; goes_on: it ends in a later one."""

    tick: int
    ticks: int
    note: MelodyNote
    held: bool
    goes_on: bool


def melody_by_bar(notes: Sequence[MelodyNote], bars: Sequence[FormBar]) -> dict[int, list[NoteInBar]]:
    """Index in the chorus, or PICKUP -> what is sung there. notes: of one chorus, in order; rests are left out."""
    starts = [bar.start_tick for bar in bars]
    pieces: dict[int, list[NoteInBar]] = defaultdict(list)
    for note in notes:
        at, end = note.start_tick, note.end_tick
        while note.pitch is not None and at < end:
            index = bisect_right(starts, at) - 1
            start, until = (0, 0) if index == PICKUP else (bars[index].start_tick, bars[index].end_tick)
            until = min(end, until) if until > at else end
            pieces[index].append(NoteInBar(at - start, until - at, note, at > note.start_tick, until < end))
            at = until
    return pieces


@dataclass(frozen=True, slots=True)
class Company:
    """What the right hand plays under a melody note, and how. keys: MIDI numbers, from the lowest; ticks: how long they are held. grace, turns: see
    Strike."""

    keys: tuple[int, ...]
    ticks: int
    grace: Grace | None = None
    turns: tuple[int, ...] = ()


def written_strikes(
    pieces: Iterable[NoteInBar],
    chords: Sequence[GrooveChord],
    company: Mapping[int, Company] | None = None,
    *,
    from_before: bool = True,
    goes_on: bool = True,
) -> tuple[Strike, ...]:
    """The right hand's strikes of a bar. company: start tick of a melody note -> what goes with it. from_before, goes_on: whether the bars before
    and after it are its neighbours in the form; else a note that began before it is not struck, and one that goes on ends with the bar."""
    starts = [chord.tick for chord in chords]
    return tuple(
        Strike(
            "right",
            piece.tick,
            piece.ticks,
            (*(with_it.keys if with_it else ()), piece.note.pitch.midi),
            max(0, bisect_right(starts, piece.tick) - 1),
            held=piece.held,
            goes_on=piece.goes_on and goes_on,
            inner_ticks=with_it.ticks if with_it and with_it.keys and with_it.ticks < piece.note.ticks else None,
            grace=with_it.grace if with_it else None,
            turns=with_it.turns if with_it else (),
        )
        for piece in pieces
        for with_it in [None if piece.held or not company else company.get(piece.note.start_tick)]
        if piece.note.pitch is not None and (from_before or not piece.held)
    )
