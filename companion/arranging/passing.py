"""Chords that lead on, put in at the end of a phrase: the chart is changed, so only where the student said so, and only where the melody agrees."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from companion.arranging.choice import IN_SHELLS, WALK, ArrangementChoice
from companion.chart.melody import MelodyNote
from companion.chart.model import FormBar, PlacedChord
from companion.hands.left.phrase_end import melody_agrees, passing_chords
from companion.hands.right.voicing_rules import tensions_of


def with_passing_chords(
    bars: tuple[FormBar, ...], melody: Sequence[MelodyNote], choice: ArrangementChoice, order: Sequence[int]
) -> tuple[FormBar, ...]:
    """The bars with what leads on in those that the student wants to walk in shells. order: as they are played, again and again: what leads on goes by what
    follows."""
    if not any(kind == WALK and wish == IN_SHELLS for (_, _, kind), wish in choice.bars.items()):
        return bars
    changed = list(bars)
    for place, index in enumerate(order):
        bar = bars[index]
        if choice.wanted(bar.section, bar.bar, WALK) == IN_SHELLS:
            after = bars[order[(place + 1) % len(order)]].chords[0]
            changed[index] = replace(bar, chords=_led_on(bar, after, melody))
    return tuple(changed)


def _led_on(bar: FormBar, after: PlacedChord, melody: Sequence[MelodyNote]) -> tuple[PlacedChord, ...]:
    last, meter = bar.chords[-1], bar.meter
    pulse = Fraction(meter.pulse_ticks, meter.beat_ticks)
    pulses = int(last.beats / pulse)
    if last.chord is None or after.chord is None or last.beats != pulse * pulses:
        return bar.chords
    chords = passing_chords(last.chord, after.chord, pulses)
    if not chords:
        return bar.chords
    each = pulse if len(chords) > 1 else pulse * (pulses // 2)
    first = last.beat + last.beats - each * len(chords)
    added = [PlacedChord(chord, first + each * number, each) for number, chord in enumerate(chords)]
    if not all(_agrees(bar, placed, melody) for placed in added):
        return bar.chords
    return (*bar.chords[:-1], replace(last, beats=first - last.beat), *added)


def _agrees(bar: FormBar, placed: PlacedChord, melody: Sequence[MelodyNote]) -> bool:
    assert placed.chord is not None
    start = bar.start_tick + bar.meter.ticks(placed.beat)
    end = start + bar.meter.ticks(placed.beats)
    pitches = [
        note.pitch for note in melody if note.pitch is not None and note.start_tick < end and note.end_tick > start
    ]
    return melody_agrees(placed.chord, pitches, tensions_of(placed.chord))
