"""How the student's own eighths swing, and where they lie against the click: measured, told and never judged.

Swing ratio: the first eighth of a beat against the second, from the student's own onsets (Friberg & Sundstrom 2002; Corcoran & Frieler
2021, Music Perception 38:372-385, for soloists). Where nothing is struck on a beat before or after an off-beat, as around a note that is
pushed or held over, the beat is taken to lie as far from the click as the student's others do in the middle.

Units: seconds for moments, milliseconds for what is told, positive = after the click.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import median, quantiles

from companion.groove.model import Arrangement
from companion.groove.strikes import bar_strikes
from companion.groove.swing import fine_pulses, off_beat_share, played_ratio
from companion.practice.model import Group, PassMarks
from companion.theory.meter import TICKS_PER_QUARTER

PART = "right"
LEAST = 8  # eighth pairs, or notes on the beat, for a word about them
# A ratio beyond these is no pair of eighths but a slip (our own choice; cymbals go up to 3.5).
_LEAST_RATIO, _MOST_RATIO = 0.5, 6.0


@dataclass(frozen=True, slots=True)
class Onset:
    """A note as it was struck. pulse: of the pass, from 0. off_beat: whether it is the second eighth. due_s: when the click's beat came, or for an off-beat
    when that was due; beat_s: when the beat of it came; length_s: of the beat."""

    pulse: int
    off_beat: bool
    time_s: float
    due_s: float
    beat_s: float
    length_s: float


@dataclass(frozen=True, slots=True)
class Swinging:
    """ratios: of every pair of eighths. beat_ms, off_beat_ms: how far behind the click the notes on the beat lie in the middle, and the off-beats
    behind where they would swing with the band; None of fewer than LEAST. clocked: whether there was a click to say so."""

    ratios: tuple[float, ...] = ()
    beat_ms: float | None = None
    off_beat_ms: float | None = None
    clocked: bool = True

    @property
    def quartiles(self) -> tuple[float, float, float] | None:
        """The lower one, the median and the upper one; None of fewer than LEAST pairs."""
        if len(self.ratios) < LEAST:
            return None
        low, middle, high = quantiles(self.ratios, n=4, method="inclusive")
        return low, middle, high

    @property
    def sentence(self) -> str:
        """What is told after a pass, "" where too little was played to tell."""
        said = []
        if self.quartiles is not None:
            low, middle, high = (f"{ratio:.1f}" for ratio in self.quartiles)
            spread = f" (half of them from {low} to {high})" if low != high else ""
            said.append(f"your eighths swing {middle} to 1{spread}")
        if self.beat_ms is not None and self.clocked:
            where = f"{abs(self.beat_ms):.0f} ms {'behind' if self.beat_ms > 0 else 'before'} the click"
            said.append(f"your notes on the beat come {where if round(self.beat_ms) else 'with the click'}")
        words = "; ".join(said)
        return f"{words[0].upper()}{words[1:]}." if words else ""


def onsets_of(arrangement: Arrangement, marks: PassMarks) -> list[Onset]:
    """The onsets on beats and at their halves of one pass, in order; of beats that hold anything else, and of meters that have no swing
    eighths, none."""
    is_played = any(chord.part == PART for chord in marks.chords)
    places = {(place.group, place.number): place for place in places_of(arrangement)} if is_played else {}
    found = []
    for mark in (strike for chord in marks.chords for strike in chord.strikes):
        due, place = mark.expected, places.get((mark.expected.group, mark.expected.number))
        if due.part != PART or place is None or not place.is_plain or mark.offset_ms is None:
            continue
        pulse, off_beat = place.pulse, place.off_beat
        ratio = played_ratio(arrangement.feel, arrangement.swing_ratio, 60.0 / due.beat_s)
        beat_s = due.due_s - due.beat_s * off_beat_share(ratio) if off_beat else due.due_s
        found.append(Onset(pulse, off_beat, due.due_s + mark.offset_ms / 1000.0, due.due_s, beat_s, due.beat_s))
    return sorted(found, key=lambda onset: (onset.pulse, onset.off_beat))


@dataclass(frozen=True, slots=True)
class Place:
    """Where a note of the melody stands in the pass. group, number: as in Expected. note: a MIDI number. pulse: of the pass, from 0; off_beat: whether it
    is the second eighth there. is_plain: whether the beat is a quarter and holds nothing finer than eighths."""

    group: Group
    number: int
    note: int
    pulse: int
    off_beat: bool
    is_plain: bool


def places_of(arrangement: Arrangement) -> list[Place]:
    """Every note that the melody strikes in one pass, in order."""
    places: list[Place] = []
    first = 0
    for position, bar in enumerate(arrangement.bars):
        strikes = bar_strikes(arrangement.pattern, bar, PART)
        edges = [edge for strike in strikes for edge in (strike.tick, strike.end_tick)]
        fine = fine_pulses(edges)
        is_quarters = bar.meter.pulse_ticks == TICKS_PER_QUARTER
        numbers: Counter[int] = Counter()
        for strike in strikes:
            if strike.held:
                continue
            pulse, rest = divmod(strike.tick, TICKS_PER_QUARTER if is_quarters else bar.meter.pulse_ticks)
            group = Group(position, bar.index, strike.chord)
            is_plain = is_quarters and pulse not in fine
            places.append(Place(group, numbers[strike.chord], strike.notes[-1], first + pulse, bool(rest), is_plain))
            numbers[strike.chord] += 1
        first += bar.meter.pulses
    return places


def swinging(passes: Sequence[Sequence[Onset]], *, clocked: bool = True) -> Swinging:
    """What the onsets of one pass or several come to. clocked: whether a click says when a beat was due, so that a place against it means
    something."""
    onsets = [onset for each in passes for onset in each]
    on_beat = [onset.time_s - onset.due_s for onset in onsets if not onset.off_beat]
    off_beat = [onset.time_s - onset.due_s for onset in onsets if onset.off_beat]
    usual_s = median(on_beat) if len(on_beat) >= LEAST else 0.0
    return Swinging(
        tuple(ratio for each in passes for ratio in _ratios(each, usual_s)),
        1000.0 * usual_s if len(on_beat) >= LEAST else None,
        1000.0 * median(off_beat) if len(off_beat) >= LEAST else None,
        clocked,
    )


def _ratios(onsets: Sequence[Onset], usual_s: float) -> Iterator[float]:
    """Of every off-beat. usual_s: how far behind the click the student's beats lie, where none is struck."""
    beats = {onset.pulse: onset.time_s for onset in onsets if not onset.off_beat}
    for onset in onsets:
        if not onset.off_beat:
            continue
        start_s = beats.get(onset.pulse, onset.beat_s + usual_s)
        end_s = beats.get(onset.pulse + 1, onset.beat_s + onset.length_s + usual_s)
        first_s, second_s = onset.time_s - start_s, end_s - onset.time_s
        if first_s > 0 < second_s and _LEAST_RATIO <= first_s / second_s <= _MOST_RATIO:
            yield first_s / second_s
