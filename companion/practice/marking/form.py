"""The loop as a player goes through it: its expected strokes in pulses, where bars and sections begin, and how well a
stroke of the hand fits each of them by its notes alone.

Units: pulses from the start of the loop, where it slows down pulses of the tempo before; MIDI notes. Scores are in the units of align.py, where a whole right stroke is 3.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from companion.groove.model import Arrangement
from companion.groove.swing import played_ratio
from companion.practice.marking.expected import (
    ShellOptions,
    TimedStrike,
    other_strikes,
    seconds_into,
    steady_starts,
    strikes,
)
from companion.practice.reach import NEIGHBOUR_SEMITONES

WHOLE_STROKE = 3.0
# What a note is worth that came for an expected one (our own choice; only their order matters).
_RIGHT, _OCTAVE, _OTHER_SHELL, _NEIGHBOUR, _ABSENT, _STRANGER = 1.0, 0.5, 0.4, 0.2, 0.0, -0.5
_EXTRA_KEY, _MOST_EXTRA = 0.1, 0.4


@dataclass(frozen=True, slots=True)
class Form:
    """strikes: of one time through, their due_s in pulses. bar_pulses: where each bar of the loop begins; length: pulses of
    the whole. opens: for each strike 2 where it is the first of a section, 1 of a bar, else 0. options: the other legal
    shells of a chord."""

    arrangement: Arrangement
    strikes: tuple[TimedStrike, ...]
    pulses: tuple[float, ...]
    bar_pulses: tuple[float, ...]
    length: float
    opens: tuple[int, ...]
    options: ShellOptions

    @classmethod
    def of(
        cls,
        arrangement: Arrangement,
        tempo_bpm: float,
        sections: Collection[int] = (),
        options: ShellOptions | None = None,
    ) -> Form:
        """The swing is that of tempo_bpm. sections: positions in the loop of the bars that begin a section."""
        ratio = played_ratio(arrangement.feel, arrangement.swing_ratio, tempo_bpm)
        bars = steady_starts(arrangement, 0.0, 60.0)
        laid = tuple(strikes(replace(arrangement, swing_ratio=ratio), bars))
        starts = tuple(bar.start_s for bar in bars)
        last = arrangement.bars[-1]
        end = starts[-1] + seconds_into(last, last.meter.bar_ticks, 60.0)
        opens = []
        for number, strike in enumerate(laid):
            first = number == 0 or laid[number - 1].group.position != strike.group.position
            opens.append(0 if not first else 2 if number == 0 or strike.group.position in sections else 1)
        return cls(arrangement, laid, tuple(strike.due_s for strike in laid), starts, end, tuple(opens), options or {})

    def options_at(self, strike: TimedStrike) -> tuple[tuple[int, ...], ...]:
        """What it would be with the other legal shells of its chord."""
        return other_strikes(self.arrangement, strike, self.options)


class NoteScores:
    """How well each set of notes fits each expected stroke. Sets that come again are looked up."""

    def __init__(self, form: Form) -> None:
        kinds: dict[tuple[tuple[int, ...], frozenset[int]], int] = {}
        self._kind_of = [
            kinds.setdefault(
                (tuple(strike.notes), frozenset(note for shell in form.options_at(strike) for note in shell)),
                len(kinds),
            )
            for strike in form.strikes
        ]
        self._kinds = list(kinds)
        self._known: dict[frozenset[int], tuple[list[float], list[int]]] = {}

    def of(self, notes: frozenset[int]) -> tuple[list[float], list[int]]:
        """The score for every strike of the form, and the strikes of which half or more is right."""
        known = self._known.get(notes)
        if known is None:
            worth = [_note_score(notes, wanted, others) for wanted, others in self._kinds]
            scores = [worth[kind] for kind in self._kind_of]
            likely = [number for number, score in enumerate(scores) if score >= WHOLE_STROKE * 0.45]
            known = self._known[notes] = scores, likely
        return known


def _note_score(notes: frozenset[int], wanted: tuple[int, ...], others: frozenset[int]) -> float:
    open_notes = [note for note in wanted if note not in notes]
    strangers = notes.difference(wanted)
    total = _RIGHT * (len(wanted) - len(open_notes))
    for note in open_notes:
        if not strangers:
            total += _ABSENT
            continue
        value, stranger = max(
            (_stranger_value(stranger, note, others), -abs(stranger - note), stranger) for stranger in strangers
        )[::2]
        total += value
        strangers = strangers - {stranger}
    return WHOLE_STROKE * total / len(wanted) - min(_MOST_EXTRA, _EXTRA_KEY * len(strangers))


def _stranger_value(note: int, instead_of: int, others: frozenset[int]) -> float:
    if (note - instead_of) % 12 == 0:
        return _OCTAVE
    if note in others:
        return _OTHER_SHELL
    return _NEIGHBOUR if abs(note - instead_of) <= NEIGHBOUR_SEMITONES else _STRANGER


def shells_of(form: Form) -> Mapping[frozenset[int], int]:
    """Each shell of the form, and how often it is struck."""
    counts: dict[frozenset[int], int] = {}
    for strike in form.strikes:
        counts[frozenset(strike.notes)] = counts.get(frozenset(strike.notes), 0) + 1
    return counts
