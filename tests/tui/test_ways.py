"""The list of ways to practise: a letter for each, a section first where cues go, and what starts it."""

from __future__ import annotations

import pytest
from tui.conftest import drawn, put_ferry, screen_text

from companion.session.drill import KINDS
from companion.tui.screens.pick import PickScreen
from companion.tui.screens.ways import KIND_LINES, way_item

SIZE = (80, 24)
_INSIDE = 74  # columns that a list has in 80


def test_each_way_has_a_letter_of_its_own_and_a_line_that_fits():
    items = [way_item(kind) for kind in KIND_LINES]
    assert set(KINDS) <= set(KIND_LINES) and len({item.key for item in items}) == len(items)
    assert not {item.key for item in items} & {"q"}, "that closes the list"
    assert max(len(item.words) for item in items) <= _INSIDE


async def test_from_memory_proposes_the_first_section_and_says_what_starts_it(started):
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        await pilot.press("m", "m")
        await pilot.pause()
        assert isinstance(app.screen, PickScreen) and "From memory: which bars first?" in screen_text(app)
        await pilot.press("enter")
        await pilot.pause()
        assert app.conductor.kind == "fade" and app.conductor.stand.loop == tuple(range(8))
        assert drawn(app, "state").strip() == "Round 1: 0 of 8 bars from memory. Space starts."
        await pilot.press("m", "u")
        await pilot.pause()
        assert app.conductor.kind == "fade+climb", "eight bars are no question"


async def test_the_whole_form_is_a_key_away_and_asked_about_once(started):
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        await pilot.press("m", "s", "w")
        await pilot.pause()
        assert app.conductor.kind == "symbols" and len(app.conductor.stand.loop) == 32
        await pilot.press("m", "m")
        await pilot.pause()
        assert app.conductor.kind == "fade" and len(app.conductor.stand.loop) == 32
        await pilot.press("m", "p", "m", "m", "escape")
        await pilot.pause()
        assert app.conductor.kind == "play", "closed without a choice"


@pytest.mark.parametrize(
    ("letter", "says"),
    [
        ("l", "Listen: whole form. Space starts."),
        ("p", "Play along: whole form. Space starts."),
        ("t", "Up to tempo: 76 on the way to 126. Space starts."),
        ("d", "In the dark: the screen stays empty until the pass is over. Space starts."),
        ("a", "Symbols alone: one pass, and nothing else is shown. Space starts."),
    ],
)
async def test_every_way_says_what_starts_it(started, letter, says):
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        await pilot.press("m", letter)
        await pilot.pause()
        assert drawn(app, "state").strip() == says


async def test_a_letter_goes_to_the_line_that_begins_with_it(started):
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        await pilot.press("o", "k")
        await pilot.pause()
        rows = [item.words for item in app.screen._items]
        seen = set()
        for _ in range(2):
            await pilot.press("e")
            await pilot.pause()
            seen.add(app.screen._marked.words.split()[0])
        assert seen == {row.split()[0] for row in rows if row.startswith("E")} and len(seen) == 2, "round and round"
        await pilot.press("g", "enter")
        await pilot.pause()
        assert app.conductor.stand.key.name.startswith("G")
        await pilot.press("o", "e")
        await pilot.pause()
        await pilot.press("p")
        assert app.screen._marked.value == ".pdf"
        await pilot.press("q")
        await pilot.pause()
        assert not isinstance(app.screen, PickScreen), "a key with a meaning keeps it"
