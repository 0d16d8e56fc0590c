"""The song on the stand as a whole tune: what both hands play in each bar, and why."""

from __future__ import annotations

from collections import defaultdict

from companion.arranging.model import FORM, ArrangedBar, ArrangedStroke
from companion.chart.model import FormBar
from companion.groove.model import GrooveBar, GrooveChord
from companion.groove.patterns import pattern_strikes
from companion.hands.right.company_reason import company_names, why_company
from companion.session.note_places import bar_at
from companion.session.right_hand import right_hand
from companion.session.stand import Stand

_PICKUP = -1


def arranged(stand: Stand) -> tuple[ArrangedBar, ...]:
    """Every bar once through, a pickup before the first. The loop on the stand is of no account."""
    right = _right(stand)
    bars = [
        ArrangedBar(
            FORM,
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
        pickup = ArrangedBar(FORM, first.section, 1, 0, first.meter, stand.tempo_bpm, (), (), tuple(right[_PICKUP]))
        bars.insert(0, pickup)
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
