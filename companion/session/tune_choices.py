"""What there is to choose of a whole tune, a line each: what it is now, and the one after it or before it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from companion.arranging.beginnings import INTRO_NAME, OWN, own_section
from companion.arranging.choice import (
    ALONE,
    FILL,
    KINDS,
    MOST_CHORUSES,
    MOST_VOICES,
    PUT_OFF,
    SLIDE,
    STRAIGHT,
    TREMOLO,
    WALK,
    ArrangementChoice,
)
from companion.arranging.endings import CURVE_LIMITS, ENDING_NAME, SLOWS_TO, SLOWS_TO_LIMITS
from companion.base.text import plural
from companion.session.ornaments import is_led_on
from companion.session.stand import Stand

INTRO_WORDS = {
    "none": "none",
    "vamp": "a vamp on I VI II V",
    "first-chords": "a vamp over the tune's first chords",
    "last-four": "the last four bars of the tune",
    "dominant": "the dominant, broken over two octaves",
    OWN: "your own, as the chart has it",
}
ENDING_WORDS = {
    "none": "none",
    "tag": "the last phrase three times",
    "held": "the last chord, held",
    "blues": "the bass walks up to the dominant",
    OWN: "your own, as the chart has it",
}
_VOICE_WORDS = ("the melody alone", "two: a note under it", "three", "four, close together")
_IN_WORDS = ("the melody alone", "a note under it", "two notes under it", "three notes under it")
_TENSION_VOICES = 3
_STEP, _CURVE_STEP = 0.05, 0.5
_MOST_SEEDS = 99
_USUAL = replace(
    ArrangementChoice(), voices=2, intro="vamp", ending="tag", ornaments=(SLIDE, FILL, WALK)
)  # what a first arrangement has (our own choice: nothing that needs three voices)


@dataclass(frozen=True, slots=True)
class TuneLine:
    """words: what it is, and what it is now. change: the stand with the next of it, step 1, or the one before, -1."""

    name: str
    words: Callable[[Stand], str]
    change: Callable[[Stand, int], Stand]


def all_at_once(stand: Stand) -> Stand:
    """With a first arrangement, for both hands to play. What was chosen bar by bar or note by note stays."""
    chosen = stand.arranged
    kept = replace(_USUAL, seed=chosen.seed, notes=chosen.notes, bars=chosen.bars, slides=chosen.slides)
    first = replace(kept, slide_ms=chosen.slide_ms)
    return stand.change(arranged=first).with_hands("both")


def melody_alone(stand: Stand) -> Stand:
    """With nothing but shells and melody; of what was chosen in bars only what was put off stays, and what was wanted under notes waits."""
    chosen = stand.arranged
    bars = {place: wish for place, wish in chosen.bars.items() if wish == PUT_OFF}
    slides = {place: way for place, way in chosen.slides.items() if way == STRAIGHT}
    first = ArrangementChoice(seed=chosen.seed, notes=chosen.notes, bars=bars, slides=slides)
    return stand.change(arranged=first)


def tune_lines(stand: Stand) -> tuple[TuneLine, ...]:
    """All there is to choose."""
    intros, endings = (
        [kind for kind in words if kind != OWN or own_section(stand.song, name) is not None]
        for words, name in ((INTRO_WORDS, INTRO_NAME), (ENDING_WORDS, ENDING_NAME))
    )
    return (
        TuneLine(
            "voices",
            lambda now: f"right hand      {_VOICE_WORDS[now.arranged.voices - 1]}",
            _one_of("voices", range(ALONE, MOST_VOICES + 1)),
        ),
        TuneLine("tensions", _tension_words, _one_of("tensions", (False, True))),
        TuneLine("intro", lambda now: f"introduction    {INTRO_WORDS[now.arranged.intro]}", _one_of("intro", intros)),
        TuneLine(
            "ending", lambda now: f"ending          {ENDING_WORDS[now.arranged.ending]}", _one_of("ending", endings)
        ),
        TuneLine("choruses", _chorus_words, _one_of("choruses", range(1, MOST_CHORUSES + 1))),
        TuneLine("slows_to", _slowing_words, _stepped("slows_to", SLOWS_TO_LIMITS, _STEP)),
        TuneLine("curve", _curve_words, _stepped("curve", CURVE_LIMITS, _CURVE_STEP)),
        *(_kind_line(kind) for kind in KINDS),
        TuneLine("seed", _seed_words, _one_of("seed", range(_MOST_SEEDS + 1))),
    )


def chosen_words(stand: Stand) -> str:
    """The arrangement in a sentence."""
    chosen = stand.arranged
    parts = [
        _IN_WORDS[chosen.voices - 1],
        *(f"{kind}s" for kind in chosen.ornaments),
        *(["an introduction"] if chosen.intro != "none" else []),
        *([f"the form {chosen.choruses} times"] if chosen.choruses > 1 else []),
        *(["an ending"] if chosen.ending != "none" else []),
    ]
    return f"The whole tune: {', '.join(parts)}."


def _one_of(field: str, values: Sequence[Any]) -> Callable[[Stand, int], Stand]:
    """The neighbour of what it is now; at an end it stays."""

    def change(stand: Stand, step: int) -> Stand:
        now = getattr(stand.arranged, field)
        place = values.index(now) + step if now in values else 0
        value = values[max(0, min(len(values) - 1, place))]
        return stand if value == now else stand.change(arranged=replace(stand.arranged, **{field: value}))

    return change


def _stepped(field: str, limits: tuple[float, float], step_by: float) -> Callable[[Stand, int], Stand]:
    def change(stand: Stand, step: int) -> Stand:
        now = getattr(stand.arranged, field)
        value = round(max(limits[0], min(limits[1], now + step * step_by)), 2)
        return stand if value == now else stand.change(arranged=replace(stand.arranged, **{field: value}))

    return change


def _tension_words(stand: Stand) -> str:
    late = "" if stand.arranged.voices >= _TENSION_VOICES else ", from three notes on"
    return f"9, 11 and 13    {'yes' if stand.arranged.tensions else 'no'}{late}"


def _chorus_words(stand: Stand) -> str:
    times = stand.arranged.choruses
    return f"the form        {'once' if times == 1 else f'{times} times'}"


def _slowing_words(stand: Stand) -> str:
    chosen = stand.arranged
    if chosen.ending == "none":
        return "  slows down    where there is an ending"
    usual = ", as usual" if chosen.slows_to == SLOWS_TO else ""
    return f"  slows down    to {100 * chosen.slows_to:.0f} % of the tempo{usual}"


def _curve_words(stand: Stand) -> str:
    curve = stand.arranged.curve
    when = "late, as runners stop" if curve >= 3 else "sooner" if curve >= 2 else "from its beginning"
    return f"  and how       {when} ({curve:g})"


_KIND_WORDS = {SLIDE: "slides", TREMOLO: "tremolos", FILL: "fills", WALK: "left hand walks"}


def _kind_line(kind: str) -> TuneLine:
    def words(stand: Stand) -> str:
        places = _played(stand, kind)
        wanted = kind in stand.arranged.ornaments
        if wanted and kind == TREMOLO and stand.arranged.voices == ALONE:
            said = "yes, from two notes on"
        elif wanted:
            said = f"yes, {plural(places, 'place')} in this loop"
        else:
            said = f"no, but for {plural(places, 'bar')} of your own" if places else "no"
        return f"{_KIND_WORDS[kind]:<15} {said}"

    def change(stand: Stand, step: int) -> Stand:
        wanted = [each for each in KINDS if (step > 0 if each == kind else each in stand.arranged.ornaments)]
        if tuple(wanted) == stand.arranged.ornaments:
            return stand
        return stand.change(arranged=replace(stand.arranged, ornaments=tuple(wanted)))

    return TuneLine(kind, words, change)


def _played(stand: Stand, kind: str) -> int:
    """How many there are in the loop."""
    there = stand.ornaments()
    if kind == WALK:
        led = [index for index in stand.loop if is_led_on(stand.song, stand.bars[index])]
        return len(set(there.ends) | set(led))
    return len({SLIDE: there.slides, TREMOLO: there.tremolos, FILL: there.fills}[kind])


def _seed_words(stand: Stand) -> str:
    return f"another one     number {stand.arranged.seed + 1} of {_MOST_SEEDS + 1}: other slides and fills"
