"""A loop has one name everywhere."""

from __future__ import annotations

from practice.passes import SONG

from companion.chart.loops import loop_key, loop_name
from companion.session.loops import find_loop
from companion.session.stand import Stand
from companion.session.stand_changes import loop_between


def test_the_name_and_the_key_of_a_loop():
    assert [loop_name(loop) for loop in ((4,), range(4, 8))] == ["bar 5", "bars 5 to 8"]
    assert [loop_key(loop) for loop in (range(32), (4,), (0, 1, 8, 9))] == ["0-31", "4-4", "0,1,8,9"]


def test_a_loop_that_is_typed_is_named_as_one_that_is_marked(settings):
    stand = Stand.put(SONG, settings)
    typed, marked = find_loop(stand, "5-8"), loop_between(stand, 7, 4)
    assert typed.loop == marked.loop == (4, 5, 6, 7)
    assert typed.loop_name == marked.loop_name == "bars 5 to 8"
