"""Layers on the stand: put there by a step of the lesson, begun by listening, remembered once heard."""

from __future__ import annotations

from dataclasses import replace

import pytest
from desk import put
from session_songs import SUNG

from companion.practice.planning.layers import COMPANY, FRAME, MELODY, ORNAMENTS, PERFORMANCE, SWING
from companion.practice.planning.plan import PlanItem
from companion.session.layers import layers_on, with_layer
from companion.session.memory import MET, heard_entry, met_states
from companion.session.overview import layers_known
from companion.session.pass_log import next_layer_words
from companion.session.performance import performance
from companion.session.plan_items import set_for_item
from companion.store.log.entry import Entry


@pytest.fixture
def stand(settings):
    return put(SUNG, settings, pattern="four")


def test_a_layer_is_put_on_and_what_was_chosen_stays(stand) -> None:
    assert layers_on(stand) == {MELODY}
    on = stand
    for layer in (COMPANY, ORNAMENTS, FRAME):
        on = with_layer(on, layer)
        assert layer in layers_on(on) and on.hands == "both"
    three = stand.change(arranged=replace(stand.arranged, voices=3, intro="dominant"))
    assert with_layer(with_layer(three, COMPANY), FRAME).arranged == three.arranged
    if stand.song.feel == "swing":
        assert SWING in layers_on(with_layer(on, SWING))
    assert FRAME not in layers_on(on.with_loop((0,), "bar 1")), "nothing frames a loop"


def test_a_step_begins_with_listening_and_what_was_heard_is_remembered(stand, log) -> None:
    loop = tuple(range(len(stand.bars)))
    song = stand.original
    item = PlanItem("step", 5, "words", song.id, song.title, "whole", loop, hands="both", tempo_bpm=70.0, layer=FRAME)
    there, kind = set_for_item(stand, replace(item, listens_first=True, loop_name=stand.loop_name), is_heard=True)
    assert kind == "listen" and there.tempo_bpm == 70.0 and there.hands == "both"
    heard = performance(there.to_listen())
    assert heard.lead_in and heard.ending, "it is heard from the introduction to the ending"
    assert set_for_item(stand, replace(item, loop_name=stand.loop_name), is_heard=True)[1] == "play"
    left = {state.loop_key for state in heard_entry(there, loop).states if state.kind == MET}
    assert left == {MELODY, FRAME}
    assert not [state for state in heard_entry(stand, loop).states if state.kind == MET], (
        "the left hand's alone is no layer"
    )
    log.write(heard_entry(there, loop))
    log.write(Entry(None, met_states(song.id, frozenset({PERFORMANCE}))))
    assert layers_known(log, song).met == {MELODY, FRAME, PERFORMANCE}


def test_what_comes_next_is_said_with_the_keys_that_lead_there(stand) -> None:
    assert next_layer_words(stand) == "The next layer may come: one note under the melody (o, then z)."
    on = with_layer(with_layer(stand, COMPANY), ORNAMENTS)
    assert layers_on(on) >= {COMPANY, ORNAMENTS}
