"""What is played between and around the notes of a song on the stand: fills, and what the left hand does where phrases end.

The one way by which they come into what is heard, asked, printed and told: `ornaments_of` says what there is, `with_fills` puts it into the melody, and the
bars of the groove and of the arrangement take the rest from it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from companion.arranging.choice import FILL, WALK, ArrangementChoice
from companion.arranging.phrase_ends import EndInBar, phrase_ends
from companion.base.latest import latest
from companion.chart.melody import MelodyNote
from companion.chart.model import FormBar, PlacedChord, Song
from companion.hands.left.model import Part
from companion.hands.right.fills import Fill
from companion.session.fills import FillPlace, fill_places
from companion.session.harmonised import HarmonisedNote
from companion.session.note_places import bar_at, sounding


@dataclass(frozen=True, slots=True)
class Ornaments:
    """fills: by the index of the melody note before, of those that sound. ends: by the index of the bar."""

    fills: Mapping[int, Fill] = field(default_factory=dict)
    ends: Mapping[int, EndInBar] = field(default_factory=dict)

    def held_ticks(self, number: int, note: MelodyNote) -> int:
        """How long a melody note is held: to its end, or to the fill behind it."""
        fill = self.fills.get(number)
        return note.ticks if fill is None else min(note.ticks, fill.notes[0].tick - note.start_tick)


NONE = Ornaments()
Then = tuple[PlacedChord, int]  # a chord that follows, and the lower key of its shell


@latest  # asked for each time a loop is played or drawn
def ornaments_of(
    song: Song,
    bars: tuple[FormBar, ...],
    part: Part,
    played: tuple[MelodyNote, ...],
    voiced: tuple[HarmonisedNote, ...],
    choice: ArrangementChoice,
    lowest: int,
    order: tuple[int, ...],
    comes_again: bool,
    then: Then | None,
) -> Ornaments:
    """What is chosen of all that is proposed. order: the bars as they are played; comes_again: whether the first follows the last, as in a loop; then: what else follows. lowest: of
    the left hand."""
    wanted = {kind for _, _, kind in choice.bars} | set(choice.ornaments)
    fills = (
        _fills(proposed_fills(song, bars, part, played, voiced, choice), bars, choice, order) if FILL in wanted else {}
    )
    if WALK not in wanted:
        return Ornaments(fills) if fills else NONE
    found = phrase_ends(
        bars,
        part,
        _right(sounding(played), voiced, fills),
        order,
        {name: section.key for name, section in song.sections.items()},
        lowest,
        comes_again=comes_again,
        then=then,
    )
    ends = {
        index: end
        for index, end in found.items()
        if choice.wanted(end.bar.section, end.bar.bar, WALK) and not is_led_on(song, end.bar)
    }
    return Ornaments(fills, ends)


def is_led_on(song: Song, bar: FormBar) -> bool:
    """Whether chords were put in that lead on from it: more than the chart has there."""
    return len(bar.chords) > len(song.unroll()[bar.index].chords)


def proposed_fills(
    song: Song,
    bars: tuple[FormBar, ...],
    part: Part,
    played: tuple[MelodyNote, ...],
    voiced: tuple[HarmonisedNote, ...],
    choice: ArrangementChoice,
) -> tuple[FillPlace, ...]:
    """Every gap of the chorus with what may be played in it."""
    fingers = tuple(note.voicing.fingers[-1] for note in voiced) or None
    return fill_places(song, bars, part, played, fingers, choice.seed)


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
