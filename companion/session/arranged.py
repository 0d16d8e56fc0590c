"""The song on the stand as a whole tune: what both hands play in each bar, and why."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

from companion.arranging.beginnings import OWN, intro
from companion.arranging.cadences import last_chord
from companion.arranging.endings import ending, low_root, shares
from companion.arranging.model import ENDING, FORM, INTRO, ArrangedBar, ArrangedStroke
from companion.chart.melody import NotePlace, chorus_melody
from companion.chart.model import FormBar, Song
from companion.groove.model import GrooveBar, GrooveChord
from companion.groove.patterns import pattern_strikes
from companion.hands.left.reason import OPENS, spoken
from companion.hands.right.company_reason import company_names, why_company
from companion.session.note_places import bar_at, note_places, sounding
from companion.session.right_hand import right_hand
from companion.session.stand import Stand
from companion.theory.meter import Meter

_PICKUP = -1


def arranged(stand: Stand) -> tuple[ArrangedBar, ...]:
    """Every bar once through: the introduction, a pickup, the form, the ending. The loop on the stand is of no account."""
    return (*intro_bars(stand), *_form(stand, FORM), *ending_bars(stand))


def intro_bars(stand: Stand) -> tuple[ArrangedBar, ...]:
    """The introduction that was chosen, () for none. What arpeggiates stays alone."""
    song = intro(stand.song, stand.arranged.intro)
    return () if song is None else _told(_form(_beside(stand, song), INTRO), "The introduction")


def ending_bars(stand: Stand) -> tuple[ArrangedBar, ...]:
    """The ending that was chosen, () for none; it slows down, and its last bar is the low root alone."""
    choice = stand.arranged
    song = ending(stand.song, choice.ending)
    if song is None:
        return ()
    bars = _told(_form(_beside(stand, song), ENDING), "The ending")
    meter, is_own = bars[-1].meter, choice.ending == OWN
    slowing = shares(len(bars), meter, choice.slows_to, choice.curve, held=0 if is_own else 2)
    found = [
        replace(bar, shares=pulses, tempo_bpm=bar.tempo_bpm * pulses[0])
        for bar, pulses in zip(bars, slowing, strict=True)
    ]
    if is_own:
        return tuple(found)
    found[-2] = replace(found[-2], left=_once(found[-2].left, meter), right=_once(found[-2].right, meter))
    root, tone = low_root(stand.song), last_chord(stand.song).root
    why = f"{spoken(tone)} alone, low: the end."
    last = ArrangedStroke(0, meter.bar_ticks, (root,), (tone.at_or_above(root).name,), (5,), why)
    found[-1] = replace(found[-1], left=(last,), right=())
    return tuple(found)


def _beside(stand: Stand, song: Song) -> Stand:
    """The introduction or ending on a stand of its own, its quick notes alone."""
    notes = chorus_melody(song)
    meter = song.meter
    places = zip(note_places(song.unroll(), notes), sounding(notes), strict=True)
    quick: dict[NotePlace, tuple[str, ...]] = {place: () for place, note in places if note.ticks < meter.pulse_ticks}
    return stand.beside(song, replace(stand.arranged, notes=quick))


def _told(bars: tuple[ArrangedBar, ...], what: str) -> tuple[ArrangedBar, ...]:
    """It starts here, not the chorus; and its quick notes are alone by nature, not by choice."""

    def told(stroke: ArrangedStroke) -> ArrangedStroke:
        why = "" if len(stroke.keys) == 1 else stroke.why.replace(OPENS, f"{what} starts here")
        return replace(stroke, why=why)

    return tuple(replace(bar, left=tuple(map(told, bar.left)), right=tuple(map(told, bar.right))) for bar in bars)


def _once(strokes: tuple[ArrangedStroke, ...], meter: Meter) -> tuple[ArrangedStroke, ...]:
    """The first of them, held through the bar."""
    return tuple(replace(stroke, ticks=meter.bar_ticks, inner_ticks=None) for stroke in strokes[:1])


def _form(stand: Stand, stretch: str) -> tuple[ArrangedBar, ...]:
    right = _right(stand)
    bars = [
        ArrangedBar(
            stretch,
            bar.section,
            bar.occurrence,
            bar.bar,
            bar.meter,
            stand.tempo_bpm,
            bar.chords,
            _left(stand, bar),
            tuple(right.get(bar.index, ())),
        )
        for bar in stand.bars
    ]
    if _PICKUP in right:
        first = stand.bars[0]
        pickup = tuple(right[_PICKUP])
        bars.insert(0, ArrangedBar(stretch, first.section, 1, 0, first.meter, stand.tempo_bpm, (), (), pickup))
    return tuple(bars)


def _left(stand: Stand, bar: FormBar) -> tuple[ArrangedStroke, ...]:
    """The shells in the pattern; the first strike of a chord says why."""
    choices = [choice for _, choice in stand.choices_at(bar.index)]
    chords = tuple(
        GrooveChord(
            bar.meter.ticks(placed.beat),
            bar.meter.ticks(placed.beats),
            placed.chord,
            choice.shell.midi if choice.shell else (),
        )
        for placed, choice in zip(bar.chords, choices, strict=True)
    )
    return tuple(
        ArrangedStroke(
            strike.tick,
            strike.ticks,
            strike.notes,
            choices[strike.chord].shell_names,
            tuple(int(finger) for finger in choices[strike.chord].fingers.split("-")),
            choices[strike.chord].why if strike.number == 0 else "",
        )
        for strike in pattern_strikes(stand.pattern, GrooveBar(bar.index, bar.meter, chords))
    )


def _right(stand: Stand) -> dict[int, list[ArrangedStroke]]:
    """By the index of the bar, or _PICKUP, the strokes that begin there."""
    found: dict[int, list[ArrangedStroke]] = defaultdict(list)

    def add(stroke: ArrangedStroke, start_tick: int) -> None:
        bar = bar_at(stand.bars, start_tick)
        index = _PICKUP if bar is None else bar.index
        found[index].append(stroke)

    for note in stand.harmonised:
        keys, tick = note.voicing.keys, note.note.start_tick
        inner = note.added_ticks if note.voicing.added and note.added_ticks < note.note.ticks else None
        why = why_company(note.stroke, note.voicing, stand.arranged.voices)
        add(
            ArrangedStroke(
                _in_bar(stand, tick),
                note.note.ticks,
                keys,
                (*company_names(note.stroke, note.voicing), str(note.note.pitch)),
                note.voicing.fingers,
                why,
                keys[-1],
                inner_ticks=inner,
            ),
            tick,
        )
    for single in () if stand.harmonised else right_hand(stand):
        tick = single.note.start_tick
        stroke = ArrangedStroke(
            _in_bar(stand, tick),
            single.note.ticks,
            (single.midi,),
            (str(single.note.pitch),),
            (single.finger,),
            melody=single.midi,
        )
        add(stroke, tick)
    return found


def _in_bar(stand: Stand, tick: int) -> int:
    """From its bar line; of the pickup from the first one, negative."""
    bar = bar_at(stand.bars, tick)
    return tick if bar is None else tick - bar.start_tick
