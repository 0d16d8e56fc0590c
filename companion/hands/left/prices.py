"""The objective: what a chorus costs, by a table of prices that can be checked by hand.

A chorus is a ring: the way from its last chord back to its first counts too, and N.C. is passed over. Every semitone
that either note travels counts 1. The ear follows the upper note, so three things cost more than their semitones:

| price | points | due where |
|---|---|---|
| guide line | 4 | the root falls a fifth (five semitones up or seven down), neither chord has a slash, each has a seventh or is a sixth chord, and the upper notes are not one third (fourth in a sus chord) and one seventh (sixth in a sixth chord) |
| same keys | 4 | the root stays, the chord's third, fifth, sixth or seventh changes, and both keys stay the same |
| low leap | 6 | the lower note moves eight semitones or more though the chart's bass (slash bass or root) moves one or two by the nearest way |
| phrase | 4 | a phrase that comes again is not played as it mostly is, its first and last chord aside (phrases.py) |

A root-fifth that was chosen (by a pin, or to rest on) ends the line: to and from it only the lower note counts, and
neither guide line nor same keys is due. A root-fifth that nobody chose pays like any shell.

Among choruses of equal cost: fewer phrases that differ, then third and seventh taking turns more often, then nearer the
middle of the range, then the first in the list of options, so that the answer is the same every day.

Why: on falling fifths the seventh falls a step to the next third and the third stays as the next seventh, so the
upper note sings a line (common practice; "Jazz Tip 25" of a regional jazz magazine, on shells). The figures were set by
trial so that every line that teachers write comes out (tests/hands/test_lines.py).
"""

from __future__ import annotations

from dataclasses import dataclass

from companion.hands.left.model import Bill, Shell
from companion.theory.chord import Chord

GUIDE_LINE = 4
SAME_KEYS = 4
LOW_LEAP, LEAP_FROM = 6, 8  # points; semitones
PHRASE = 4

_COLOURS = (3, 5, 6, 7)  # degrees whose change is a change of the chord; ninths and higher are none


@dataclass(frozen=True, slots=True, eq=False)
class Menu:
    """What may be played for a chord. number: equal menus are one object with one number. shells: the legal ones in a
    fixed order. rests: whether they are root-fifths that were chosen. turns: for each shell 1 where its upper note is
    the guide line's third, -1 where its seventh, else 0. off_middle: how far each lies from the middle of the hand's
    range, in half semitones."""

    number: int
    chord: Chord
    shells: tuple[Shell, ...]
    rests: bool
    turns: tuple[int, ...]
    off_middle: tuple[int, ...]


def turn_of(chord: Chord, shell: Shell) -> int:
    """1 where the upper note is the chord's third in the guide line (fourth in a sus chord), -1 its seventh (sixth in a
    sixth chord), 0 another."""
    if shell.top == "third" or (shell.top == "fourth" and chord.family == "sus"):
        return 1
    return -(shell.top == "seventh" or (shell.top == "sixth" and chord.family == "sixth"))


@dataclass(frozen=True, slots=True)
class Change:
    """What two chords in a row mean for the prices, whatever their shells. sings: neither is a chosen root-fifth.
    falls: the guide line is asked for. colours: the root stays under a changed chord. steps: the bass moves by step."""

    sings: bool
    falls: bool
    colours: bool
    steps: bool

    @classmethod
    def between(cls, before: Menu, after: Menu) -> Change:
        """From one chord to the next."""
        old, new = before.chord, after.chord
        sings = not (before.rests or after.rests)
        falls = (new.root.pc - old.root.pc) % 12 == 5 and _leads(old) and _leads(new)
        colours = old.root.pc == new.root.pc and any(old.degree(n) != new.degree(n) for n in _COLOURS)
        bass = ((new.bass or new.root).pc - (old.bass or old.root).pc) % 12
        return cls(sings, sings and falls, sings and colours, bass in (1, 2, 10, 11))


def _leads(chord: Chord) -> bool:
    return chord.bass is None and (chord.degree(7) is not None or chord.family == "sixth")


def bill(change: Change, left: Shell, right: Shell, turns: tuple[int, int]) -> Bill:
    """What the way from one shell to the next costs. turns: of both, by `turn_of`."""
    (lower, upper), (next_lower, next_upper) = left.midi, right.midi
    travelled = abs(lower - next_lower)
    return Bill(
        lower=travelled,
        upper=abs(upper - next_upper) if change.sings else 0,
        guide_line=GUIDE_LINE if change.falls and turns[0] * turns[1] >= 0 else 0,
        same_keys=SAME_KEYS if change.colours and left.midi == right.midi else 0,
        low_leap=LOW_LEAP if change.steps and travelled >= LEAP_FROM else 0,
    )


@dataclass(frozen=True, slots=True)
class Weights:
    """What one breach of each rule counts in a chorus of some length, in one sum: more than all breaches of the weaker
    rules together."""

    turns: int
    phrases: int
    cost: int

    @classmethod
    def for_length(cls, count: int) -> Weights:
        """count: chords that sound."""
        turns = count * 256 + 1  # two of the piano's 88 keys lie less than 256 half semitones from any middle
        phrases = turns * (count + 1)
        return cls(turns, phrases, phrases * (count + 1))


Table = list[list[int]]


def table(left: Menu, right: Menu, weights: Weights) -> Table:
    """table[a][b]: what it counts to go from shell a of the left menu to shell b of the right one, and to be there."""
    change = Change.between(left, right)
    arrivals = list(zip((shell.midi for shell in right.shells), right.turns, right.off_middle, strict=True))
    found = []
    for shell, turn in zip(
        left.shells, left.turns, strict=True
    ):  # as `bill`, without making bills: this is most of the time
        lower, upper = shell.midi
        row = []
        for (to_lower, to_upper), to_turn, off_middle in arrivals:
            travelled = cost = abs(lower - to_lower)
            if change.sings:
                cost += abs(upper - to_upper)
            alternate = turn * to_turn < 0
            if change.falls and not alternate:
                cost += GUIDE_LINE
            if change.colours and lower == to_lower and upper == to_upper:
                cost += SAME_KEYS
            if change.steps and travelled >= LEAP_FROM:
                cost += LOW_LEAP
            row.append(cost * weights.cost + (0 if alternate else weights.turns) + off_middle)
        found.append(row)
    return found
