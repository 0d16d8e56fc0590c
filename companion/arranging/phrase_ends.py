"""Where phrases end in a form or a loop, and what the left hand does there; see hands/left/phrase_end.py."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from companion.chart.model import FormBar, PlacedChord
from companion.hands.left.model import Choice, Part
from companion.hands.left.phrase_end import Last, PhraseEnd, phrase_end
from companion.theory.key import Key

Held = tuple[int, int, tuple[int, ...]]  # start tick and end tick in the chorus, keys of the right hand


@dataclass(frozen=True, slots=True)
class EndInBar:
    """What stands at the end of a bar in the place of the pattern. tick: from the bar line, where the first of its notes is struck, or from where the hand rests; note_ticks: of
    each note. chord: which of the bar's chords it belongs to."""

    bar: FormBar
    chord: int
    tick: int
    note_ticks: int
    end: PhraseEnd


def phrase_ends(
    bars: Sequence[FormBar],
    part: Part,
    right: Sequence[Held],
    order: Sequence[int],
    keys: Mapping[str, Key],
    lowest: int,
    *,
    comes_again: bool,
    then: tuple[PlacedChord, int] | None = None,
) -> dict[int, EndInBar]:
    """By index of the bar. order: the bars as they are played; comes_again: whether the first follows the last, as in a loop; then: what else does, a chord and the lower key of its shell.
    right: all that the right hand holds. keys: of the sections. lowest: of the left hand."""
    first, count = [], 0
    for bar in bars:
        first.append(count)
        count += len(bar.chords)
    found = {}
    for place, index in enumerate(order):
        bar = bars[index]
        number = len(bar.chords) - 1
        choice = part.choices[first[index] + number]
        if choice.shell is None or choice.slot.chord is None or not choice.slot.ends:
            continue
        is_last = place + 1 == len(order)
        following = None if is_last and not comes_again else order[(place + 1) % len(order)]
        after = then if following is None else _opening(bars[following], part.choices[first[following]])
        end = _end(bar, number, choice, after, right, keys[bar.section], lowest)
        if end is not None:
            found[index] = end
    return found


def _opening(bar: FormBar, choice: Choice) -> tuple[PlacedChord, int] | None:
    return None if choice.shell is None else (bar.chords[0], choice.shell.lower.midi)


def _end(
    bar: FormBar,
    number: int,
    choice: Choice,
    after: tuple[PlacedChord, int] | None,
    right: Sequence[Held],
    key: Key,
    lowest: int,
) -> EndInBar | None:
    assert choice.shell is not None and choice.slot.chord is not None
    pulse, placed = bar.meter.pulse_ticks, bar.chords[number]
    start = bar.meter.ticks(placed.beat)
    pulses = (bar.meter.bar_ticks - start) // pulse
    ticks = [bar.end_tick - pulse * (pulses - each) for each in range(pulses)]
    above = tuple(_sounding(right, tick, tick + pulse) for tick in ticks)
    chord, low = (after[0].chord, after[1]) if after is not None else (None, None)
    end = phrase_end(Last(choice.slot.chord, choice.shell.midi, chord, low, above, lowest, key))
    if end is None:
        return None
    silent = bar.meter.bar_ticks - pulse * max(1, pulses // 2)
    tick = bar.meter.bar_ticks - pulse * len(end.pitches) if end.pitches else silent
    return EndInBar(bar, number, tick, pulse, end)


def _sounding(right: Sequence[Held], start: int, end: int) -> tuple[int, ...]:
    return tuple(key for begin, until, keys in right if begin < end and until > start for key in keys)
