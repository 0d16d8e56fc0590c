"""A performance in characters: nothing cut, nothing shown meanwhile but what was chosen."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from desk import put
from session_songs import SUNG

from companion.arranging.choice import ArrangementChoice
from companion.session.performing import whole_tune
from companion.sound.messages import BeatReport
from companion.store.performances import Kept
from companion.tui.draw.performance import SHOWS, PerformanceView, draw_performance
from companion.tui.draw.row import length

NOTICE = "The keyboard went away, so the performance was broken off; what came before is kept, and more of it."
BEAT = BeatReport(0.0, 0, 2, 2, 1, 4, 120.0)


@pytest.fixture
def stand(settings):
    return whole_tune(put(SUNG, settings).change(arranged=ArrangementChoice(intro="vamp", ending="tag"), hands="both"))


def kept(number: int) -> Kept:
    words = (f"Both hands, F, tempo 120, {number} s, to the end.", "Left hand 8 of 9 right, right hand 20 of 22 right.")
    return Kept(Path(f"{number}.mid"), datetime(2026, 1, 5, 18, number, tzinfo=UTC), words)


def text(rows) -> str:
    return "\n".join("".join(part for part, _ in row) for row in rows)


@pytest.mark.parametrize("size", [(20, 6), (80, 22), (120, 38), (200, 48), (0, 0), (1, 1)])
@pytest.mark.parametrize("playing", [False, True])
@pytest.mark.parametrize("shows", SHOWS)
def test_it_fits_every_window(stand, size, playing, shows):
    view = PerformanceView(stand, tuple(map(kept, range(30))), 12, shows, playing, False, BEAT, False, NOTICE)
    rows = draw_performance(view, *size)
    assert len(rows) == size[1] and all(length(row) <= size[0] for row in rows)


def test_what_is_said_is_whole_and_what_is_played_is_named(stand):
    rows = draw_performance(PerformanceView(stand, notice=NOTICE), 80, 22)
    said = " ".join(text(rows).split())
    assert NOTICE in said and "with an introduction and an ending, by both hands" in said
    assert "Nothing was performed yet. Space counts in." in said


def test_the_marked_performance_is_among_those_that_are_seen(stand):
    for marked in (0, 7, 29):
        view = PerformanceView(stand, tuple(map(kept, range(30))), marked)
        rows = text(draw_performance(view, 80, 22)).splitlines()
        (line,) = [row for row in rows if "▸" in row]
        assert f"18:{marked:02}" in line


def test_nothing_is_seen_meanwhile_but_what_was_chosen(stand):
    seen = {
        shows: text(draw_performance(PerformanceView(stand, shows=shows, playing=True, beat=BEAT), 80, 22))
        for shows in SHOWS
    }
    assert "█ 2 █" in seen["beat"] and "A bar 3" in seen["beat"] and "█ 2 █" in seen["names"]
    assert not set("█▁") & set(seen["nothing"]) and "bar 3" not in seen["nothing"]
    assert seen["names"].count("█") > seen["beat"].count("█")  # Gm7 in large letters
