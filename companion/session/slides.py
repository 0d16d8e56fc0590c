"""The slides and tremolos that a song on the stand has place for, bar by bar."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from itertools import pairwise
from random import Random

from companion.arranging.choice import ABOVE, BELOW, MOST_CHOICES, SLIDE, TREMOLO, ArrangementChoice
from companion.base.latest import latest
from companion.chart.melody import MelodyNote, NotePlace
from companion.chart.model import FormBar, Song
from companion.hands.left.model import Part
from companion.hands.right.company_reason import company_names
from companion.hands.right.slides import APART as SLIDES_APART
from companion.hands.right.slides import PLAIN, Slid, Slide, slides
from companion.hands.right.tremolos import APART as TREMOLOS_APART
from companion.hands.right.tremolos import Tremolo, tremolo
from companion.session.harmonised import HarmonisedNote, spans_of
from companion.session.note_places import bar_at, sounding


@latest  # asked for each time a loop is played or drawn
def slide_places(
    song: Song,
    bars: tuple[FormBar, ...],
    part: Part,
    played: tuple[MelodyNote, ...],
    voiced: tuple[HarmonisedNote, ...],
    fingers: tuple[int, ...],
    slide_ms: float,
    seed: int,
) -> dict[int, tuple[tuple[int, Slide], ...]]:
    """Index of a bar, -1 for the pickup -> what is proposed there, the best first: the number of the note among those that sound, and the slide into it. fingers: of
    each of them. Which of equals comes first is by the seed, and the same wherever a section comes."""
    notes = sounding(played)
    tick_ms = 60_000.0 / song.tempo_bpm / bars[0].meter.pulse_ticks
    spans = spans_of(bars, part)
    starts = [span.start_tick for span in spans]
    strokes = []
    for number, note in enumerate(notes):
        bar = bar_at(bars, note.start_tick)
        meter = bars[0].meter if bar is None else bar.meter
        pulse, rest = divmod(note.start_tick - (0 if bar is None else bar.start_tick), meter.pulse_ticks)
        here = bisect_right(starts, note.start_tick) - 1
        before = max(0, bisect_right(starts, note.start_tick - slide_ms / tick_ms) - 1)
        low = [key for span in spans[before : here + 1] for key in span.shell]
        assert note.pitch is not None
        # Off the beat a note comes later by a third where eighths swing two to one, and less is left of it before a slide.
        swung = rest == meter.pulse_ticks // 2 and song.feel == "swing"
        voicing = voiced[number].voicing if voiced else None
        strokes.append(
            Slid(
                note.start_tick + (meter.pulse_ticks // 6 if swung else 0),
                note.end_tick,
                voicing.keys if voicing else (note.pitch.midi,),
                voicing.fingers if voicing else (fingers[number],),
                note.pitch,
                note.ticks / meter.pulse_ticks,
                rest == 0,
                pulse % meter.pulses in meter.strong_pulses,
                spans[here].chord if here >= 0 else None,
                max(low, default=None),
            )
        )
    found: dict[int, list[tuple[int, Slide]]] = defaultdict(list)
    for number, each in enumerate(slides(strokes, tick_ms, slide_ms)):
        bar = bar_at(bars, notes[number].start_tick)
        found[-1 if bar is None else bar.index] += [(number, slide) for slide in each]
    return {index: _best(bars[max(0, index)], each, seed) for index, each in found.items() if each}


def _best(bar: FormBar, each: list[tuple[int, Slide]], seed: int) -> tuple[tuple[int, Slide], ...]:
    chance = Random(f"{seed} {bar.section} {bar.bar} slide")
    ranks = [chance.random() for _ in each]
    order = sorted(range(len(each)), key=lambda at: (each[at][1].price, ranks[at]))
    return tuple(each[at] for at in order)


def wanted_slides(
    places: Mapping[int, Sequence[tuple[int, Slide]]],
    bars: Sequence[FormBar],
    choice: ArrangementChoice,
    order: Sequence[int],
    keys_before: Mapping[int, tuple[int, ...]],
    taken: frozenset[int],
    note_places: Sequence[NotePlace],
) -> dict[int, Slide]:
    """Number of the note -> the slide into it, of those that are wanted. keys_before: number of the first note of a stretch of the loop -> the keys that the
    right hand comes from there; taken: notes that have another ornament. note_places: of each note, by which the student wants one there or none."""
    free = {
        index: [(number, slide) for number, slide in choices if number not in taken]
        for index, choices in places.items()
    }
    usual = {
        index: each[0][1].price for index, each in free.items() if index >= 0 and each and each[0][1].price <= PLAIN
    }
    alike = {index: (free[index][0][1].pitch.midi, free[index][0][1].from_below) for index in usual}
    found = {}
    for index in _wanted_bars(usual, free, bars, choice, SLIDE, SLIDES_APART, alike):
        if max(0, index) not in order:
            continue
        bar, each = bars[max(0, index)], free[index]
        if each:
            number, slide = each[min(choice.wanted(bar.section, 0 if index < 0 else bar.bar, SLIDE), len(each)) - 1]
            if slide.pitch.midi not in keys_before.get(number, ()):
                found[number] = slide
    said = [choice.slides.get(place) for place in note_places]
    found = {number: slide for number, slide in found.items() if not said[number]}  # no other comes in its place
    for index, choices in places.items():
        for number, slide in choices if max(0, index) in order else ():
            is_said = said[number] == (BELOW if slide.from_below else ABOVE) and number not in taken
            if is_said and slide.pitch.midi not in keys_before.get(number, ()):
                found[number] = slide
    return found


def _wanted_bars(
    usual: Mapping[int, float],
    there: Iterable[int],
    bars: Sequence[FormBar],
    choice: ArrangementChoice,
    kind: str,
    apart: int,
    alike: Mapping[int, Hashable] | None = None,
) -> list[int]:
    """The bars in which a kind is played: those the student asked for, and of the others, where it is wanted in the whole song, some that lie apart. What is said of one bar, or which bars are a loop, changes
    nothing elsewhere. usual: price of the bars in which it may be played unasked; there: all that have place. alike: of these bars what must not come twice in a section."""
    said = {
        index: choice.bars.get((bars[max(0, index)].section, 0 if index < 0 else bars[index].bar, kind))
        for index in there
    }
    picked = _now_and_then(usual, bars, alike or {}, apart=apart, seed=choice.seed) if kind in choice.ornaments else []
    return [*(index for index in picked if said[index] is None), *(index for index, wish in said.items() if wish)]


def _now_and_then(
    prices: Mapping[int, float], bars: Sequence[FormBar], alike: Mapping[int, Hashable], *, apart: int, seed: int
) -> list[int]:
    """Bars that lie at least so far apart, none alike in one section, the cheapest first, of equals by the seed; the same wherever a section comes, also round its end. prices, alike: by
    the index of the bar."""
    lengths: dict[str, int] = {}
    worth: dict[tuple[str, int], float] = {}
    said: dict[tuple[str, int], Hashable] = {}
    used: set[tuple[str, Hashable]] = set()
    for bar in bars:
        lengths[bar.section] = max(bar.bar, lengths.get(bar.section, 0))
        if bar.index in prices:
            place = bar.section, bar.bar
            worth[place] = min(prices[bar.index], worth.get(place, prices[bar.index]))
            said.setdefault(place, alike.get(bar.index, place))
    chosen: set[tuple[str, int]] = set()
    for _, _, section, number in sorted((worth[place], Random(f"{seed} {place}").random(), *place) for place in worth):
        away = (abs(number - other) for name, other in chosen if name == section)
        same = (section, said[section, number])
        if same not in used and all(min(gap, lengths[section] - gap) >= apart for gap in away):
            chosen.add((section, number))
            used.add(same)
    return [index for index in prices if (bars[index].section, bars[index].bar) in chosen]


def keys_before(
    bars: Sequence[FormBar], notes: Sequence[MelodyNote], order: Sequence[int], *, comes_again: bool
) -> dict[int, tuple[int, ...]]:
    """For the first note of each bar that does not follow the one before it in the form: the melody's key at the end of the bar that does."""
    by_bar: dict[int, list[int]] = defaultdict(list)
    for number, note in enumerate(notes):
        bar = bar_at(bars, note.start_tick)
        by_bar[-1 if bar is None else bar.index].append(number)
    around = [*pairwise(order), *([(order[-1], order[0])] if comes_again and order else [])]
    found: dict[int, tuple[int, ...]] = {}
    for before, index in around:
        if before != index - 1 and by_bar[before] and by_bar[index]:
            pitch = notes[by_bar[before][-1]].pitch
            found[by_bar[index][0]] = () if pitch is None else (pitch.midi,)
    return found


def tremolo_places(
    bars: Sequence[FormBar], voiced: Sequence[HarmonisedNote], held: Mapping[int, int]
) -> dict[int, tuple[tuple[int, Tremolo], ...]]:
    """As `slide_places`, of tremolos: the longest first. held: number of a note -> how many ticks it has before a fill, where that is less than all of it."""
    found: dict[int, list[tuple[int, int, Tremolo]]] = defaultdict(list)
    for number, each in enumerate(voiced):
        bar = bar_at(bars, each.note.start_tick)
        ticks = held.get(number, each.note.ticks)
        if bar is None or each.added_ticks < ticks or each.note.start_tick + ticks > bar.end_tick:
            continue
        pulse = bar.meter.pulse_ticks
        if (each.note.start_tick - bar.start_tick) % pulse == 0:
            names = (*company_names(each.stroke, each.voicing), str(each.note.pitch))
            one = tremolo(each.voicing.keys, names, ticks / pulse)
            if one is not None:
                found[bar.index].append((-ticks, number, one))
    return {
        index: tuple((number, one) for _, number, one in sorted(each, key=lambda each: each[:2])[:MOST_CHOICES])
        for index, each in found.items()
    }


def wanted_tremolos(
    places: Mapping[int, Sequence[tuple[int, Tremolo]]],
    bars: Sequence[FormBar],
    choice: ArrangementChoice,
    order: Sequence[int],
) -> dict[int, Tremolo]:
    """Number of the note -> its tremolo, of those that are wanted."""
    usual = {index: -choices[0][1].pulses for index, choices in places.items()}
    found = {}
    for index in _wanted_bars(usual, places, bars, choice, TREMOLO, TREMOLOS_APART):
        if index not in order:
            continue
        wish, choices = choice.wanted(bars[index].section, bars[index].bar, TREMOLO), places[index]
        number, one = choices[min(wish, len(choices)) - 1]
        found[number] = one
    return found
