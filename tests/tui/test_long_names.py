"""Long names of chords: large in two lines where one has no room, now and next alike; in the chart no name is cut to what a hidden chord is."""

from __future__ import annotations

import pytest
from desk import put

from companion.tui.draw.big import is_large
from companion.tui.draw.chart import spread
from companion.tui.draw.now import draw_now
from companion.tui.draw.view import View

TUNE = """
title = "Long Names"
key = "F"
meter = "4/4"
tempo = 120
form = "A"
[section.A]
bars = "Gm7 | {next} | C7 Gm7 F#7b9 Cm7b5"
"""


def rows_of(settings, name: str, height: int = 9) -> list[str]:
    stand = put(TUNE.format(next=name), settings)
    return ["".join(text for text, _ in row) for row in draw_now(View(stand, 0), 80, height)]


@pytest.mark.parametrize("name", ["Bbmaj7#11", "F#m7b5/A", "Ebmaj7#11", "Dm7b5", "Em7"])
def test_what_is_next_is_large_in_a_small_window_whatever_its_name(settings, name):
    rows = rows_of(settings, name)
    frame = [row[46:] for row in rows]
    assert len(rows) == 9 and all(len(row) == 80 for row in rows)
    assert sum(any(sign in row for sign in "█▌▐▀▄") for row in frame) >= 6, frame


def test_its_notes_stand_behind_a_colon_where_the_name_has_the_room_of_the_foot(settings):
    assert "next, on beat 1: B♭  D ─" in rows_of(settings, "Bbmaj7#11")[0]
    assert "next, on beat 1 ─" in rows_of(settings, "Em7")[0] and "─ E  G ─" in rows_of(settings, "Em7")[-1]
    assert is_large("Bbmaj7#11", 32, 8) and not is_large("Bbmaj7#11", 32, 7)


def test_a_bar_with_more_names_than_room_leaves_whole_ones_out(settings):
    bar = put(TUNE.format(next="F6"), settings).bars[2]
    assert spread(bar, 16) == "C7 Gm7 F♯7♭9 …"
    for width in range(6, 40):
        names = spread(bar, width).split()
        assert set(names) <= {"C7", "Gm7", "F♯7♭9", "Cm7♭5", "…"} and len(spread(bar, width)) <= width
