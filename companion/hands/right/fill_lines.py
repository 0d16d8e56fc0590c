"""The notes of a fill, from its goal backwards; see fills.py."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from companion.hands.left.reason import ordinal, spoken
from companion.hands.right import fill_rules as rules
from companion.theory.chord import Chord
from companion.theory.chord_scales import chord_pitches, scale_pitches
from companion.theory.degrees import degree_in
from companion.theory.pitch import LETTERS, Pitch, Tone, degree_interval


@dataclass(frozen=True, slots=True)
class Goal:
    """Where a fill leads: tick and pitch, and the chord there. is_melody: whether it is the melody's next note, so no note of the fill."""

    tick: int
    pitch: Pitch
    chord: Chord
    is_melody: bool


@dataclass(frozen=True, slots=True)
class FillLine:
    """kind: one of fill_rules.KINDS. onsets, pitches: of what comes before the goal."""

    kind: str
    goal: Goal
    onsets: tuple[int, ...]
    pitches: tuple[Pitch, ...]
    why: str

    @property
    def rank(self) -> tuple[tuple[int, ...], tuple[int, ...], int]:
        """An order that needs no chance."""
        return self.onsets, tuple(pitch.midi for pitch in self.pitches), self.goal.pitch.midi


def lines(goal: Goal, onsets: tuple[int, ...], chords: Sequence[Chord]) -> Iterator[FillLine]:
    """Every line to the goal with these onsets. chords: that sound at them."""
    for pitches, way in _steps(goal, chords, scale_pitches):
        yield FillLine("run", goal, onsets, pitches, f"A run {way}{_from(pitches[0], chords[0])}{_to(goal)}")
    for last in scale_pitches(chords[-1], goal.pitch.midi - rules.STEP, goal.pitch.midi + rules.STEP):
        if last.midi != goal.pitch.midi and last.midi % 12 in chords[-1].pitch_classes:
            lead = Goal(goal.tick, last, chords[-1], is_melody=False)
            for before, way in _steps(lead, chords[:-1], chord_pitches):
                pitches = (*before, last)
                if len(pitches) >= rules.FEWEST:
                    yield FillLine("arpeggio", goal, onsets, pitches, f"An arpeggio {way} {_over(chords)}{_to(goal)}")
    for pitches in _around(goal, chords):
        yield FillLine("enclosure", goal, onsets, pitches, f"An enclosure, {_names(pitches[-2:])},{_to(goal)}")
    if len(set(chords)) == 1:
        for pitches in _blues(goal, chords[0], len(onsets)):
            blue = next((pitch for pitch in pitches if pitch.midi % 12 not in chords[0].pitch_classes), pitches[0])
            yield FillLine("blues", goal, onsets, pitches, f"A blues turn, by way of {spoken(blue.tone)}{_to(goal)}")


Pitches = Callable[[Chord, int, int], tuple[Pitch, ...]]


def _steps(goal: Goal, chords: Sequence[Chord], of: Pitches) -> Iterator[tuple[tuple[Pitch, ...], str]]:
    """Up and down to the goal, at each place the next tone of the chord there."""
    for way, up in (("up", True), ("down", False)):
        found: list[Pitch] = []
        at = goal.pitch.midi
        for chord in reversed(chords):
            tones = of(chord, at - 12, at - 1)[::-1] if up else of(chord, at + 1, at + 12)
            found.insert(0, tones[0])
            at = tones[0].midi
        if found:
            yield tuple(found), way


def _around(goal: Goal, chords: Sequence[Chord]) -> Iterator[tuple[Pitch, ...]]:
    """The scale's next tone above and the half step below, in either order; what comes before leads down, or up, to the first of them."""
    if len(chords) < rules.FEWEST:
        return
    key = goal.pitch.midi
    above = scale_pitches(chords[-1], key + 1, key + rules.STEP)[:1]
    if not above:
        return
    below = _half_step_below(goal.pitch)
    for pair in ((above[0], below), (below, above[0])):
        lead = Goal(goal.tick, pair[0], chords[-2], is_melody=False)
        for before, way in _steps(lead, chords[:-2], scale_pitches):
            if (way == "down") == (pair[0] is above[0]):
                yield (*before, *pair)


def _half_step_below(pitch: Pitch) -> Pitch:
    letter = LETTERS[(LETTERS.index(pitch.tone.letter) - 1) % 7]
    alter = (pitch.midi - 1 - Tone(letter).pc + 6) % 12 - 6
    return Tone(letter, alter).at_or_above(pitch.midi - 1).plain


def _blues(goal: Goal, chord: Chord, count: int) -> Iterator[tuple[Pitch, ...]]:
    """The figures that end on the goal and have so many notes before it, the longer ones cut at their beginning."""
    key = goal.pitch.midi
    for figure in rules.BLUES_MAJOR if "3" in chord.degrees else rules.BLUES_MINOR if "b3" in chord.degrees else ():
        if (key - chord.root.pc - figure[-1]) % 12 == 0 and len(figure) > count >= rules.FEWEST:
            root = key - figure[-1]
            yield tuple(_blue(chord, root + step) for step in figure[-1 - count : -1])


_BLUE = {0: "1", 2: "9", 3: "b3", 4: "3", 5: "4", 6: "b5", 7: "5", 9: "6", 10: "b7"}


def _blue(chord: Chord, midi: int) -> Pitch:
    return chord.root.degree(_BLUE[(midi - chord.root.pc) % 12]).at_or_above(midi).plain


# --- in words


def degree_words(pitch: Pitch, chord: Chord) -> str:
    """ "the flat ninth of G7"."""
    degree = degree_in(pitch.tone, chord)
    number, _ = degree_interval(degree)
    sign = {"b": "flat ", "#": "sharp "}.get(degree[0], "") if number in (5, 9, 11, 13) else ""
    return f"the {sign}{ordinal(number)} of {chord.symbol}"


def _from(pitch: Pitch, chord: Chord) -> str:
    return f" from {degree_words(pitch, chord)}"


def _to(goal: Goal) -> str:
    on = ", where the melody goes on." if goal.is_melody else "."
    return f" to {spoken(goal.pitch.tone)}, {degree_words(goal.pitch, goal.chord)}{on}"


def _over(chords: Sequence[Chord]) -> str:
    return " and ".join(dict.fromkeys(chord.symbol for chord in chords))


def _names(pitches: Sequence[Pitch]) -> str:
    return " and ".join(spoken(pitch.tone) for pitch in pitches)
