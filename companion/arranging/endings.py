"""Endings, made from a song's own key and cadence; as songs of one section, see beginnings.py.

Kinds, all common practice: "tag", the last four bars twice more, three times in all, without what turns back to the beginning; "held", the last chord
alone; "blues", the bass walks up to the fifth and the dominant. Each ends on the last chord, voiced under the last note of the melody, and the low
root alone. "own" is the section of that name in the chart, as it is written. They slow down as a runner comes to a stop: Friberg and Sundberg 1999, JASA 105(3):1469-1484 (formula from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from companion.arranging.beginnings import OWN, even_bar, one_section, own_section, until, upper_line
from companion.arranging.cadences import chord_on, last_chord
from companion.base.latest import latest
from companion.chart.melody import MelodyNote, chorus_melody
from companion.chart.model import Bar, FormBar, Song
from companion.theory.chord import Chord
from companion.theory.meter import Meter
from companion.theory.pitch import Pitch

ENDINGS = ("none", "tag", "held", "blues", OWN)
ENDING_NAME = "Ending"
# Of the tempo at the very end (ours), and the paper's q: 3 as runners stop, 2 rated as good. The student sets both.
SLOWS_TO, CURVE = 0.55, 3.0
SLOWS_TO_LIMITS, CURVE_LIMITS = (0.2, 0.95), (0.5, 5.0)
LOWEST_LAST = 28  # E1: the low root alone lies at or above it (common practice: the bass's lowest string)
_PHRASE = 4
_MIDDLE = 69  # A4: near it lies the last note where the tune has none


@latest  # asked for with every change of an arrangement
def ending(song: Song, kind: str) -> Song | None:
    """The ending as a song of one section: its last bar but one holds the last chord, its last bar is for the low root. kind: one of ENDINGS, "none" gives
    None; so does "own" for a song that has none. Raises ValueError for another."""
    if kind not in ENDINGS:
        raise ValueError(f"{kind!r} is no ending; expected one of {', '.join(ENDINGS)}")
    if kind == "none":
        return None
    if kind == OWN:
        return own_section(song, ENDING_NAME)
    form = song.unroll()
    meter = form[-1].meter
    bars, notes = {"tag": _tag, "held": _held, "blues": _blues}[kind](song, form, meter)
    last = last_chord(song)
    at = len(bars) * meter.bar_ticks
    notes = [*notes, MelodyNote(at, meter.bar_ticks, _last_note(song, last))]
    return one_section(song, ENDING_NAME, meter, [*bars, even_bar(meter, [last]), even_bar(meter, [last])], notes)


def low_root(song: Song) -> int:
    """The key of the very last note, a MIDI number."""
    return last_chord(song).root.at_or_above(LOWEST_LAST).midi


def slowing(pulses: int, slows_to: float = SLOWS_TO, curve: float = CURVE) -> tuple[float, ...]:
    """The tempo of each of so many pulses as a share of the tempo before: v(x) = (1 + (w^q - 1) x)^(1/q), w at the last. pulses: at least 1. Falls all the
    way, exact at its end."""
    return tuple((1 + (slows_to**curve - 1) * (number + 1) / pulses) ** (1 / curve) for number in range(pulses))


Made = tuple[list[Bar], list[MelodyNote]]


def _tag(song: Song, form: Sequence[FormBar], meter: Meter) -> Made:
    phrase = [bar for bar in form[-_PHRASE:] if bar.meter == meter]
    start = phrase[0].start_tick
    bars = _without_turnaround([Bar(bar.chords) for bar in phrase], song, meter)
    ticks = len(bars) * meter.bar_ticks
    own = [note for note in chorus_melody(song) if note.pitch is not None and note.start_tick >= start]
    own = until([replace(note, start_tick=note.start_tick - start) for note in own], ticks)
    return bars * 2, [replace(note, start_tick=note.start_tick + turn * ticks) for turn in range(2) for note in own]


def _without_turnaround(bars: list[Bar], song: Song, meter: Meter) -> list[Bar]:
    """What turns back to the beginning is left out: from the last chord of the keynote in the last two bars on that chord stays."""
    for number in range(len(bars) - 1, max(-1, len(bars) - 3), -1):
        for placed in reversed(bars[number].chords):
            if placed.chord is not None and placed.chord.root.pc == song.key.tonic.pc:
                before = [other for other in bars[number].chords if other.beat < placed.beat]
                home = Bar((*before, replace(placed, beats=meter.beats - placed.beat)))
                return [*bars[:number], home, *[even_bar(meter, [placed.chord])] * (len(bars) - number - 1)]
    return bars


def _held(song: Song, form: Sequence[FormBar], meter: Meter) -> Made:
    return [], []


def _blues(song: Song, form: Sequence[FormBar], meter: Meter) -> Made:
    """I, I over its third, IV, the diminished chord above it; I over the fifth and V."""
    tonic = song.key.tonic
    third = "b3" if song.key.mode == "minor" else "3"
    one = "m7" if song.key.mode == "minor" else "7"
    walk = [
        chord_on(tonic, one),
        chord_on(tonic, f"{one}/{tonic.degree(third).name}"),
        chord_on(tonic.degree("4"), "m7" if song.key.mode == "minor" else "7"),
        chord_on(tonic.degree("#4"), "dim7"),
    ]
    turn = [chord_on(tonic, f"{one}/{tonic.degree('5').name}"), chord_on(tonic.degree("5"), "7")]
    if meter.beats % 4 == 0:
        bars = [even_bar(meter, walk), even_bar(meter, turn)]
    else:
        bars = [even_bar(meter, [chord]) for chord in (*walk, *turn)]
    return bars, upper_line(bars, meter)


def _last_note(song: Song, last: Chord) -> Pitch:
    """The melody's last note where the last chord has it, else the chord tone nearest to it that tells no other chord: keynote, fifth or third."""
    notes = [note.pitch for note in chorus_melody(song) if note.pitch is not None]
    near = notes[-1].midi if notes else _MIDDLE
    if notes and near % 12 in last.pitch_classes:
        return notes[-1]
    tones = [tone for number in (1, 5, 3) if (tone := last.tone(number)) is not None]
    places = [tone.at_or_above(near - 6) for tone in tones]
    return min(places, key=lambda pitch: abs(pitch.midi - near))


def shares(
    bars: int, meter: Meter, slows_to: float = SLOWS_TO, curve: float = CURVE, *, held: int = 2
) -> tuple[tuple[float, ...], ...]:
    """By bar of an ending the tempo of each pulse as a share: it slows through the two bars before those that are held, or the first of these, and stays slow.
    held: how many bars at the end are the last chord and the low root; 0 where they are written otherwise."""
    moving = bars - held
    slow = min(2, moving) or 1
    first = max(0, moving - slow)
    way = slowing(slow * meter.pulses, slows_to, curve)
    found = []
    for number in range(bars):
        at = (number - first) * meter.pulses
        found.append(
            tuple(1.0 if at + pulse < 0 else way[min(at + pulse, len(way) - 1)] for pulse in range(meter.pulses))
        )
    return tuple(found)
