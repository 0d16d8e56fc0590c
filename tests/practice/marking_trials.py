"""Takes made up (takes.py), marked, and held against what was done in them. A smaller version of tests/bench/marking.py runs in the
suite (test_marking_take.py)."""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace

from practice.take_files import through_file
from practice.take_plans import HABITS, Recipe
from practice.takes import SONGS, Made, TrueChord, TrueEvent, make
from practice.tunes import SHELL_PATTERNS

from companion.practice.marking.playthrough import Event, Pass
from companion.practice.model import ChordMark
from companion.session.take_file import Recording
from companion.session.take_marks import MarkedTake, mark_recording, played_of

EVENT_NAMES = {"waited": "waited", "again": "began again", "left out": "left out"}
# A chord is the same as the true one where it is due this near; an event where it is noticed this near.
NEAR_CHORD_S, NEAR_EVENT_S = 1.5, 1.0

Way = Callable[[random.Random, str], Recipe]


def jitter(rng: random.Random) -> float:
    return rng.uniform(15.0, 30.0)


# Ways of playing: steady, as students do, and worse.
WAYS: dict[str, Way] = {
    "steady": lambda rng, p: Recipe(p, jitter_ms=jitter(rng)),
    "tempo wanders by 1 %": lambda rng, p: Recipe(
        p, jitter_ms=jitter(rng), wander=0.01, wander_beats=rng.uniform(40, 128)
    ),
    "tempo wanders by 2 %": lambda rng, p: Recipe(
        p, jitter_ms=jitter(rng), wander=0.02, wander_beats=rng.uniform(40, 128)
    ),
    "tempo wanders by 4 %": lambda rng, p: Recipe(
        p, jitter_ms=jitter(rng), wander=0.04, wander_beats=rng.uniform(40, 128)
    ),
    "one wait": lambda rng, p: Recipe(p, jitter_ms=jitter(rng), waits=1),
    "three waits": lambda rng, p: Recipe(p, jitter_ms=jitter(rng), waits=3),
    "1 % wander, two waits, melody": lambda rng, p: Recipe(
        p, jitter_ms=jitter(rng), wander=0.01, wander_beats=rng.uniform(40, 128), waits=2, melody=rng.random() < 0.5
    ),
    "two restarts, one skip": lambda rng, p: Recipe(p, jitter_ms=jitter(rng), restarts=2, skips=1),
    "rolled by 120 ms": lambda rng, p: Recipe(p, jitter_ms=jitter(rng), roll_ms=120.0),
    "pushes, smashes, a restart": lambda rng, p: Recipe(
        p, jitter_ms=jitter(rng), pushes=3, smashes=1, restarts=1, waits=1, wander=0.02, melody=rng.random() < 0.5
    ),
    "another key or octave": lambda rng, p: Recipe(
        p, jitter_ms=jitter(rng), transpose=rng.choice((-12, -5, -2, 1, 3, 5, 12))
    ),
    "right hand alone for a while": lambda rng, p: Recipe(
        p, jitter_ms=jitter(rng), melody=True, silent_bars=rng.choice((3, 4, 6))
    ),
    "through files of any kind": lambda rng, p: Recipe(
        p,
        jitter_ms=jitter(rng),
        wander=0.02,
        waits=1,
        melody=rng.random() < 0.5,
        click_ms=rng.choice((None, None, 0.0)),
        file=True,
    ),
    "in parts": lambda rng, p: Recipe(
        p,
        choruses=3,
        jitter_ms=jitter(rng),
        start_bar=rng.choice((0, 3, 5, 8)),
        stop_bars=rng.choice((0, 4, 9)),
        rest_after=rng.choice((None, 1)),
        takes=rng.choice((1, 2)),
    ),
}


@dataclass(slots=True)
class Tally:
    """clean: chords played right, false: those marked as not; slips, found: likewise. events, named: what happened besides, and how
    much of that was named at its place; invented: events that were not. wrong_pattern, lost: takes. faults: of what went wrong."""

    takes: int = 0
    clean: int = 0
    false: int = 0
    slips: int = 0
    found: int = 0
    events: int = 0
    named: int = 0
    invented: int = 0
    wrong_pattern: int = 0
    lost: int = 0
    faults: list[str] = field(default_factory=list)

    @property
    def false_share(self) -> float:
        return self.false / max(1, self.clean)

    @property
    def found_share(self) -> float:
        return self.found / max(1, self.slips)

    @property
    def true_share(self) -> float:
        """Of what is reported, how much is true."""
        return self.found / max(1, self.found + self.false)

    @property
    def named_share(self) -> float:
        return self.named / max(1, self.events)


def mark(made: Made) -> MarkedTake | None:
    if made.recipe.file:
        return mark_recording(made.stand, through_file(made.presses, made.clicks, random.Random(len(made.presses))))
    return mark_recording(made.stand, Recording(tuple(made.presses), tuple(made.clicks)))


def trial(way: Way, seeds: Iterable[int], patterns: Sequence[str] = SHELL_PATTERNS) -> Tally:
    """A take for every seed, of any song in any of these patterns."""
    tally = Tally()
    for seed in seeds:
        rng = random.Random(seed)
        song, pattern = rng.choice(SONGS), rng.choice(patterns)
        made = make(song, way(rng, pattern), seed)
        marked = mark(made)
        tally.takes += 1
        if marked is None:
            tally.lost += 1
            continue
        tally.wrong_pattern += marked.take.arrangement.pattern != pattern
        count_chords(tally, made, marked.passes, f"{seed} {song} {pattern}")
        count_events(
            tally, made, [event for each in marked.passes for event in each.events], f"{seed} {song} {pattern}"
        )
    return tally


def count_chords(tally: Tally, made: Made, passes: Sequence[Pass], name: str) -> None:
    told = defaultdict(list)
    for each in passes:
        for chord in each.marks.chords:
            told[chord.index, chord.chord].append(chord)
    everything = [chord for each in passes for chord in each.marks.chords]
    for true in made.chords:
        if not true.counted:
            continue
        near = [c for c in told[true.index, true.chord] if abs(c.strikes[0].expected.due_s - true.due_s) < NEAR_CHORD_S]
        # Which of two equal bars side by side was left out, or played again, nobody can tell: what was played right there and then is right.
        alike = [c for c in everything if _alike(made, c, true)]
        near = ([c for c in alike if c.verdict == "right"] if not true.slip else []) or near or alike
        verdict = near[0].verdict if near else "not marked"
        _count(tally, true, verdict, name)


def _alike(made: Made, mark: ChordMark, true: TrueChord) -> bool:
    shells = [
        made.stand.choices_at(index)[chord][1].shell
        for index, chord in ((mark.index, mark.chord), (true.index, true.chord))
    ]
    return shells[0] == shells[1] and abs(mark.strikes[0].expected.due_s - true.due_s) < 0.3


def _count(tally: Tally, true: TrueChord, verdict: str, name: str) -> None:
    if true.slip:
        tally.slips += 1
        tally.found += verdict != "right"
    else:
        tally.clean += 1
        tally.false += verdict != "right"
    if bool(true.slip) == (verdict == "right"):
        tally.faults.append(f"{name}: {true.symbol} at {true.due_s:.1f} s is {true.slip or 'clean'}, told {verdict}")


def count_events(tally: Tally, made: Made, told: Sequence[Event], name: str) -> None:
    used: set[int] = set()
    for true in made.events:
        tally.events += 1
        for place, event in enumerate(told):
            same = event.kind == EVENT_NAMES[true.kind] and _same_place(made, event.index, true)
            same = same and event.alone == (true.bars > 0 and made.recipe.silent_bars > 0)
            if same and place not in used and abs(event.time_s - true.time_s) < (12.0 if true.bars else NEAR_EVENT_S):
                used.add(place)
                tally.named += 1
                break
        else:
            tally.faults.append(f"{name}: {true.kind} at {true.time_s:.1f} s, bar {true.index + 1}, is not told")
    tally.invented += len(told) - len(used)


def _same_place(made: Made, told: int, true: TrueEvent) -> bool:
    """The same bar, or one that nobody can tell from it: of a row of equal bars; bars left out that leave the same ones."""
    bars = [tuple(choice.shell for _, choice in made.stand.choices_at(index)) for index in made.stand.loop]
    low, high = sorted((told, true.index))
    if true.bars:
        return bars[:told] + bars[told + true.bars :] == bars[: true.index] + bars[true.index + true.bars :]
    return len(set(bars[low : high + 1])) == 1


# --- habits

# The patterns a habit can be heard in at all: where all strikes are changes, no repeat is steady.
HABIT_PATTERNS = {
    "changes late": ("four", "two", "charleston"),
    "beat late": ("four",),
    "pushes": ("four", "two", "whole"),
}


def habit_take(habit: str, seed: int) -> Made:
    """A take of four choruses with that habit, and a few slips or none."""
    rng = random.Random(7 * seed + 1)
    while True:
        song = rng.choice(SONGS)
        pattern = rng.choice(HABIT_PATTERNS.get(habit, SHELL_PATTERNS))
        recipe = Recipe(pattern, choruses=4, jitter_ms=jitter(rng), slips=rng.choice((0, 0, 3, 6)), habit=habit)
        made = make(song, recipe, seed)
        fits = {
            "beat late": made.arrangement.bars[0].meter.pulses >= 4,
            "rushes a section": bool(made.fast_section),
        }
        if fits.get(habit, True):
            return made


def habits_told(made: Made) -> list[str]:
    """The kinds of what the teacher says."""
    from companion.practice.marking.habits import habits_of
    from companion.practice.marking.teacher import MOST_SENTENCES

    marked = mark(made)
    if marked is None:
        return []
    played = played_of(marked.stand, marked.take, marked.passes)
    return [habit.kind for habit in habits_of(played)][:MOST_SENTENCES]


def with_choruses(way: Way, choruses: int, **fields: object) -> Way:
    return lambda rng, pattern: replace(way(rng, pattern), choruses=choruses, **fields)


__all__ = ["HABITS", "WAYS", "Tally", "habit_take", "habits_told", "mark", "trial", "with_choruses"]
