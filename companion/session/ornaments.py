"""What is played between and around the notes of a song on the stand: slides, tremolos, fills, and what the left hand does where phrases end.

The one way by which they come into what is heard, asked, printed and told: `ornaments_of` says what there is, `with_fills` puts it into the melody, and the
bars of the groove and of the arrangement take the rest from it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any, NamedTuple

from companion.arranging.choice import FILL, SLIDE, SLIDE_MS, TREMOLO, WALK, ArrangementChoice
from companion.arranging.phrase_ends import EndInBar, phrase_ends
from companion.base.latest import latest
from companion.chart.melody import MelodyNote, NotePlace
from companion.chart.model import FormBar, PlacedChord, Song
from companion.hands.left.model import Part
from companion.hands.right.fills import Fill
from companion.hands.right.slides import Slide
from companion.hands.right.tremolos import Tremolo
from companion.session.fills import FillPlace, fill_places
from companion.session.harmonised import HarmonisedNote
from companion.session.melody_fingers import played_fingers
from companion.session.note_places import as_written, bar_at, note_places, sounding
from companion.session.slides import keys_before, slide_places, tremolo_places, wanted_slides, wanted_tremolos
from companion.store.own_melody import Fingers


@dataclass(frozen=True, slots=True)
class Ornaments:
    """fills: by the index of the melody note before, of those that sound; slides, tremolos: of the note itself. ends: by the index of the bar. slide_ms: how long a grace lasts."""

    fills: Mapping[int, Fill] = field(default_factory=dict)
    ends: Mapping[int, EndInBar] = field(default_factory=dict)
    slides: Mapping[int, Slide] = field(default_factory=dict)
    tremolos: Mapping[int, Tremolo] = field(default_factory=dict)
    slide_ms: float = SLIDE_MS

    def held_ticks(self, number: int, note: MelodyNote) -> int:
        """How long a melody note is held: to its end, or to the fill behind it."""
        fill = self.fills.get(number)
        return note.ticks if fill is None else min(note.ticks, fill.notes[0].tick - note.start_tick)

    def holds(self, bar: FormBar) -> tuple[tuple[int, int], ...]:
        """(from, until) in ticks of the bar where a fill moves, up to the note on which it rests: one hand moves at a time (common practice), so the left one holds."""
        spans = [(fill.notes[0].tick, fill.notes[-1].tick + 1) for fill in self.fills.values()]
        return tuple(
            (start - bar.start_tick, end - bar.start_tick)
            for start, end in spans
            if start < bar.end_tick and end > bar.start_tick
        )

    def fills_over(self, end: EndInBar) -> bool:
        """Whether a fill still moves where the left hand would play single notes to end a phrase."""
        return bool(end.end.pitches) and any(until > end.tick for _, until in self.holds(end.bar))


NONE = Ornaments()
Then = tuple[PlacedChord, int]  # a chord that follows, and the lower key of its shell


class TuneOnStand(NamedTuple):
    """What is on the stand of a tune. played: its melody as it is played; written: as it is written. voiced: as it is played with its company, () for the melody alone."""

    song: Song
    bars: tuple[FormBar, ...]
    part: Part
    played: tuple[MelodyNote, ...]
    voiced: tuple[HarmonisedNote, ...]
    choice: ArrangementChoice
    written: tuple[MelodyNote, ...]
    own_fingers: Fingers


def ornaments_of(
    tune: TuneOnStand, lowest: int, order: tuple[int, ...], then: Then | None, *, comes_again: bool
) -> Ornaments:
    """What is chosen of all that is proposed. order: the bars as they are played; comes_again: whether the first follows the last, as in a loop; then: what else follows. lowest: of
    the left hand."""
    return _ornaments_of(*tune, lowest, order, then, comes_again)


@latest  # asked for each time a loop is played or drawn
def _ornaments_of(*asked: Any) -> Ornaments:
    *of_tune, lowest, order, then, comes_again = asked
    tune = TuneOnStand(*of_tune)
    song, bars, choice, played, voiced = tune.song, tune.bars, tune.choice, tune.played, tune.voiced
    wanted = {kind for _, _, kind in choice.bars} | set(choice.ornaments)
    fills = _fills(proposed_fills(tune), bars, choice, order) if FILL in wanted else {}
    tremolos = wanted_tremolos(proposed_tremolos(bars, voiced, fills), bars, choice, order) if TREMOLO in wanted else {}
    slid: dict[int, Slide] = {}
    if SLIDE in wanted or choice.slides:
        before = keys_before(bars, sounding(played), order, comes_again=comes_again)
        taken = frozenset([*tremolos, *(number + 1 for number in fills)])
        slid = wanted_slides(proposed_slides(tune), bars, choice, order, before, taken, places_of(tune))
    if WALK not in wanted:
        found = Ornaments(fills, {}, slid, tremolos, choice.slide_ms)
        return found if fills or slid or tremolos else NONE
    ending = phrase_ends(
        bars,
        tune.part,
        [*_right(sounding(played), voiced, fills), *_graces(sounding(played), slid, song, bars, choice.slide_ms)],
        order,
        {name: section.key for name, section in song.sections.items()},
        lowest,
        comes_again=comes_again,
        then=then,
    )
    alone = Ornaments(fills, {}, slid, tremolos, choice.slide_ms)
    ends = {
        index: end for index, end in ending.items() if _is_played(alone, end, choice) and not is_led_on(song, end.bar)
    }
    return replace(alone, ends=ends)


def _is_played(around: Ornaments, end: EndInBar, choice: ArrangementChoice) -> bool:
    """Whether the left hand ends a phrase so: where that was said of the bar, or where it is wanted in the whole song and no fill leads on meanwhile."""
    place = end.bar.section, end.bar.bar, WALK
    return bool(choice.wanted(*place)) and (place in choice.bars or not around.fills_over(end))


def places_of(tune: TuneOnStand) -> list[NotePlace]:
    """How the student's file names each note of the melody that sounds, as it is played."""
    places = note_places(tune.bars, tune.written)
    return [places[at] for at in as_written(tune.written, tune.played)]


def is_led_on(song: Song, bar: FormBar) -> bool:
    """Whether chords were put in that lead on from it: more than the chart has there."""
    return len(bar.chords) > len(song.unroll()[bar.index].chords)


def proposed_fills(tune: TuneOnStand) -> tuple[FillPlace, ...]:
    """Every gap of the chorus with what may be played in it."""
    return fill_places(tune.song, tune.bars, tune.part, tune.played, tune.voiced, tune.choice.seed)


def proposed_slides(tune: TuneOnStand) -> Mapping[int, tuple[tuple[int, Slide], ...]]:
    """See slides.slide_places."""
    song, bars, part, played, voiced, choice, written, own_fingers = tune
    fingers = () if voiced else _fingers_alone(song, bars, written, played, own_fingers)
    return slide_places(song, bars, part, played, voiced, fingers, choice.slide_ms, choice.seed)


@latest
def _fingers_alone(
    song: Song,
    bars: tuple[FormBar, ...],
    written: tuple[MelodyNote, ...],
    played: tuple[MelodyNote, ...],
    own_fingers: Fingers,
) -> tuple[int, ...]:
    return tuple(played_fingers(song, bars, written, played, own_fingers))


def proposed_tremolos(
    bars: Sequence[FormBar], voiced: Sequence[HarmonisedNote], fills: Mapping[int, Fill]
) -> Mapping[int, tuple[tuple[int, Tremolo], ...]]:
    """See slides.tremolo_places; a note is let go before a fill."""
    around = Ornaments(fills)
    held = {number: around.held_ticks(number, voiced[number].note) for number in fills if number < len(voiced)}
    return tremolo_places(bars, voiced, held)


def _graces(
    notes: Sequence[MelodyNote], slid: Mapping[int, Slide], song: Song, bars: Sequence[FormBar], ms: float
) -> list[tuple[int, int, tuple[int, ...]]]:
    """What sounds before their notes, so that the left hand keeps clear of it."""
    ticks = round(ms / 60_000.0 * song.tempo_bpm * bars[0].meter.pulse_ticks)
    return [
        (notes[number].start_tick - ticks, notes[number].start_tick, (slide.pitch.midi,))
        for number, slide in slid.items()
    ]


def _fills(
    places: Sequence[FillPlace], bars: Sequence[FormBar], choice: ArrangementChoice, order: Sequence[int]
) -> dict[int, Fill]:
    """Those that are wanted and lie within bars that follow each other."""
    follows = set(pairwise(order))
    found = {}
    for place in places:
        wish = choice.wanted(place.room.bar.section, place.room.bar.bar, FILL)
        if not wish or not place.choices:
            continue
        fill = place.choices[min(wish, len(place.choices)) - 1]
        ends = [bar_at(bars, tick) for tick in (place.room.gap.struck_tick, fill.notes[-1].tick)]
        first, last = (0 if bar is None else bar.index for bar in ends)
        if first in order and all((index, index + 1) in follows for index in range(first, last)):
            found[place.room.note] = fill
    return found


def _right(
    notes: Sequence[MelodyNote], voiced: Sequence[HarmonisedNote], fills: Mapping[int, Fill]
) -> list[tuple[int, int, tuple[int, ...]]]:
    """All that the right hand holds. The melody is cut by no fill here: a walk keeps clear of all of it."""
    if voiced:
        held = [(each.note.start_tick, each.note.end_tick, each.voicing.keys) for each in voiced]
    else:
        held = [(note.start_tick, note.end_tick, (note.pitch.midi,)) for note in notes if note.pitch is not None]
    played = [note for fill in fills.values() for note in fill.notes]
    return [*held, *((note.tick, note.tick + note.ticks, (note.pitch.midi,)) for note in played)]


def with_fills(melody: tuple[MelodyNote, ...], ornaments: Ornaments) -> tuple[MelodyNote, ...]:
    """The melody with its fills in it, each note let go before one begins."""
    if not ornaments.fills:
        return melody
    found: list[MelodyNote] = []
    for number, note in enumerate(sounding(melody)):
        found.append(replace(note, ticks=ornaments.held_ticks(number, note)))
        if number in ornaments.fills:
            found += [MelodyNote(each.tick, each.ticks, each.pitch) for each in ornaments.fills[number].notes]
    return tuple(found)
