"""The bars of a loop as the groove plays them: the shells of its chords, and what the right hand strikes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from companion.arranging.phrase_ends import EndInBar
from companion.base.latest import latest
from companion.chart.melody import MelodyNote
from companion.chart.model import FormBar
from companion.groove.model import Grace, GrooveBar, GrooveChord, Strike
from companion.groove.strikes import PICKUP, Company, NoteInBar, melody_by_bar, struck_early, written_strikes
from companion.hands.left.model import Choice, Part
from companion.session.harmonised import HarmonisedNote
from companion.session.note_places import sounding
from companion.session.ornaments import Ornaments, with_fills


@latest  # a change of click, pattern or bass leaves all of it as it was
def groove_of(
    bars: tuple[FormBar, ...],
    part: Part,
    melody: tuple[MelodyNote, ...],
    loop: tuple[int, ...],
    voiced: tuple[HarmonisedNote, ...],
    ornaments: Ornaments,
) -> tuple[tuple[GrooveBar, ...], tuple[Strike, ...]]:
    """The bars of the loop, and what the melody strikes before the first one."""
    first, sung = first_choices(bars), melody_by_bar(with_fills(melody, ornaments), bars)
    company = _company(sounding(melody), voiced, ornaments)
    around = zip((-1, *loop), loop, (*loop[1:], -1), strict=False)
    return (
        struck_early(
            _groove_bar(
                bars[index],
                part.choices[first[index] : first[index] + len(bars[index].chords)],
                sung[index],
                company,
                before,
                after,
                ornaments.ends.get(index),
                ornaments.holds(bars[index]),
            )
            for before, index, after in around
        ),
        written_strikes(sung[PICKUP], (), company) if loop[0] == 0 else (),
    )


def _company(notes: Sequence[MelodyNote], voiced: Sequence[HarmonisedNote], ornaments: Ornaments) -> dict[int, Company]:
    """By the tick where a melody note begins: what goes with it and before it."""
    found = {note.note.start_tick: Company(note.voicing.added, note.added_ticks) for note in voiced}
    for number, slide in ornaments.slides.items():
        tick, grace = notes[number].start_tick, Grace(slide.pitch.midi, ornaments.slide_ms)
        found[tick] = replace(found.get(tick, Company((), 0)), grace=grace)
    for number, tremolo in ornaments.tremolos.items():
        tick = notes[number].start_tick
        found[tick] = replace(found[tick], turns=tremolo.turns)
    return found


def _groove_bar(
    bar: FormBar,
    choices: tuple[Choice, ...],
    melody: Sequence[NoteInBar],
    company: Mapping[int, Company],
    before: int,
    after: int,
    phrase_end: EndInBar | None,
    holds: tuple[tuple[int, int], ...],
) -> GrooveBar:
    """choices: of the bar's chords. before, after: the bars around it in the loop, -1 for none. phrase_end: what the left hand does at its end instead of the pattern. holds: see GrooveBar."""
    meter = bar.meter
    chords = []
    for placed, choice in zip(bar.chords, choices, strict=True):
        start, end = meter.ticks(placed.beat), meter.ticks(placed.beat + placed.beats)
        notes = choice.shell.midi if choice.shell else ()
        chords.append(GrooveChord(start, end - start, placed.chord, notes))
    is_led, leads = before == bar.index - 1, after == bar.index + 1
    written = written_strikes(melody, chords, company, from_before=is_led, goes_on=leads)
    if phrase_end is None:
        return GrooveBar(bar.index, meter, tuple(chords), written, holds=holds)
    strikes = sorted((*written, *end_strikes(phrase_end)), key=lambda strike: strike.tick)
    return GrooveBar(bar.index, meter, tuple(chords), tuple(strikes), pattern_ticks=phrase_end.tick, holds=holds)


def end_strikes(end: EndInBar) -> tuple[Strike, ...]:
    """What the left hand strikes there, one note a beat."""
    return tuple(
        Strike("left", end.tick + number * end.note_ticks, end.note_ticks, (pitch.midi,), end.chord)
        for number, pitch in enumerate(end.end.pitches)
    )


def first_choices(bars: tuple[FormBar, ...]) -> tuple[int, ...]:
    """For each bar the position of its first chord among those of the chorus."""
    firsts, count = [], 0
    for bar in bars:
        firsts.append(count)
        count += len(bar.chords)
    return tuple(firsts)
