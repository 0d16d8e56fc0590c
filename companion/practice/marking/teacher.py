"""What a teacher would say after a pass or a take: at most three sentences, the most useful first, each with where and how much,
and what to do about it in the companion's own drills. Silent where there is nothing to say (see habits.py)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from companion.practice.marking.habits import Habit, Played, habits_of
from companion.practice.model import PassMarks

MOST_SENTENCES = 3


@dataclass(frozen=True, slots=True)
class ChartWords:
    """The chart's words. symbols: (index in the chorus, chord) -> its symbol, in order; places: index -> "A bar 3". by_bars: no chord is
    named, for a student who plays from memory."""

    symbols: Mapping[tuple[int, int], str]
    places: Mapping[int, str]
    by_bars: bool = False

    def change(self, where: tuple[int, int]) -> str:
        """ "E7 to A7 (B bar 4)"; the first chord of the form is come to from its last. By bars "the change in B bar 4"."""
        if self.by_bars:
            return f"the change {'in' if where[1] else 'into'} {self.places[where[0]]}"
        order = list(self.symbols)
        before = self.symbols[order[order.index(where) - 1]]
        return f"{before} to {self.symbols[where]} ({self.places[where[0]]})"


def what_a_teacher_would_say(played: Played, page: ChartWords) -> tuple[str, ...]:
    """The sentences; none where there is no habit."""
    return tuple(sentence(habit, page) for habit in habits_of(played)[:MOST_SENTENCES])


def why_not_clean(marks: PassMarks, hand: str = "") -> str:
    """Why a pass is not clean, whatever its chords, so that a drill takes it for a bad one: more than one strike in four disturbed. hand: whose strikes
    they are, named where both play. "" where that is not so."""
    if not marks.is_disturbed:
        return ""
    strikes = sum(len(chord.strikes) for chord in marks.chords)
    return (
        f"Not a clean pass: {marks.disturbed_strikes} of {strikes} strikes{f' of the {hand} hand' if hand else ''} had a wrong, missing or further key, "
        "more than one in four."
    )


def sentence(habit: Habit, page: ChartWords) -> str:
    """A habit in a sentence: what, where, how much, and what to do about it."""
    words = _WORDS[habit.kind](habit, page)
    return words[:1].upper() + words[1:]


def _tempo(habit: Habit) -> str:
    return f"from {habit.between[0]:.0f} to {habit.between[1]:.0f} beats a minute"


_NOTES = ("lower", "upper")
_ORDINALS = {1: "first", 2: "second", 3: "third", 4: "fourth", 5: "fifth", 6: "sixth", 7: "seventh"}


def _note(habit: Habit) -> str:
    return _NOTES[habit.note]


def _beat(habit: Habit) -> str:
    return f"The {_ORDINALS.get(round(habit.beat), f'{habit.beat:g}th')} beat of the bar"


def _beats(beats: float) -> str:
    return f"{beats:.1f} beats" if beats >= 1.05 else f"{beats:.1f} of a beat"


_WORDS: dict[str, Callable[[Habit, ChartWords], str]] = {
    "waits at a change": lambda h, p: (
        f"You wait {_beats(h.amount)} at {p.change(h.where or (0, 0))}, {h.of[0]} times of {h.of[1]}: loop that change alone, slower."
    ),
    "slips at a change": lambda h, p: (
        f"{p.change(h.where or (0, 0))} slips {h.of[0]} times of {h.of[1]}: loop that change alone, one strike to the bar."
    ),
    "rushes": lambda h, p: f"You rush over the take, {_tempo(h)}: put the click on 2 and 4 and keep to it.",
    "drags": lambda h, p: f"You drag over the take, {_tempo(h)}: start slower, with the click on every beat.",
    "rushes each chorus": lambda h, p: f"You rush within each chorus, {_tempo(h)}: put the click on 2 and 4.",
    "drags each chorus": lambda h, p: (
        f"You drag within each chorus, {_tempo(h)}: start slower, with the click on every beat."
    ),
    "rushes a section": lambda h, p: (
        f"You rush in {h.section}, {_tempo(h)}: loop {h.section} with the click on 2 and 4."
    ),
    "drags a section": lambda h, p: (
        f"You drag in {h.section}, {_tempo(h)}: loop {h.section} slower, with the click on every beat."
    ),
    "changes late": lambda h, p: (
        f"Your changes come {h.amount:.0f} ms after your repeats: play two to the bar, and look one chord ahead."
    ),
    "changes early": lambda h, p: (
        f"Your changes come {h.amount:.0f} ms before your repeats: let each chord last to the bar line."
    ),
    "beat late": lambda h, p: f"{_beat(h)} is {h.amount:.0f} ms late throughout: put the click on 2 and 4.",
    "beat early": lambda h, p: f"{_beat(h)} is {h.amount:.0f} ms early throughout: put the click on 2 and 4.",
    "pushes": lambda h, p: (
        f"You push: {h.of[0]} of {h.of[1]} changes come {_beats(h.amount)} early; play whole notes with the click until they sit."
    ),
    "later note": lambda h, p: (
        f"The {_note(h)} note of your shells comes {h.amount:.0f} ms after the other: play slower, both keys from the surface."
    ),
    "weak note": lambda h, p: (
        f"The {_note(h)} note of your shells is softer than the other, by {h.amount:.0f} of 127: play slower and lean on it."
    ),
    "short": lambda h, p: (
        f"Your strikes last {100 * h.amount:.0f} % of their length: play whole notes and hold each to the next."
    ),
    "long": lambda h, p: f"Your strikes last {100 * h.amount:.0f} % of their length: lift before the next one.",
    "uneven": lambda h, p: (
        f"Your strikes spread by {h.amount:.0f} ms about the beat: play slower, with the click on every beat."
    ),
    "better": lambda h, p: (
        f"It gets better from chorus to chorus, from {100 * h.between[0]:.0f} to {100 * h.between[1]:.0f} % right: go on at this tempo."
    ),
    "worse": lambda h, p: (
        f"It gets worse from chorus to chorus, from {100 * h.between[0]:.0f} to {100 * h.between[1]:.0f} % right: "
        "rest a moment, then slower."
    ),
}
