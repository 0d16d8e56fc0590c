"""A swung version of a section's melody: onsets moved ahead, held back or struck again, by the rules of swung_rules.py.

A version is the choice of some changes, each of one note, by a seed. Nothing else moves: the notes before the first bar line, the first note
of the section, and every pulse that holds anything finer than eighths stay as written; what ends with the section ends with it. Only meters
whose pulse is a quarter are changed: in 6/8 and 12/8 the three eighths of a pulse are the swing, written out. Waltzes are changed too, their
one strong beat being the first (common practice).

Units: ticks from the section's first bar line.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from random import Random
from typing import NamedTuple

from companion.chart.melody import MelodyNote
from companion.groove.swing import fine_pulses
from companion.groove.swung_choice import BarVersion
from companion.groove.swung_rules import LEAST_CHANGED, MOST_A_BAR, RULES, SHARES
from companion.theory.chord import Chord
from companion.theory.meter import TICKS_PER_QUARTER, Meter

_EIGHTH = TICKS_PER_QUARTER // 2
_HALF = 2 * TICKS_PER_QUARTER
_MOVES = ("push", "passing", "late")


class SwungChange(NamedTuple):
    """rule: its name. note: index of the note, rests not counted. bar: in which it is written, from 1. at: the onset it has now, or the one
    that is added."""

    rule: str
    note: int
    bar: int
    at: int


@dataclass(frozen=True, slots=True)
class SectionMelody:
    """A section's melody as it is written. notes: without rests, in order. chord_at: what sounds at a tick. end_tick: from where on another
    section's pickup may stand in its place, else its end."""

    notes: tuple[MelodyNote, ...]
    meter: Meter
    chord_at: Callable[[int], Chord | None]
    end_tick: int

    def bar_of(self, tick: int) -> int:
        """From 1."""
        return tick // self.meter.bar_ticks + 1


Changes = dict[int, SwungChange]  # by note


def version_of(tune: SectionMelody, name: str, version: BarVersion) -> Changes:
    """The changes of one version. name: of the section, so that no two sections get the same draws."""
    if tune.meter.pulse_ticks != TICKS_PER_QUARTER:
        return {}
    draw = Random(f"{version.seed} {version.version} {name}").random
    # Every note and rule has its draw, taken or not, so that the same seed says the same in every key.
    wanted: Changes = {}
    left: list[tuple[float, SwungChange]] = []
    for index in range(len(tune.notes)):
        for rule in RULES:
            share = draw()
            for change in _offered(tune, rule.name, index):
                if share < SHARES[rule.name] and fits(tune, wanted, change):
                    wanted[index] = change
                else:
                    left.append((share, change))
    _change_more(tune, wanted, [change for _, change in sorted(left)])
    return wanted


def _change_more(tune: SectionMelody, wanted: Changes, left: Sequence[SwungChange]) -> None:
    """Where fewer bars than LEAST_CHANGED are changed, take more in, those first that the draw nearly took."""
    sung = {tune.bar_of(note.start_tick) for note in tune.notes if note.start_tick >= 0}
    changed = {bar for change in wanted.values() for bar in bars_touched(tune, change)}
    for change in left:
        if len(changed & sung) >= LEAST_CHANGED * len(sung):
            return
        if change.bar not in changed and fits(tune, wanted, change):
            wanted[change.note] = change
            changed |= bars_touched(tune, change)


def bars_touched(tune: SectionMelody, change: SwungChange) -> set[int]:
    """The bars in which something else is written by a change: a push over the bar line takes from the bar before too."""
    return {change.bar, tune.bar_of(change.at)}


# --- what a rule offers


def _offered(tune: SectionMelody, rule: str, index: int) -> Iterator[SwungChange]:
    """What the rule would do with a note: nothing, or one change."""
    note = tune.notes[index]
    start, meter = note.start_tick, tune.meter
    on_pulse = start % TICKS_PER_QUARTER == 0
    if start < 0 or not on_pulse or start >= tune.end_tick:
        return
    bar = tune.bar_of(start)
    if rule in _MOVES:
        is_first = not index or tune.notes[index - 1].start_tick < 0
        if not is_first and note.ticks >= TICKS_PER_QUARTER and _moves(tune, rule, index):
            yield SwungChange(rule, index, bar, start - _EIGHTH if rule == "push" else start + _EIGHTH)
    elif min(note.end_tick, tune.end_tick) - start >= _HALF:
        end = min(note.end_tick, bar * meter.bar_ticks, tune.end_tick)
        last = (end - _EIGHTH) // TICKS_PER_QUARTER * TICKS_PER_QUARTER + _EIGHTH
        at = start + _EIGHTH if rule == "split" else last
        if start < at <= end - _EIGHTH:
            yield SwungChange(rule, index, bar, at)


def _moves(tune: SectionMelody, rule: str, index: int) -> bool:
    """Whether a note that is at least a quarter, and not the section's first, is one that the rule moves."""
    note, before = tune.notes[index], tune.notes[index - 1]
    in_bar = note.start_tick % tune.meter.bar_ticks
    is_strong = in_bar // TICKS_PER_QUARTER in tune.meter.strong_pulses
    if rule == "push":
        chord = tune.chord_at(note.start_tick)
        return is_strong and chord is not None and _pc(note) in chord.pitch_classes
    if rule == "late":
        return not _is_syncopated(before)
    after = tune.notes[index + 1] if index + 1 < len(tune.notes) else None
    if is_strong or after is None or note.ticks != TICKS_PER_QUARTER or not _is_followed(before, note):
        return False
    steps = (_midi(note) - _midi(before), _midi(after) - _midi(note))
    return steps[0] * steps[1] > 0 and all(abs(step) <= 2 for step in steps) and _is_followed(note, after)


def _pc(note: MelodyNote) -> int:
    return _midi(note) % 12


def _midi(note: MelodyNote) -> int:
    assert note.pitch is not None  # rests are no notes of a SectionMelody
    return note.pitch.midi


def _is_followed(note: MelodyNote, after: MelodyNote) -> bool:
    """Whether no rest lies between."""
    return note.end_tick == after.start_tick


def _is_syncopated(note: MelodyNote) -> bool:
    """Whether it is written between two beats and held over the next one."""
    return note.start_tick % TICKS_PER_QUARTER == _EIGHTH and note.ticks > _EIGHTH


# --- what goes together


def fits(tune: SectionMelody, taken: Changes, change: SwungChange) -> bool:
    """Whether a change goes with those that are taken already."""
    if change.note in taken or sum(other.bar == change.bar for other in taken.values()) >= MOST_A_BAR:
        return False
    near = [taken.get(change.note - 1), taken.get(change.note + 1)]
    if change.rule == "push":
        beside = tune.notes[max(0, change.note - 1) : change.note + 2]
        if any(_is_syncopated(note) for note in beside) or any(other and other.rule == "push" for other in near):
            return False
    elif change.rule in _MOVES and any(other and other.rule in ("passing", "late") for other in near):
        return False  # two held back running would be the same tune an eighth later
    return _is_plain(tune, change) and _leaves_eighths(tune, {**taken, change.note: change}, change.note)


def _is_plain(tune: SectionMelody, change: SwungChange) -> bool:
    """Whether the pulses from the note to its new onset hold nothing finer than eighths, and lie in the section's own bars."""
    start = tune.notes[change.note].start_tick
    pulses = range(min(start, change.at) // TICKS_PER_QUARTER, max(start, change.at) // TICKS_PER_QUARTER + 1)
    is_inside = pulses.start >= 0 and pulses.stop * TICKS_PER_QUARTER <= tune.end_tick
    edges = (edge for note in tune.notes for edge in (note.start_tick, note.end_tick))
    return is_inside and fine_pulses(edges).isdisjoint(pulses)


def _leaves_eighths(tune: SectionMelody, taken: Changes, index: int) -> bool:
    """Whether the note and those beside it are left an eighth at least for everything that is struck of them, none is over before it begins
    and none sounds into the next."""
    pieces: list[MelodyNote] = []
    for number in range(max(0, index - 1), min(len(tune.notes), index + 2)):
        now = struck(tune, taken, number)
        if any(piece.ticks < _EIGHTH for piece in now) and now != [tune.notes[number]]:
            return False
        pieces += now
    return all(piece.end_tick <= after.start_tick for piece, after in pairwise(pieces))


def struck(tune: SectionMelody, taken: Changes, index: int) -> list[MelodyNote]:
    """A note as it is struck with these changes: once or twice."""
    note, change = tune.notes[index], taken.get(index)
    after = tune.notes[index + 1] if index + 1 < len(tune.notes) else None
    start = change.at if change and change.rule in _MOVES else note.start_tick
    end = note.end_tick
    moved = taken.get(index + 1)
    if after is not None and moved is not None and moved.rule in _MOVES:
        is_held = _is_followed(note, after) and moved.rule != "push" and _may_be_held(tune, note, after)
        end = moved.at if is_held else min(end, moved.at)
    if change is None or change.rule in _MOVES:
        return [replace(note, start_tick=start, ticks=end - start)]
    return [
        replace(note, start_tick=start, ticks=change.at - start, is_tied=False),
        replace(note, start_tick=change.at, ticks=end - change.at),
    ]


def _may_be_held(tune: SectionMelody, note: MelodyNote, after: MelodyNote) -> bool:
    """Whether a note may sound on until the next comes late: over no bar line, and into a chord that it belongs to or that is there already."""
    chord = tune.chord_at(after.start_tick)
    if tune.bar_of(note.start_tick) != tune.bar_of(after.start_tick):
        return False
    return chord == tune.chord_at(note.start_tick) or (chord is not None and _pc(note) in chord.pitch_classes)


def swung_notes(tune: SectionMelody, taken: Changes) -> list[MelodyNote]:
    """The melody with these changes, rests not among it."""
    return [piece for index in range(len(tune.notes)) for piece in struck(tune, taken, index)]
