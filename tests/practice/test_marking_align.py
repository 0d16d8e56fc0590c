"""The alignment held against a reckoning of its published prices that knows nothing of how it searches (path_cost.py)."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from practice.marking_trials import WAYS, mark
from practice.path_cost import PathCost, true_steps
from practice.take_plans import Recipe
from practice.takes import SONGS, make
from practice.tunes import SHELL_PATTERNS
from shipped import spread

from companion.practice.marking.align import align
from companion.practice.marking.form import NoteScores
from companion.session.take_file import Recording
from companion.session.take_marks import mark_recording


@pytest.mark.parametrize("seed", spread(range(8), 6))
def test_no_other_way_through_the_form_is_better(seed: int):
    """Not what was truly played, nor what differs from the way found in a stroke or in all of them from one on."""
    rng = random.Random(seed)
    way = list(WAYS.values())[rng.choice([5, 7])]
    made = make(rng.choice(SONGS), way(rng, rng.choice(SHELL_PATTERNS)), seed)
    marked = mark(made)
    assert marked
    form, strokes = marked.take.form, marked.take.strokes
    beats_s = [marked.beat_s] * len(strokes)
    scores = NoteScores(form)
    found = align(form, scores, strokes, beats_s)
    reckoned = PathCost(form, scores, strokes, beats_s)
    steps = [(step.stroke, step.strike) for step in found.steps]
    assert reckoned.score(steps) == pytest.approx(found.score, abs=1e-6)
    others = [[step[:2] for step in true_steps(made, marked)]]
    count = len(form.strikes)
    for _ in range(60):
        place, by = rng.randrange(1, len(steps) - 1), rng.choice([-8, -4, -2, -1, 1, 2, 4, 8])
        moved = [(stroke, (strike + by) % count) for stroke, strike in steps]
        others += [
            steps[:place] + steps[place + 1 :],
            [*steps[:place], moved[place], *steps[place + 1 :]],
            steps[:place] + moved[place:],
        ]
    assert max(map(reckoned.score, others)) <= found.score + 1e-6


@pytest.mark.parametrize("pattern", ["four", "whole"])
def test_the_last_bar_begun_again_is_no_chorus_left_out(pattern: str):
    """Also where it has one chord, so that the form was at its end."""
    song = "paper-boat-on-brown-water"
    made = make(song, Recipe(pattern, choruses=2, slips=0, jitter_ms=10.0), 4)
    last = max(chord.index for chord in made.chords)
    again_s = next(chord.due_s for chord in made.chords if chord.index == last and chord.visit == 0)
    begun = [press for press in made.presses if press.time_s < again_s + 0.1]
    late_s = 120.0 / made.stand.tempo_bpm
    later = [replace(press, time_s=press.time_s + late_s) for press in made.presses if press.time_s > again_s - 0.1]
    marked = mark_recording(made.stand, Recording((*begun, *later)))
    assert marked
    told = [(event.kind, event.index) for each in marked.passes for event in each.events]
    assert told == [("began again", last)]
    assert len(marked.passes) == 2 and marked.together.figures.share_right > 0.95
