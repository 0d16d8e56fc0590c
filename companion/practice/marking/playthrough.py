"""From an aligned take to marked passes: which strike was due when, what was struck for it, and what the player did on the way:
waited, began again, left out.

A pass goes from the form's first stroke, or wherever the player came in, to its end, or wherever the player left off; what
lies before and after was not played and counts for nothing. What was played again counts as it was played last. Units: seconds
from the start of the file, pulses.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass

from companion.practice.marking.align import AlignStep
from companion.practice.marking.beat import LEAST_WAIT
from companion.practice.marking.expected import window_s
from companion.practice.marking.form import Form
from companion.practice.marking.marks import judge
from companion.practice.marking.matching import extra_keys, mark_strike, of_left_hand
from companion.practice.marking.take import Take
from companion.practice.marking.timing import own_spread_ms
from companion.practice.model import Expected, PassMarks, Press, StrikeMark
from companion.practice.reach import ROLL_S, left_hand_ceiling

# A pass that begins after so many silent bars begins another take.
SILENT_BARS = 2.0
# So many bars without a stroke are left out, even where the time went on; fewer are chords that are missing.
RESTED_BARS = 1.9


@dataclass(frozen=True, slots=True)
class Event:
    """What a player did besides playing on. kind: "waited", "began again" or "left out". time_s: of the stroke it is noticed at. index, chord: the bar in
    the chorus and the chord waited for, begun again from, or first left out. beats: of a wait; bars: how many bars were left
    out, not in whole ones where only a part was; alone: whether the other hand played on meanwhile."""

    kind: str
    time_s: float
    index: int
    chord: int
    beats: float = 0.0
    bars: float = 0.0
    alone: bool = False


@dataclass(frozen=True, slots=True)
class Pass:
    """take: which take of the file, from 1. start_s: when its first bar began. is_whole: whether it goes from the form's first chord
    to its last. absent: "left" or "right", a hand that was asked for and is not to be heard in it, which marks nothing; "" for none."""

    take: int
    start_s: float
    is_whole: bool
    marks: PassMarks
    events: tuple[Event, ...]
    absent: str = ""


@dataclass(slots=True)
class _Visit:
    """A stroke taken for a strike. number: of the step; stretch: of the beat."""

    number: int
    step: AlignStep
    pulse: float
    stretch: int


Clock = Callable[[float, int], float]  # pulse, stretch -> second


def passes_of(
    take: Take,
    clock: Clock | None = None,
    own_offset_ms: float | None = 0.0,
    not_its: Collection[tuple[float, int]] = (),
) -> tuple[Pass, ...]:
    """Every pass of the take, marked. clock: what the player was to keep to, None: the player's own beat. own_offset_ms: as in
    mark_pass. not_its: keys, second and note, that are known to be the other hand's."""
    form, beat = take.form, take.beat
    due = clock or (lambda pulse, stretch: beat.stretches[stretch].at(pulse))
    visits, stretch = [], -1
    breaks = set(beat.breaks)
    for number, step in enumerate(take.alignment.steps):
        stretch += number in breaks
        visits.append(_Visit(number, step, take.alignment.pulse(form, step), stretch))
    groups = _split(form, visits)
    pulses_a_bar = form.length / len(form.bar_pulses)
    keys = _Keys(take, not_its)
    draft: list[tuple[int, list[_Visit], list[StrikeMark], list[Press]]] = []
    number = 0
    for place, group in enumerate(groups):
        begins = due(group[0].pulse, group[0].stretch)
        beat_s = beat.stretches[group[0].stretch].beat_s
        if place and group[0].step.strike == 0:
            before = groups[place - 1][-1]
            silent = (begins - take.strokes[before.step.stroke].time_s) / (beat_s * pulses_a_bar)
            number += silent > SILENT_BARS
        follows = bool(place) and _goes_on(form, groups[place - 1][-1], group[0])
        goes_on = place + 1 < len(groups) and _goes_on(form, group[-1], groups[place + 1][0])
        marks, extra = _mark_group(take, group, clock, keys, follows, goes_on)
        draft.append((number + 1, group, marks, extra))
    _give_extra(draft, keys, take)
    spread_ms = own_spread_ms([mark for _, _, marks, _ in draft for mark in marks])
    passes = []
    for number, group, strike_marks, extra in draft:
        if len(draft) > 1 and group is groups[-1] and not group[0].step.jumped and _is_one_chord(form, group):
            continue  # the last chord, on the one after
        # Against a click a pass is judged by itself, as it is live.
        spread_here_ms = (own_spread_ms(strike_marks) if clock else 0.0) or spread_ms
        marked = judge(
            strike_marks, extra_keys([mark.expected for mark in strike_marks], extra), own_offset_ms, spread_here_ms
        )
        at = group[0]
        start = due(
            at.pulse - form.pulses[at.step.strike] + form.bar_pulses[form.strikes[at.step.strike].group.position],
            at.stretch,
        )
        ends = [(s.group.position, s.group.chord) for s in (form.strikes[0], form.strikes[-1])]
        is_whole = [
            (m.expected.group.position, m.expected.group.chord) for m in (strike_marks[0], strike_marks[-1])
        ] == ends
        passes.append(Pass(number, start, is_whole, marked, tuple(_events(take, visits, group))))
    return tuple(passes)


def _split(form: Form, visits: Sequence[_Visit]) -> list[list[_Visit]]:
    """A new pass begins where the form does, or where a jump goes back to its first bar."""
    groups: list[list[_Visit]] = []
    for visit in visits:
        before = groups[-1][-1] if groups else None
        opens = before is None or before.step.turn != visit.step.turn
        if before and visit.step.jumped and form.strikes[visit.step.strike].group.position == 0:
            opens = opens or form.strikes[before.step.strike].group.position > 3
        if opens:
            groups.append([])
        groups[-1].append(visit)
    return groups


def _goes_on(form: Form, before: _Visit, visit: _Visit) -> bool:
    """Whether a pass goes on from the one before it: what lies between was left out, not unplayed."""
    return not visit.step.jumped or (before.step.strike == len(form.strikes) - 1 and visit.step.strike != 0)


def _is_one_chord(form: Form, group: Sequence[_Visit]) -> bool:
    """Whether a single chord of a form that has more was played."""
    first, last = form.strikes[group[0].step.strike].group, form.strikes[group[-1].step.strike].group
    return first == last != form.strikes[-1].group


def _mark_group(
    take: Take, group: Sequence[_Visit], clock: Clock | None, keys: _Keys, follows: bool, goes_on: bool
) -> tuple[list[StrikeMark], list[Press]]:
    """The strikes of one pass, and the presses they leave over."""
    form, ceiling = take.form, left_hand_ceiling(take.arrangement.bars)
    latest = {visit.step.strike: visit for visit in group}
    first = 0 if follows else min(latest)
    last = len(form.strikes) - 1 if goes_on else max(latest)
    marks, extra = [], []
    near = latest[min(latest)]
    turn = near.step.turn
    for number in range(first, last + 1):
        strike = form.strikes[number]
        visit = latest.get(number)
        near = visit or near
        stretch = take.beat.stretches[near.stretch]
        beat_s = stretch.beat_s
        pulse = form.pulses[number] + turn * form.length
        if strike.free:
            due_s, spreads = _own_time_s(take, visit, strike.notes, stretch.at(pulse)), 1.0
        elif clock:
            due_s, spreads = clock(pulse, near.stretch), 1.0
        else:
            due_s, spreads = stretch.read(pulse, take.points[visit.number] if visit else None)
        wanted = Expected(
            strike.part,
            strike.group,
            strike.notes,
            due_s,
            strike.number,
            form.options_at(strike),
            beat_s,
            window_s(beat_s, strike.gap_s * beat_s),
            spreads,
            free=strike.free,
        )
        mark, over = mark_strike(wanted, of_left_hand(wanted, keys.of(visit.step.stroke) if visit else [], ceiling))
        extra += over
        marks.append(mark)
    return marks, extra


def _own_time_s(take: Take, visit: _Visit | None, notes: Sequence[int], usual_s: float) -> float:
    """When a strike came whose time is the player's own. usual_s: when it was due by the beat, for one that did not come."""
    return usual_s if visit is None else take.strokes[visit.step.stroke].time_for(notes)


class _Keys:
    """Which presses belong to which stroke: those gathered with it, but a key that its strike does not want and the strike
    beside it lacks, within a roll of that one, goes over to it."""

    def __init__(self, take: Take, not_its: Collection[tuple[float, int]]) -> None:
        self._presses = [
            [press for press in stroke.presses if (press.time_s, press.note) not in not_its] for stroke in take.strokes
        ]
        wanted: list[frozenset[int]] = [frozenset()] * len(take.strokes)
        for step in take.alignment.steps:
            wanted[step.stroke] = frozenset(take.form.strikes[step.strike].notes)
        self.spare = {number for number, notes in enumerate(wanted) if not notes}
        for number, notes in enumerate(wanted):
            for beside in (number - 1, number + 1):
                lacking = notes.difference(press.note for press in self._presses[number])
                if lacking and 0 <= beside < len(wanted):
                    self._move(beside, number, lacking - wanted[beside])

    def _move(self, giver: int, taker: int, notes: frozenset[int]) -> None:
        own = self._presses[taker]
        for press in list(self._presses[giver]):
            if press.note in notes and own and min(abs(press.time_s - other.time_s) for other in own) <= ROLL_S:
                self._presses[giver].remove(press)
                own.append(press)

    def of(self, stroke: int) -> list[Press]:
        return self._presses[stroke]


def _give_extra(
    draft: Sequence[tuple[int, list[_Visit], list[StrikeMark], list[Press]]], keys: _Keys, take: Take
) -> None:
    """Strokes that nothing was due for go to the pass they lie in; what lies before the first and after the last stroke of a take
    is no part of it."""
    ceiling = left_hand_ceiling(take.arrangement.bars)
    for number in sorted(keys.spare):
        stroke = take.strokes[number]
        for _, group, _marks, extra in draft:
            low = take.strokes[group[0].step.stroke].time_s
            high = take.strokes[group[-1].step.stroke].time_s
            if low < stroke.time_s < high:
                extra += [press for press in keys.of(number) if press.note <= ceiling]
                break


# --- what happened on the way


def _events(take: Take, visits: Sequence[_Visit], group: Sequence[_Visit]) -> list[Event]:
    form, strokes, beat = take.form, take.strokes, take.beat
    found = []
    for visit in group:
        if visit.number == 0:
            continue
        before = visits[visit.number - 1]
        strike = form.strikes[visit.step.strike]
        time_s = strokes[visit.step.stroke].time_s
        span_s = strokes[before.step.stroke].time_s, time_s
        jump = _jump(form, before, visit)
        if jump is not None and jump < 0.0:
            found.append(Event("began again", time_s, strike.group.index, strike.group.chord))
        elif strike.free:
            continue  # there the player takes time as he likes
        elif visit.stretch != before.stretch:
            old, new = beat.stretches[before.stretch], beat.stretches[visit.stretch]
            beats = (new.at(visit.pulse) - old.at(visit.pulse)) / new.beat_s
            skipped = visit.step.strike - (before.step.strike + 1) % len(form.strikes)
            first = form.strikes[(before.step.strike + 1) % len(form.strikes)]
            bars = (form.pulses[visit.step.strike] - first.due_s) * len(form.bar_pulses) / form.length
            if skipped > 0 and (beats < -0.5 or bars >= RESTED_BARS):
                alone = beats >= -0.5 and _is_alone(take, *span_s, bars)
                found.append(Event("left out", time_s, first.group.index, first.group.chord, bars=bars, alone=alone))
            elif (
                skipped == 0
                and beats < -0.5
                and strike.group.position > form.strikes[before.step.strike].group.position + 1
            ):
                silent = form.arrangement.bars[form.strikes[before.step.strike].group.position + 1]
                found.append(Event("left out", time_s, silent.index, 0, bars=-beats / silent.meter.pulses))
            elif visit.step.strike == 0 and beats > SILENT_BARS * form.length / len(form.bar_pulses):
                continue  # another take
            elif beats > LEAST_WAIT and jump is None:
                found.append(Event("waited", time_s, strike.group.index, strike.group.chord, beats=beats))
        elif jump is None:
            silent_bars = _silent_bars(form, before.step.strike, visit.step.strike)
            if silent_bars:
                bars = float(len(silent_bars))
                found.append(
                    Event("left out", time_s, silent_bars[0], 0, bars=bars, alone=_is_alone(take, *span_s, bars))
                )
    return found


def _is_alone(take: Take, from_s: float, until_s: float, bars: float) -> bool:
    """Whether the other hand struck in every bar of them and oftener."""
    return sum(from_s < at_s < until_s for at_s in take.other_hand_s) >= max(1.0, bars)


def _silent_bars(form: Form, before: int, strike: int) -> list[int]:
    """Indices in the chorus of the bars of which every strike was left out between two, though the time went on: of one bar only where
    that has several strikes, as a single one is a chord that is missing."""
    count = len(form.strikes)
    missed = Counter(form.strikes[(before + n) % count].group.position for n in range(1, (strike - before) % count))
    due = Counter(each.group.position for each in form.strikes if each.group.position in missed)
    silent = [position for position in missed if missed[position] == due[position]]
    if len(silent) == 1 and due[silent[0]] == 1:
        return []
    return [form.arrangement.bars[position].index for position in silent]


def _jump(form: Form, before: _Visit, visit: _Visit) -> float | None:
    """Pulses from where the player should have gone on to where he went; None without a jump."""
    if not visit.step.jumped:
        return None
    turns, wanted = divmod(before.step.strike + 1, len(form.strikes))
    turns += before.step.turn
    if (turns, wanted) == (visit.step.turn, visit.step.strike):
        return None
    return form.pulses[visit.step.strike] - form.pulses[wanted] + (visit.step.turn - turns) * form.length
