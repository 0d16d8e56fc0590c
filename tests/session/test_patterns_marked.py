"""Patterns that strike one key of a shell, or a chord before its bar: marked right, played to the app and read from a file."""

from __future__ import annotations

from itertools import product

import pytest
from practice.take_plans import Recipe
from practice.takes import make, stand_of
from session.live_takes import Played

from companion.groove.names import PATTERN_NAMES
from companion.practice.marking.timing import WHOLE
from companion.session.take_file import Recording
from companion.session.take_marks import mark_recording

OTHERS = ("two-feel", "broken", "anticipated", "stride")
SONG = "ferry-at-half-past-six"
EXACT = {"slips": 0, "jitter_ms": 0.0}
HUMAN = {"slips": 0, "jitter_ms": 15.0}


def made_take(song, pattern, seed, **way):
    tempo_bpm = stand_of(song, pattern).tempo_bpm * 0.8
    made = make(song, Recipe(pattern, click_ms=0.0, tempo=tempo_bpm, **way), seed)
    made.clicks.sort()
    made.presses.sort(key=lambda press: press.time_s)
    return made, tempo_bpm


# Every pattern by hand but one, which is played exactly; the rest by `--deep`.
TAKES = [
    pytest.param(pattern, how, marks=[pytest.mark.deep] * ((how == "exact") != (pattern == "broken")))
    for pattern, how in product(OTHERS, ("human", "exact"))
]


@pytest.mark.parametrize(("pattern", "how"), TAKES)
def test_what_was_played_right_is_right(pattern, how):
    way = {"exact": EXACT, "human": HUMAN}[how]
    made, tempo_bpm = made_take(SONG, pattern, 7, **way)
    live = Played(made, tempo_bpm, 0.0)
    marked = mark_recording(made.stand.change(pattern="four"), Recording(tuple(made.presses), tuple(made.clicks)), None)
    assert marked is not None and marked.take.arrangement.pattern == pattern
    for passes in (live.passes, [each.marks for each in marked.passes]):
        chords = [chord for marks in passes for chord in marks.chords]
        assert len(chords) > 60 and not any(marks.extra for marks in passes)
        wrong = [
            (chord.index, chord.chord, chord.verdict, chord.reason) for chord in chords if chord.verdict not in WHOLE
        ]
        assert len(wrong) <= (0 if way is EXACT else 0.02 * len(chords)), wrong


@pytest.mark.parametrize("pattern", ["two-feel", "anticipated", "stride"])
def test_an_octave_higher_is_right_too(pattern):
    """A piano that is switched over: what is struck early, a fifth and a low root move along."""
    made, _ = made_take("coat-by-the-door", pattern, 7, transpose=12, choruses=1, **EXACT)
    marked = mark_recording(made.stand, Recording(tuple(made.presses), ()), None)
    assert marked is not None and marked.take.arrangement.pattern == pattern
    chords = [chord for each in marked.passes for chord in each.marks.chords]
    assert len(chords) > 10 and all(chord.verdict in WHOLE for chord in chords)


def test_every_pattern_is_tried_somewhere():
    assert set(OTHERS) | {"four", "two", "whole", "charleston", "late-charleston"} == set(PATTERN_NAMES)
