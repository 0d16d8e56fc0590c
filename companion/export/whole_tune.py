"""A whole tune as a score: both hands as `session.arranged` has them, between introduction and ending."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate

from companion.arranging.choice import ArrangementChoice
from companion.arranging.model import FORM, INTRO, ArrangedBar, ArrangedStroke
from companion.chart.loops import WHOLE_FORM
from companion.export.notation import quarters
from companion.export.score import MoreVoice, Score, ScoreBar, Symbol, is_early
from companion.export.written_out import voices
from companion.session.arranged import arranged
from companion.session.performance import chosen_choruses
from companion.session.stand import Stand
from companion.theory.key import Key

_HELD = "whole"  # the pattern in which each shell is struck once


def is_arranged(stand: Stand) -> bool:
    """Whether anything was chosen that is more than melody and shells."""
    chosen = stand.arranged
    plain = ArrangementChoice()
    return chosen != replace(
        plain, seed=chosen.seed, slows_to=chosen.slows_to, curve=chosen.curve, choruses=chosen.choruses
    )


@dataclass(frozen=True, slots=True)
class _Printed:
    """A bar to print. number: see ScoreBar; length: in ticks; key: of its section."""

    bar: ArrangedBar
    number: int
    key: Key
    length: int
    begins_section: bool


def whole_tune(stand: Stand, written_pattern: bool = False, hands: str | None = None, *, fingers: bool = True) -> Score:
    """The arrangement from introduction to ending; where a loop is practised, the bars of that. For the rest see score.score_of."""
    printed = _printed(stand if written_pattern else stand.change(pattern=_HELD))
    lines = list(accumulate((bar.length for bar in printed), initial=0))
    right, left = (
        voices(_placed(printed, lines, hand), lines, fingers=wanted)
        for hand, wanted in (("right", fingers), ("left", True))
    )
    bars = []
    for number, here in enumerate(printed):
        before = printed[number - 1] if number else None
        following = printed[number + 1] if number + 1 < len(printed) else None
        more = [
            MoreVoice(hand, voice[number])
            for hand, parts in (("right", right), ("left", left))
            for voice in parts[1:]
            if voice[number]
        ]
        bars.append(
            ScoreBar(
                here.number,
                here.bar.meter,
                here.key,
                here.bar.section if here.begins_section else "",
                following is None or following.begins_section,
                _symbols(here, before),
                left[0][number],
                right[0][number],
                length=None if here.length == here.bar.meter.bar_ticks else quarters(here.length),
                more=tuple(more),
                words=_words(here, before),
                tempo_bpm=here.bar.tempo_bpm,
            )
        )
    song = stand.song
    return Score(song.title, song.key, stand.tempo_bpm, song.feel, tuple(bars), hands or "both", chosen_choruses(stand))


def _printed(stand: Stand) -> list[_Printed]:
    """The bars in the order of the loop. The pickup lies in the last bar of an introduction."""
    bars = list(arranged(stand))
    form = [bar for bar in bars if bar.stretch == FORM and bar.bar > 0]
    pickup = next((bar for bar in bars if bar.stretch == FORM and bar.bar == 0), None)
    before = [bar for bar in bars if bar.stretch == INTRO]
    after = [bar for bar in bars if bar.stretch not in (INTRO, FORM)]
    if stand.loop_name != WHOLE_FORM:
        before, after = [], []
    sections = stand.song.sections
    first, last = (sections[stand.song.form[place]].key for place in (0, -1))
    printed = [_Printed(bar, 0, first, bar.meter.bar_ticks, place == 0) for place, bar in enumerate(before)]
    if pickup is not None and stand.loop[0] == 0:
        if printed:
            printed[-1] = replace(printed[-1], bar=_with_pickup(printed[-1].bar, pickup))
        else:
            printed.append(_Printed(_own_pickup(stand, pickup), 0, first, pickup.meter.ticks(stand.song.pickup), False))
    for place, index in enumerate(stand.loop):
        bar = form[index]
        begins = bar.bar == 1 or place == 0
        printed.append(_Printed(bar, index + 1, sections[bar.section].key, bar.meter.bar_ticks, begins))
    count = len(form)
    printed += [
        _Printed(bar, count + 1 + place, last, bar.meter.bar_ticks, place == 0) for place, bar in enumerate(after)
    ]
    return printed


def _with_pickup(bar: ArrangedBar, pickup: ArrangedBar) -> ArrangedBar:
    moved = tuple(replace(stroke, tick=stroke.tick + bar.meter.bar_ticks) for stroke in pickup.right)
    return replace(bar, right=(*bar.right, *moved))


def _own_pickup(stand: Stand, pickup: ArrangedBar) -> ArrangedBar:
    """As a bar of its own length, with the chords that the section has there."""
    ticks = pickup.meter.ticks(stand.song.pickup)
    moved = tuple(replace(stroke, tick=stroke.tick + ticks) for stroke in pickup.right)
    return replace(pickup, right=moved, chords=stand.song.sections[stand.song.form[0]].pickup_chords)


def _placed(printed: Sequence[_Printed], lines: Sequence[int], hand: str) -> list[ArrangedStroke]:
    """All strokes of a hand with their ticks from the start; what a bar that is not the next one would hold on ends with its bar."""
    found: list[ArrangedStroke] = []
    for number, here in enumerate(printed):
        strokes = here.bar.right if hand == "right" else here.bar.left
        is_followed = not here.number or (number + 1 < len(printed) and printed[number + 1].number == here.number + 1)
        most = lines[-1] if is_followed else lines[number + 1]
        for stroke in strokes:
            tick = stroke.tick + lines[number]
            ticks = min(stroke.ticks, most - tick)
            inner = None if stroke.inner_ticks is None else min(stroke.inner_ticks, ticks)
            found.append(replace(stroke, tick=tick, ticks=ticks, inner_ticks=inner))
    return sorted(found, key=lambda stroke: stroke.tick)


def _symbols(here: _Printed, before: _Printed | None) -> tuple[Symbol, ...]:
    """Of each chord, but of one that was struck early at the end of the bar before only there."""
    meter = here.bar.meter
    found = []
    for placed in here.bar.chords:
        start = placed.beat * Fraction(4, meter.unit)
        if start or before is None or not is_early(before.bar.chords, before.bar.meter, placed):
            found.append(Symbol(start, placed.chord))
    return tuple(found)


def _words(here: _Printed, before: _Printed | None) -> str:
    slows = bool(here.bar.shares) and len(set(here.bar.shares)) > 1
    slowed = before is not None and len(set(before.bar.shares)) > 1
    return "rit." if slows and not slowed else ""
