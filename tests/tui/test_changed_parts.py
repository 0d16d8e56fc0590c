"""Only what may look other is drawn anew after a key: every part that is left out would have looked the same."""

from __future__ import annotations

from dataclasses import fields, replace
from pathlib import Path

import pytest

from companion.chart.reader import parse_chart, read_chart
from companion.practice.drills.fading import FULL
from companion.session.drill import DrillSettings, new_drill
from companion.session.stand import Stand
from companion.session.stand_changes import CLICKS
from companion.tui.draw.plan import PARTS, share_rows
from companion.tui.draw.view import _SHOWN_BY, _SHOWN_BY_OF_STAND, View
from companion.tui.widgets.stand_parts import stand_parts

REPOSITORY = Path(__file__).parents[2]
SIZES = ((80, 24), (120, 40), (40, 10))
# Another value for every field that the tables name.
OTHER = {
    "notice": "A word to the student.",
    "sound": "midi",
    "cursor": 5,
    "answer": "E: the third is F.",
    "waits": 2,
    "item_done": True,
    "taught": "space starts.",
    "down": frozenset({50}),
    "alone": (2, 0),
    "came_from": "whole form",
}
OTHER_OF_STAND = {
    "tempo_bpm": 77.0,
    "pattern": "stride",
    "click": CLICKS[-1],
    "bass": "walking",
    "demonstrate": True,
    "count_in_bars": 2,
}


TWO_METERS = """
title = "Four and Three"
key = "C"
meter = "4/4"
form = "A B"
[section.A]
bars = "C6 | F6 | C6 | G7"
[section.B]
meter = "3/4"
bars = "C6 | F6 | C6 | G7"
"""


@pytest.fixture
def views(settings, kit) -> list[View]:
    """Stopped, counting in, playing, asking, in two drills, told of the pass before."""
    stand = Stand.put(read_chart(REPOSITORY / "songs" / "ferry-at-half-past-six.toml"), settings)
    stopped = View(stand, sound="silent")
    fade, climb = (new_drill(stand, kind, DrillSettings()) for kind in ("fade", "climb"))
    dimmed = replace(fade, fade=replace(fade.fade, levels=tuple(int(FULL) - n % 3 for n in range(len(stand.bars)))))
    return [
        stopped,
        View(Stand.put(parse_chart(TWO_METERS), settings), sound="silent"),
        replace(stopped, playing=True, beat=kit.beat(-1, 0, turn=-1)),
        replace(stopped, playing=True, beat=kit.beat(3, 2, turn=0)),
        replace(stopped, playing=True, beat=kit.beat(3, 2, turn=0), drill=dimmed),
        replace(stopped, drill=dimmed, asking=True, slips=frozenset({2})),
        replace(stopped, drill=climb, summary=("14 of 16 right.", "Late by 20 ms.")),
        replace(stopped, playing=True, beat=kit.beat(3, 2, turn=0), drill=climb, summary=("14 of 16 right.",)),
    ]


def pictures(view: View) -> dict[str, list]:
    drawn: dict[str, list] = {}
    for width, height in SIZES:
        rows = share_rows(height, 8)
        for part in stand_parts():
            part.view = view
            drawn.setdefault(str(part.id), []).append(part.picture(width, rows[str(part.id)]))
    return drawn


def looks_other(before: View, after: View) -> set[str]:
    old, new = pictures(before), pictures(after)
    return {part for part in old if old[part] != new[part]}


def test_every_field_of_the_tables_is_tried_and_exists() -> None:
    assert set(OTHER) == set(_SHOWN_BY) <= {each.name for each in fields(View)}
    assert set(OTHER_OF_STAND) == set(_SHOWN_BY_OF_STAND) <= {each.name for each in fields(Stand)}


@pytest.mark.parametrize("name", [*OTHER, *OTHER_OF_STAND])
def test_no_part_that_looks_other_is_left_out_and_none_is_named_in_vain(views, name) -> None:
    seen: set[str] = set()
    for before in views:
        of_stand = name in OTHER_OF_STAND
        after = replace(before, stand=before.stand.change(**{name: OTHER_OF_STAND[name]})) if of_stand else before
        after = after if of_stand else replace(before, **{name: OTHER[name]})
        other = looks_other(before, after)
        assert other <= after.changed_parts(before)
        seen |= other
    assert seen == {*(_SHOWN_BY_OF_STAND if of_stand else _SHOWN_BY)[name]} - {"foot"}


def test_what_no_table_names_is_drawn_whole(views) -> None:
    before = views[0]
    assert before.changed_parts(before) == frozenset()
    assert replace(before, summary=("Well played.",)).changed_parts(before) == {*PARTS}
    assert replace(before, stand=before.stand.with_key("Eb")).changed_parts(before) == {*PARTS}
    assert replace(before, stand=before.stand.with_loop(range(4), "A")).changed_parts(before) == {*PARTS}


def test_a_beat_within_a_chord_moves_the_beats_line_only(views, kit) -> None:
    before = views[3]
    assert replace(before, beat=kit.beat(3, 3, turn=0)).changed_parts(before) == {"beat"}
    assert replace(before, beat=kit.beat(4, 0, turn=0)).changed_parts(before) == {*PARTS}
