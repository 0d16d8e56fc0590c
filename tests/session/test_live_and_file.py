"""The same performance played to the app and read from a file with its click in it: every chord has the same verdict, reason, figure and sign,
pass by pass.

What must differ, and does not come into question here: a file is marked when all of it is known. Where a player stops the clock goes on live, so that
what follows is late or missing there, while a file holds the player against the click anew after a wait (Recipe.waits). Before the first and
after the last stroke of a file nothing was played; live it is missing. Where the first stroke of a file is a push, nothing before it tells the file which click it leads to. A single shell an octave too high amid a melody lies among the other
hand's keys, which a file tells apart by their height alone. Early and late are told by the player's own way and spread, which are known
from eight strikes on and to the full when the pass is over: until then such a sign may change, others may not.
"""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from practice.take_plans import Recipe
from practice.takes import SONGS, make, stand_of
from session.live_takes import Played

from companion.practice.marking.timing import WHOLE
from companion.practice.model import Press
from companion.session.take_file import Recording
from companion.session.take_marks import mark_recording

PATTERNS = ("four", "two", "whole", "charleston", "late-charleston")
WAYS = {
    "slips": {"slips": 8},
    "pushes": {"slips": 0, "pushes": 5},
    "rolls": {"slips": 3, "roll_ms": 120.0},
    "melody": {"slips": 3, "melody": True},
    "smashes": {"slips": 2, "smashes": 2},
    "stray keys": {"slips": 3},
    "first chord pushed": {"slips": 0},
    "wide": {"slips": 2, "pushes": 2, "jitter_ms": 28.0},
}
SEEDS = range(5)
SHORTEST_OF = 3
FIGURE_MS = 4.0


def performance(way, seed):
    """(take, tempo) of two choruses to a click."""
    rng = random.Random(seed)
    song, pattern = rng.choice(SONGS), PATTERNS[seed % len(PATTERNS)]
    tempo_bpm = round(stand_of(song, pattern).tempo_bpm * rng.uniform(0.6, 1.0))
    recipe = Recipe(pattern, click_ms=0.0, tempo=tempo_bpm, **WAYS[way])
    if recipe.roll_ms and "charleston" in pattern:  # no roll reaches past half the way to the next strike
        recipe = replace(recipe, roll_ms=60.0)
    made = make(song, recipe, seed)
    made.clicks.sort()
    beat_s = 60.0 / tempo_bpm
    if way == "stray keys":
        times = [press.time_s for press in made.presses]
        free = [at_s for at_s in times if not any(0.1 < other_s - at_s < 0.6 * beat_s for other_s in times)]
        made.presses += [Press(at_s + 0.3 * beat_s, 28, 50) for at_s in free[::17]]
    if way == "first chord pushed":
        line_s = made.clicks[len(made.clicks) // 2]  # of the second pass
        made.presses = [
            Press(press.time_s - 0.5 * beat_s * (abs(press.time_s - line_s) < 0.1), press.note, press.velocity)
            for press in made.presses
        ]
    made.presses.sort(key=lambda press: press.time_s)
    return made, tempo_bpm


@pytest.mark.parametrize("way", WAYS)
def test_live_and_file_say_the_same(way, deep) -> None:
    """Every second take with a keyboard that is late. The shortest of three in one of the patterns, all patterns by `--deep`."""
    compared = pushes = 0
    turn = list(WAYS).index(way) % len(PATTERNS)
    alike = range(turn, SHORTEST_OF * len(PATTERNS), len(PATTERNS))
    for seed in SEEDS if deep else [min(alike, key=lambda seed: len(performance(way, seed)[0].presses))]:
        latency_ms = 60.0 * (seed % 2)
        made, tempo_bpm = performance(way, seed)
        live = Played(made, tempo_bpm, latency_ms, always_looks=deep)
        marked = mark_recording(made.stand, Recording(tuple(made.presses), tuple(made.clicks)), made.recipe.pattern)
        assert marked is not None and len(live.passes) == len(marked.passes) == 2
        truth = {(chord.visit, chord.index, chord.chord): chord.slip for chord in made.chords}
        for number, (heard, read) in enumerate(zip(live.passes, marked.passes)):
            in_file = {(chord.index, chord.chord): chord for chord in read.marks.chords}
            for chord in heard.chords:
                where = (seed, number, chord.index, chord.chord)
                other = in_file.get((chord.index, chord.chord))
                if other is None:
                    assert chord.verdict == "missing", where
                    continue
                if way == "melody" and truth[number, chord.index, chord.chord] == "octave":
                    continue
                assert (chord.verdict, chord.reason) == (other.verdict, other.reason), where
                assert (chord.offset_ms is None) == (other.offset_ms is None), where
                if chord.offset_ms is not None:
                    assert chord.offset_ms == pytest.approx(other.offset_ms, abs=FIGURE_MS), where
                compared += 1
                pushes += chord.reason == "push"
            _signs_hold(live.during[number], heard)
            # Before the first stroke of a file and after its last nothing is counted.
            first_s, last_s = made.presses[0].time_s, made.presses[-1].time_s
            counted = [
                sorted(
                    (round(key.time_s - shift_s, 3), key.note)
                    for key in marks.extra
                    if first_s < key.time_s - shift_s < last_s
                )
                for marks, shift_s in ((heard, 0.0), (read.marks, 0.0))
            ]
            assert counted[0] == counted[1], (seed, number)
    assert compared > (80 if deep else 20)
    assert pushes >= {"pushes": 4, "first chord pushed": 1}.get(way, 0)


def _signs_hold(during, end) -> None:
    """What stood on the screen while the pass was played is what is told at its end, but for early and late."""
    told = {(chord.index, chord.chord): chord.verdict for chord in end.chords}
    for marks in during:
        for chord in marks.chords:
            last = told[chord.index, chord.chord]
            assert chord.verdict == last or {chord.verdict, last} <= set(WHOLE)


@pytest.mark.parametrize(("habit", "words"), [("short", "strikes last"), ("", "")])
def test_short_strikes_are_told_of_passes_as_of_takes(habit, words) -> None:
    made = make(SONGS[0], Recipe("two", choruses=3, slips=0, habit=habit, click_ms=0.0, tempo=90), 3)
    live = Played(made, 90.0)
    marked = mark_recording(made.stand, Recording(tuple(made.presses), tuple(sorted(made.clicks))), "two")
    assert marked is not None
    for says in (live.says[-1], marked.says):
        assert any("strikes last" in sentence for sentence in says) == bool(words), says
