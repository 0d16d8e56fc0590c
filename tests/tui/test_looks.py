"""How the app looks: sizes, colours, pages, rows, and what is painted again."""

import pytest
from shipped import spread
from tui.conftest import drawn, play, put_ferry, screen_text, until

from companion.store.settings import load_settings
from companion.tui.draw.need import needs_of
from companion.tui.screens.pick import PickScreen
from companion.tui.themes import choose_colours

SIZE = (80, 24)


@pytest.mark.parametrize("size", spread([(120, 40), (60, 20), (30, 8), (20, 6), (3, 2), (1, 1)], 2, 1))
async def test_every_size_draws_and_plays(kit, started, size):
    app, link = started
    async with app.run_test(size=size) as pilot:
        await put_ferry(pilot)
        await play(pilot, link, kit, 5)
        for key in ("w", "escape", "x", "escape", "f1", "escape", "o", "k", "down", "enter"):
            await pilot.press(key)
        await pilot.resize_terminal(size[0] + 1, size[1] + 1)
        await pilot.pause()
        assert drawn(app, "now").strip()
        assert app.screen.query_one("#now").region.bottom <= size[1] + 1


async def test_only_the_lines_that_changed_are_painted_again(kit, started):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        await play(pilot, link, kit, 0, 0)
        painted = []
        for part in ("chart", "now", "need", "beat"):
            widget = app.screen.query_one(f"#{part}")
            widget.refresh = lambda *regions, part=part, **_: painted.append(part)
        app.screen.hear(kit.beat(0, 1))
        assert painted == ["beat"], "within a bar only the beat moves"


async def test_another_theme_recolours_what_was_drawn(started):
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)

        def colours():
            strips = app.screen.query_one("#now").render_lines(app.screen.query_one("#now").size.region)
            return {str(segment.style.color) for strip in strips for segment in strip if segment.style}

        dark = colours()
        app.theme = "morning"
        await pilot.pause()
        assert colours() != dark


async def test_colours_are_kept(kit, student):
    app, _ = kit.make_app(student)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("ctrl+p")
        await pilot.press(*"theme")
        await until(pilot, lambda: "choose other colours" in screen_text(app))
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, PickScreen))
        assert "evening: dark" in screen_text(app) and "morning: light" in screen_text(app)
        await pilot.press("down", "escape")
        assert app.theme == "evening", "only looked at"
        choose_colours(app)
        await pilot.pause()
        await pilot.press("down", "enter")
        assert app.theme == "morning"
    assert load_settings(student).colours == "morning"
    assert kit.make_app(student)[0].theme == "morning"


async def test_pages_answer_the_keys_for_pages_and_say_so(started):
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        await pilot.press("f1")
        await pilot.pause()
        page = app.screen.query_one("#page")
        assert all(word in screen_text(app).splitlines()[-1] for word in ("PgDn", "PgUp", "Home", "End"))
        await pilot.press("pagedown")
        assert page.scroll_offset.y > 10
        await pilot.press("end")
        assert page.scroll_offset.y == page.max_scroll_y
        await pilot.press("pageup")
        assert 0 < page.scroll_offset.y < page.max_scroll_y
        await pilot.press("home")
        assert page.scroll_offset.y == 0


async def test_no_row_of_the_songs_ends_as_if_it_were_cut(started):
    app, _ = started
    for size in (SIZE, (120, 40), (200, 50)):
        async with app.run_test(size=size) as pilot:
            await pilot.pause()
            rows = [row.rstrip() for row in screen_text(app).splitlines() if "Lanterns" in row or "A Coat" in row]
            assert len(rows) == 2 and not any("…" in row for row in rows), rows
        app = type(app)(app.paths, app.settings, app.link)


async def test_the_list_of_all_else_does_what_its_letter_and_its_marked_line_say(kit, student):
    app, _ = kit.make_app(student)
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        assert app.screen.query_one("#beat").display
        await pilot.press("o", "b")
        await pilot.pause()
        assert not app.screen.view.large_beat and not app.screen.query_one("#beat").display
        await pilot.press("o", "down", "escape", *["v"] * (len(needs_of(app.screen.stand)) - 1))
        await pilot.pause()
        assert app.screen.view.need == "chart" and not app.screen.query_one("#need").display
        assert app.screen.query_one("#chart").size.height > 4, "its room goes to the chart"
    again, _ = kit.make_app(student)
    async with again.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        assert not again.screen.view.large_beat and again.screen.view.need == "chart", "kept"
        await pilot.press("o", *["down"] * 3, "enter")
        await pilot.pause()
        assert again.screen is not again.stand_screen
