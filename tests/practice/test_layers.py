"""The usual lesson after hands together: layer upon layer to a performance, each opened by what the left hand loses under the one before."""

from __future__ import annotations

from dataclasses import replace

import pytest
from practice.passes import played

from companion.chart.reader import parse_chart
from companion.practice.planning.layers import (
    COMPANY,
    FRAME,
    LAYERS,
    MELODY,
    ORNAMENTS,
    PERFORMANCE,
    SWING,
    LayersKnown,
    layer_name,
    layers_in,
    layers_that_run,
    next_layer,
)
from companion.practice.planning.lessons import lesson_states, step_words
from companion.practice.planning.song_view import SongView
from companion.practice.planning.today import plan_today
from companion.practice.planning.totals import tallies

TUNE = parse_chart(
    """title = "Layers"
key = "F"
meter = "4/4"
tempo = 100
feel = "swing"
form = "A"
[section.A]
bars = "F6 | D7 | Gm7 | C7"
melody = "a4 c'4 | ^f8 | d'8 | c'8"
"""
)
LEFT = replace(played(3), song_id=TUNE.id, loop=(0, 1, 2, 3), sections=("A",), tempo_bpm=70.0, source="heard")
FIGURES = {"share_right": 1.0, "offset_ms": 0.0, "spread_ms": 10.0}


def both(layers, share=1.0, day=2):
    under = {"left": FIGURES | {"share_right": share}, "layer": layer_name(layers)}
    return replace(LEFT, started_at=played(day).started_at, hands="both", by_hand=under)


ALONE = [replace(LEFT, share_right=1.0, offset_ms=0.0, spread_ms=10.0)]


@pytest.mark.parametrize("layers", [{MELODY}, {MELODY, COMPANY}, {MELODY, SWING}, {MELODY, COMPANY, SWING, ORNAMENTS}])
def test_a_pass_says_what_lay_on_top(layers):
    assert layers_in(both(layers)) == layers


def test_a_layer_runs_once_the_loss_under_it_was_small_twice_running():
    on = {MELODY, COMPANY}
    assert layers_that_run([both(on)], ALONE) == frozenset()
    assert layers_that_run([both(on), both(on, 0.8), both(on)], ALONE) == frozenset()
    assert layers_that_run([both({MELODY}), both(on, 0.8), both({MELODY})], ALONE) == frozenset(), "not in a row"
    assert layers_that_run([both(on), both(on)], ALONE) == {MELODY, COMPANY}
    assert layers_that_run([both(on, 0.8), both(on, 0.8)], ALONE, 0.25) == {MELODY, COMPANY}, "the student sets it"
    assert layers_that_run([both(on), both(on)], []) == frozenset(), "nothing to compare with"
    told = [replace(both(on), source="told", clean=clean, by_hand={"layer": layer_name(on)}) for clean in (True, True)]
    assert layers_that_run(told, []) == {MELODY, COMPANY}
    assert layers_that_run([told[0], replace(told[1], clean=False)], []) == frozenset()


def test_the_next_layer_in_its_order():
    on, order = {MELODY}, []
    while (layer := next_layer(on, swings=True)) not in on:
        order.append(layer)
        on.add(layer)
    assert [MELODY, *order] == list(LAYERS)
    assert next_layer({MELODY, COMPANY}, swings=False) == ORNAMENTS


def test_the_usual_lesson_goes_on_to_a_performance_and_a_left_hand_sees_none_of_it():
    left, right = tallies([LEFT]), tallies([LEFT, both({MELODY})])
    assert not any(state.step.layer for state in lesson_states(TUNE, left))
    steps = [state.step for state in lesson_states(TUNE, right) if state.step.layer]
    assert [step.layer for step in steps] == list(LAYERS)
    assert (
        step_words(steps[1], TUNE) == "one note under the melody, the whole form, both hands, at 70, first to be heard"
    )
    known = LayersKnown(frozenset({FRAME}), frozenset({MELODY, COMPANY}))
    done = {state.step.layer for state in lesson_states(TUNE, right, layers=known) if state.done}
    assert done >= {MELODY, COMPANY, FRAME} and not done & {SWING, ORNAMENTS, PERFORMANCE}
    straight = replace(TUNE, feel="straight")
    assert SWING not in {state.step.layer for state in lesson_states(straight, right)}


def test_today_plans_the_next_layer_alone_and_it_begins_with_listening():
    from datetime import UTC, datetime, timedelta

    now = datetime.fromisoformat(both({MELODY}).started_at).astimezone(UTC) + timedelta(hours=1)
    records = [LEFT, both({MELODY}), both({MELODY})]

    def planned(known):
        views = [
            SongView(
                TUNE,
                tuple(each for each in records if each.hands == hands),
                tuple(tallies(records)),
                hands=hands,
                layers=known,
            )
            for hands in ("left", "both")
        ]
        return [item for item in plan_today(40, views, now).items if item.layer]

    [first] = planned(LayersKnown())
    assert (first.layer, first.hands, first.drill, first.listens_first, first.passes) == (
        MELODY,
        "both",
        "play",
        True,
        2,
    )
    [after] = planned(LayersKnown(frozenset({MELODY, COMPANY}), frozenset({MELODY})))
    assert (after.layer, after.listens_first) == (COMPANY, False)
    ready = LayersKnown(frozenset({FRAME}), frozenset(LAYERS))
    [last] = planned(ready)
    assert (last.layer, last.passes, last.listens_first) == (PERFORMANCE, 0, False)
    assert planned(LayersKnown(frozenset(LAYERS), frozenset(LAYERS))) == []
