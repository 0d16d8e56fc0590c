"""Fills: what the right hand plays where the melody has nothing to say, each on its way to a goal.

A goal is the melody's next note, reached by a step, or the third or seventh of a chord on a strong beat, on which the fill comes to rest. A
fill is worked out from its goal backwards: an arpeggio through the chord's tones, a run through its scale, an enclosure from both sides, or
a turn with the blue notes. Of each kind the cheapest are kept, and the seed chooses among them; no fill at all is an answer too. Rules and
costs: fill_rules.py.

Units: ticks from anywhere, one count for all; milliseconds at the target tempo.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from random import Random

from companion.hands.right import fill_rules as rules
from companion.hands.right.fill_lines import FillLine, Goal, lines
from companion.hands.right.fingering import HandPhrase, finger_phrases
from companion.hands.right.prices import IMPRACTICAL, fingering_cost
from companion.hands.right.voicing_rules import guide_degrees
from companion.theory.chord import Chord
from companion.theory.chord_scales import pc_of, scale_pitches
from companion.theory.key import Key
from companion.theory.pitch import Pitch


@dataclass(frozen=True, slots=True)
class Under:
    """A chord under the gap. from start_tick to end_tick; shell: every key of the left hand meanwhile."""

    start_tick: int
    end_tick: int
    chord: Chord
    shell: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Gap:
    """Room in the melody. struck_tick: of the melody note before; start_tick: from where on a fill may sound; end_tick: the next melody note, or
    the end. before, after: the melody notes around it, after None at the end. under: the chords, end to end, without a gap. line_tick:
    of any bar line there; strong_ticks: from a bar line, where groups of beats begin. pulse_ticks, is_compound, bar_ticks: of the meter. tick_ms: at
    the target tempo. key: that it is in; after_finger: on the next melody note, None where nobody said."""

    struck_tick: int
    start_tick: int
    end_tick: int
    before: Pitch
    after: Pitch | None
    under: tuple[Under, ...]
    line_tick: int
    strong_ticks: tuple[int, ...]
    pulse_ticks: int
    bar_ticks: int
    is_compound: bool
    tick_ms: float
    key: Key
    after_finger: int | None = None

    def at(self, tick: int) -> Under:
        """The chord that sounds at a tick."""
        return self.under[max(0, bisect_right([each.start_tick for each in self.under], tick) - 1)]


@dataclass(frozen=True, slots=True)
class FillNote:
    """A note of a fill. finger: 1 to 5."""

    tick: int
    ticks: int
    pitch: Pitch
    finger: int


@dataclass(frozen=True, slots=True)
class Fill:
    """kind: one of fill_rules.KINDS. notes: in order, none overlapping another, the goal among them where the fill rests on it. goal: the key it
    leads to. why: a sentence. runs_on: without a rest into the melody's next note."""

    kind: str
    notes: tuple[FillNote, ...]
    goal: int
    why: str
    runs_on: bool = False


def fills(gap: Gap, seed: str) -> tuple[Fill, ...]:
    """Up to three to choose from, of different kinds as far as there are, those first that breathe before the melody goes on; () where there is no room. seed: the same one gives the same."""
    found = _choices(gap)
    chance = Random(seed)
    kinds = list(rules.KINDS)
    chance.shuffle(kinds)
    picked: list[Fill] = []
    for turn in range(3):
        for kind in kinds:
            choices = list(found[kind])
            chance.shuffle(choices)
            fill = next(iter(_fingered(gap, choices[turn:])), None)
            if fill is not None and len(picked) < 3 and all(fill.notes != other.notes for other in picked):
                picked.append(fill)
    return tuple(sorted(picked, key=lambda fill: fill.runs_on))


@lru_cache(maxsize=64)  # the gaps of a chorus, which another seed leaves as they are
def _choices(gap: Gap) -> dict[str, tuple[FillLine, ...]]:
    """By kind those that cost little more than the cheapest, in an order that needs no chance."""
    found: dict[str, list[tuple[int, FillLine]]] = {kind: [] for kind in rules.KINDS}
    for line in _lines(gap):
        found[line.kind].append((_cost(gap, line), line))
    near = {}
    for kind, priced in found.items():
        most = min((cost for cost, _ in priced), default=0) + rules.CHOICE_COST
        near[kind] = tuple(sorted((line for cost, line in priced if cost <= most), key=lambda line: line.rank))
    return near


# --- where a fill may lie


def _lines(gap: Gap) -> Iterator[FillLine]:
    for goal in _goals(gap):
        for onsets in _onsets(gap, goal):
            for line in lines(goal, onsets, [gap.at(tick).chord for tick in onsets]):
                if _is_playable(gap, line):
                    yield line


def _goals(gap: Gap) -> Iterator[Goal]:
    """The melody's next note, and the guide tones of each chord on a strong beat with time to rest on them."""
    if gap.after is not None:
        yield Goal(gap.end_tick, gap.after, gap.at(gap.end_tick).chord, is_melody=True)
    for tick in range(gap.line_tick, gap.end_tick - gap.pulse_ticks + 1, gap.pulse_ticks):
        under = gap.at(tick)
        is_strong = (tick - gap.line_tick) % gap.bar_ticks in gap.strong_ticks or tick == under.start_tick
        if tick < gap.start_tick + gap.pulse_ticks or not is_strong:
            continue
        pcs = {pc_of(under.chord, degree) for degree in guide_degrees(under.chord)}
        for pitch in scale_pitches(under.chord, rules.LOWEST, rules.HIGHEST):
            if pitch.midi % 12 in pcs:
                yield Goal(tick, pitch, under.chord, is_melody=False)


def _onsets(gap: Gap, goal: Goal) -> Iterator[tuple[int, ...]]:
    """Even notes that end just before the goal: eighths, or triplets, sixteenths or quarters as the tempo has them."""
    pulse_ms = gap.pulse_ticks * gap.tick_ms
    earliest = max(gap.start_tick, gap.struck_tick + round(rules.AGAIN_MS / gap.tick_ms))
    for parts in _divisions(pulse_ms, is_compound=gap.is_compound):
        unit = gap.pulse_ticks // parts
        last = gap.line_tick + (goal.tick - 1 - gap.line_tick) // unit * unit
        if (goal.tick - last) * gap.tick_ms < rules.QUICKEST_MS:
            last -= unit
        places = [last - unit * number for number in range(rules.MOST) if last - unit * number >= earliest]
        for count in range(rules.FEWEST - (not goal.is_melody), len(places) + 1):
            yield tuple(reversed(places[:count]))


def _divisions(pulse_ms: float, *, is_compound: bool) -> tuple[int, ...]:
    """Into how many notes a pulse is divided. Eighths as long as a student can play them, finer ones only where the beat is slow."""
    if is_compound:
        return (3,) if pulse_ms >= 3 * rules.QUICKEST_MS else (1,)
    if pulse_ms < 2 * rules.QUICKEST_MS:
        return (1,)
    return tuple(parts for parts in (2, 3, 4) if pulse_ms >= parts * (rules.QUICKEST_MS if parts == 2 else 220.0))


def _is_playable(gap: Gap, line: FillLine) -> bool:
    first, last = line.pitches[0].midi, line.pitches[-1].midi
    if abs(first - gap.before.midi) > rules.FAR:
        return False
    if not line.goal.is_melody and gap.after is not None and abs(line.goal.pitch.midi - gap.after.midi) > rules.FAR:
        return False
    struck = [*zip(line.onsets, line.pitches, strict=True)]
    if not line.goal.is_melody:
        struck.append((line.goal.tick, line.goal.pitch))
    return (
        abs(last - line.goal.pitch.midi) <= rules.STEP
        and all(_lowest(gap, tick) <= pitch.midi <= rules.HIGHEST for tick, pitch in struck)
        and all(a.midi != b.midi for a, b in pairwise([*line.pitches, line.goal.pitch]))
    )


def _lowest(gap: Gap, tick: int) -> int:
    return max(rules.LOWEST, *(key + rules.ABOVE_SHELL for key in gap.at(tick).shell), 0)


def _cost(gap: Gap, line: FillLine) -> int:
    cost = rules.LEAP * max(0, abs(line.pitches[0].midi - gap.before.midi) - rules.NEAR)
    for tick, pitch in zip(line.onsets, line.pitches, strict=True):
        on_beat = (tick - gap.line_tick) % gap.pulse_ticks == 0
        cost += rules.FOREIGN_ON_BEAT * (on_beat and pitch.midi % 12 not in gap.at(tick).chord.pitch_classes)
    if not line.goal.is_melody:
        near = gap.before if gap.after is None else gap.after
        shell = gap.at(line.goal.tick).shell
        cost += rules.GOAL_HEARD * any(key % 12 == line.goal.pitch.midi % 12 for key in shell)
        cost += rules.LATE_GOAL * (abs(line.goal.pitch.midi - near.midi) // rules.NEAR)
    empty = (line.onsets[0] - gap.start_tick) // gap.pulse_ticks - 1
    silent = 0 if line.goal.is_melody else (gap.end_tick - line.goal.tick) // gap.pulse_ticks - 2
    cost += rules.EMPTY * (max(0, empty) + max(0, silent))
    cost += rules.RUNS_ON * line.goal.is_melody
    return cost + rules.TOO_MANY * max(0, len(line.onsets) - 6)


# --- how it is played and told


def _fingered(gap: Gap, chosen: Sequence[FillLine]) -> Iterator[Fill]:
    for line in chosen:
        fill = _fill(gap, line)
        if fill is not None:
            yield fill


@lru_cache(maxsize=512)
def _fill(gap: Gap, line: FillLine) -> Fill | None:
    """With fingers that lead to the melody's next note where they can; None where no hand can take it."""
    ends = (*line.onsets[1:], line.goal.tick)
    struck = [*zip(line.onsets, ends, line.pitches, strict=True)]
    if not line.goal.is_melody:
        breath = 0 if gap.after is None else gap.pulse_ticks // rules.BREATH
        rest = min(gap.end_tick - breath, line.goal.tick + 2 * gap.pulse_ticks)
        struck.append((line.goal.tick, rest, line.goal.pitch))
    keys = tuple(pitch.midi for _, _, pitch in struck)
    onsets = tuple(start for start, _, _ in struck)
    fingers = _fingers(gap, line, keys, onsets)
    if fingers is None:
        return None
    notes = tuple(
        FillNote(start, end - start, pitch, finger) for (start, end, pitch), finger in zip(struck, fingers, strict=True)
    )
    return Fill(line.kind, notes, line.goal.pitch.midi, line.why, line.goal.is_melody)


def _fingers(gap: Gap, line: FillLine, keys: tuple[int, ...], onsets: tuple[int, ...]) -> tuple[int, ...] | None:
    alone = HandPhrase(keys, onsets, gap.key)
    if line.goal.is_melody and gap.after_finger is not None:
        on = replace(
            alone,
            keys=(*keys, line.goal.pitch.midi),
            onsets=(*onsets, line.goal.tick),
            pins={len(keys): gap.after_finger},
        )
        fingers = finger_phrases([on])[0]
        if fingering_cost(fingers, on.keys) < IMPRACTICAL:
            return fingers[:-1]
    fingers = finger_phrases([alone])[0]
    return fingers if fingering_cost(fingers, keys) < IMPRACTICAL else None
