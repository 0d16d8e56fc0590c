"""A section that comes again does not give away what its other coming hides."""

from __future__ import annotations

from dataclasses import replace

import pytest

from companion.chart.reader import parse_chart
from companion.practice.drills.fading import FULL, Cue
from companion.session.drill import DrillSettings, new_drill
from companion.session.stand import Stand
from companion.tui.draw.chart import bar_text
from companion.tui.draw.view import View

CHART = """
title = "Twice"
key = "C"
meter = "4/4"
form = "A A B"
[section.A]
bars = "Dm7 | G7 | Em7 | A7"
[section.B]
bars = "F6 | Bb7 | C6 | G7"
"""


@pytest.fixture
def stand(settings) -> Stand:
    return Stand.put(parse_chart(CHART), settings)


def view_of(stand: Stand, levels: dict[int, Cue], cursor: int) -> View:
    drill = new_drill(stand, "fade", DrillSettings())
    given = tuple(int(levels.get(bar.index, FULL)) for bar in drill.fade.bars)
    return View(stand, cursor=cursor, drill=replace(drill, fade=replace(drill.fade, levels=given)))


def test_a_bar_outside_the_loop_hides_with_its_twin_inside(stand) -> None:
    view = view_of(stand.with_loop(range(4), "A"), {1: Cue.PLACE}, cursor=3)
    assert view.cue(5) == Cue.PLACE and "G7" not in bar_text(view, 5, 20)
    assert view.cue(11) == FULL, "the G7 of another section is another bar"


def test_within_the_loop_the_hidden_twin_counts(stand) -> None:
    view = view_of(stand, {5: Cue.BAR}, cursor=8)
    assert view.cue(1) == view.cue(5) == Cue.BAR


def test_the_bar_at_hand_and_the_next_keep_their_own_cue(stand) -> None:
    view = view_of(stand, {5: Cue.BAR, 6: Cue.PLACE}, cursor=1)
    assert view.cue(1) == FULL and view.cue(2) == FULL
    assert view.cue(5) == Cue.BAR and view.cue(6) == Cue.PLACE
