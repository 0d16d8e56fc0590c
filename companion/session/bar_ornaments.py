"""What may be played in one bar besides its shells and its melody: slides, tremolos, the fills there is room for, and what the left hand may do where a phrase ends."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from companion.arranging.choice import (
    ABOVE,
    BELOW,
    FILL,
    IN_SHELLS,
    PUT_OFF,
    SLIDE,
    STRAIGHT,
    TREMOLO,
    WALK,
    ArrangementChoice,
)
from companion.chart.melody import NotePlace
from companion.hands.right.slides import Slide
from companion.hands.right.tremolos import Tremolo
from companion.session.fills import FillPlace
from companion.session.note_places import bar_at, sounding
from companion.session.ornaments import is_led_on, places_of, proposed_fills, proposed_slides, proposed_tremolos
from companion.session.stand import Stand


@dataclass(frozen=True, slots=True)
class Offer:
    """wish: which of the choices, PUT_OFF for none, None for as the whole song has it. keys: MIDI numbers, () where there is nothing to show. note, way: of a slide the note it leads into,
    and which of choice.SLIDE_WAYS choosing it makes of that note."""

    wish: int | None
    words: str
    keys: tuple[int, ...] = ()
    note: NotePlace | None = None
    way: str = ""


def offers(stand: Stand, index: int, kind: str) -> list[Offer]:
    """All there is of a kind in a bar of the chorus, [] where there is no room for any; then none of it, and as the whole song has it."""
    found = {SLIDE: _slides, TREMOLO: _tremolos, FILL: _fills, WALK: _ends}[kind](stand, index)
    if not found:
        return []
    none = "the pattern goes on" if kind == WALK else f"no {kind} here"
    usual = "as in the whole song: " + (f"{kind}s" if kind in stand.arranged.ornaments else f"no {kind}s")
    return [*found, Offer(PUT_OFF, none), Offer(None, usual)]


def chosen(stand: Stand, index: int, kind: str, offer: Offer) -> ArrangementChoice:
    """With what is offered. A slide is chosen note by note; none, or as in the whole song, is meant for all notes of the bar."""
    choice, bar = stand.arranged, stand.bars[index]
    if offer.note is not None:
        return choice.with_slide(offer.note, offer.way)
    if kind == SLIDE:
        for place in list(choice.slides):
            if place[:2] == (bar.section, bar.bar):
                choice = choice.with_slide(place, None)
    return choice.with_bar(bar.section, bar.bar, kind, offer.wish)


def wish_of(stand: Stand, index: int, kind: str) -> int | None:
    """What the student wants there, None where nothing was said."""
    bar = stand.bars[index]
    return stand.arranged.bars.get((bar.section, bar.bar, kind))


def loop_of(stand: Stand, index: int, kind: str) -> range | None:
    """The bars in which what is played of a kind there is practised with its goal, as indices in the chorus; None where nothing of it is played."""
    there = stand.ornaments()
    if kind == WALK:
        is_played = index in there.ends or is_led_on(stand.song, stand.bars[index])
        return range(index, min(index + 2, len(stand.bars))) if is_played else None
    if kind == TREMOLO:
        is_played = any(number in there.tremolos for number, _ in _tremolo_places(stand).get(index, ()))
        return range(index, min(index + 2, len(stand.bars))) if is_played else None
    if kind == SLIDE:
        is_played = any(number in there.slides for number, _ in _slide_places(stand).get(index, ()))
        return range(max(0, index - 1), index + 1) if is_played else None
    for place in _places(stand):
        if place.room.bar.index == index and place.room.note in there.fills:
            ends = [bar_at(stand.bars, tick) for tick in (place.room.gap.struck_tick, place.room.gap.end_tick)]
            first, last = (0 if bar is None else bar.index for bar in ends)
            return range(first, last + 1)
    return None


def _places(stand: Stand) -> tuple[FillPlace, ...]:
    return proposed_fills(stand.tune)


def _slide_places(stand: Stand) -> Mapping[int, tuple[tuple[int, Slide], ...]]:
    return proposed_slides(stand.tune)


def _slides(stand: Stand, index: int) -> list[Offer]:
    """Each slide that a note of the bar has place for; one that is played can be put off."""
    notes, places, there = sounding(stand.melody), places_of(stand.tune), stand.ornaments().slides
    found = []
    for wish, (number, slide) in enumerate(_slide_places(stand).get(index, ()), 1):
        pitch, is_played = notes[number].pitch, there.get(number) == slide
        keys = (slide.pitch.midi,) if pitch is None else (slide.pitch.midi, pitch.midi)
        way = STRAIGHT if is_played else BELOW if slide.from_below else ABOVE
        words = f"{slide.why} It is played: without it." if is_played else slide.why
        found.append(Offer(wish, words, keys, places[number], way))
    return found


def _tremolo_places(stand: Stand) -> Mapping[int, tuple[tuple[int, Tremolo], ...]]:
    return proposed_tremolos(stand.bars, stand.harmonised, stand.ornaments().fills)


def _tremolos(stand: Stand, index: int) -> list[Offer]:
    return [
        Offer(wish, tremolo.why, stand.harmonised[number].voicing.keys)
        for wish, (number, tremolo) in enumerate(_tremolo_places(stand).get(index, ()), 1)
    ]


def _fills(stand: Stand, index: int) -> list[Offer]:
    return [
        Offer(number, fill.why, tuple(note.pitch.midi for note in fill.notes))
        for place in _places(stand)
        if place.room.bar.index == index
        for number, fill in enumerate(place.choices, 1)
    ]


def _ends(stand: Stand, index: int) -> list[Offer]:
    bar = stand.bars[index]
    found = []
    plain = stand.change(arranged=stand.arranged.with_bar(bar.section, bar.bar, WALK, 1))
    end = plain.ornaments().ends.get(index)
    if end is not None:
        found.append(Offer(1, end.end.why, tuple(pitch.midi for pitch in end.end.pitches)))
    led = stand.change(arranged=stand.arranged.with_bar(bar.section, bar.bar, WALK, IN_SHELLS))
    if is_led_on(led.song, led.bars[index]):
        symbols = " ".join(placed.symbol for placed in led.bars[index].chords)
        found.append(Offer(IN_SHELLS, f"In shells, {symbols}: the chart is changed here."))
    return found
