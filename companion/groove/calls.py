"""Called changes: the name of the coming chord, spoken a pulse before it comes, as a teacher calls them (common practice).

A name begins on a beat, the last one that lies a whole pulse or more before its chord, and is over when the chord comes: the longest form of it
is taken that the pulse has room for, else the shortest. So two chords a bar at 80 are called by root and quality alone, "F sharp half dim",
and no name lies over a change. A chord that goes on is not called again. Of two names on one beat the first is called.
Above MOST_BPM nobody can listen and play, so nothing is called.
"""

from __future__ import annotations

from collections.abc import Iterator

from companion.groove.counting import pulses_counted
from companion.groove.model import CALLS, Arrangement, GrooveBar, GrooveChord, NoteEvent, Stretch
from companion.theory.meter import Meter
from companion.theory.spoken import COUNTED, spoken_forms, syllables

MOST_BPM = 80.0  # pulses a minute
# When they are called -> its words: in drills that hide the chords they would give them away.
CALLS_WHEN = {"off": "off", "shown": "on, silent where chords are hidden", "always": "on, also where chords are hidden"}
# What a voice has for words and for each of their syllables, and is made faster for where it needs more: four syllables, the longest names of
# root and quality, fit into a pulse at MOST_BPM.
WORDS_S, SYLLABLE_S = 0.12, 0.155
CALL_VELOCITY = 127


def call_seconds(words: str) -> float:
    """How long words may last, in seconds."""
    return WORDS_S + SYLLABLE_S * syllables(words)


def calls_in(
    arrangement: Arrangement, stretch: Stretch, position: int, tempo_bpm: float, *, is_last: bool
) -> list[NoteEvent]:
    """What is called in a bar; arguments as in timeline.bar_events."""
    bars = arrangement.bars_of(stretch, is_last=is_last)
    bar = bars[position]
    following = _following(arrangement, stretch, position, is_last)
    called: dict[int, GrooveChord] = {}
    before = bar.chords[0]
    for tick, chord in _onsets(bar, following):
        if tick > 0 and spoken_forms(chord.chord) != spoken_forms(before.chord):
            called.setdefault(_call_tick(tick, bar.meter), chord)
        before = chord
    return [
        _call(tick, _form(chord, bar.meter, tempo_bpm), bar.meter)
        for tick, chord in called.items()
        if 0 <= tick < bar.meter.bar_ticks
    ]


def _following(arrangement: Arrangement, stretch: Stretch, position: int, is_last: bool) -> GrooveBar | None:
    bars = arrangement.bars_of(stretch, is_last=is_last)
    if position + 1 < len(bars):
        return bars[position + 1]
    return next(iter(arrangement.bars_after(stretch, is_last=is_last)), None)


def _onsets(bar: GrooveBar, following: GrooveBar | None) -> Iterator[tuple[int, GrooveChord]]:
    """(tick from the start of `bar`, chord) of every chord in both bars."""
    yield from ((chord.tick, chord) for chord in bar.chords)
    if following is not None:
        yield from ((bar.meter.bar_ticks + chord.tick, chord) for chord in following.chords)


def _call_tick(tick: int, meter: Meter) -> int:
    """The last beat a whole pulse or more before a tick; below 0 where that lies before the bar."""
    return (tick // meter.pulse_ticks - 1) * meter.pulse_ticks


def _form(chord: GrooveChord, meter: Meter, tempo_bpm: float) -> str:
    forms = spoken_forms(chord.chord)
    return next((form for form in forms if call_seconds(form) <= 60.0 / tempo_bpm), forms[-1])


def _call(tick: int, words: str, meter: Meter) -> NoteEvent:
    return NoteEvent(tick, meter.pulse_ticks, CALLS, 0, CALL_VELOCITY, words)


def said_counting(first: GrooveBar, bars: int, tempo_bpm: float) -> list[list[NoteEvent]]:
    """What is said in the bars that are counted in before the bar `first`, and on their last beat the name of its first chord. The first
    of several bars of four is counted in halves: "one, two, one two three", and the name (common practice)."""
    meter = first.meter
    said = [
        [
            _call(pulse * meter.pulse_ticks, COUNTED[n], meter)
            for n, pulse in enumerate(pulses_counted(meter, number, bars))
        ]
        for number in range(bars)
    ]
    if said:
        said[-1][-1] = _call((meter.pulses - 1) * meter.pulse_ticks, _form(first.chords[0], meter, tempo_bpm), meter)
    return said


def words_called(arrangement: Arrangement) -> tuple[str, ...]:
    """All that may be called while an arrangement plays, at whatever tempo, in the order in which it is needed."""
    if CALLS not in arrangement.parts:
        return ()
    bars = (*arrangement.lead_in, *arrangement.bars, *arrangement.ending, *arrangement.coming)
    pulses = max(bar.meter.pulses for bar in bars)
    names = (form for bar in bars for chord in bar.chords for form in spoken_forms(chord.chord))
    return tuple(dict.fromkeys((*COUNTED[:pulses], *names)))
