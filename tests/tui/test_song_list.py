"""What the list of songs says below itself."""

from __future__ import annotations

import pytest
from textual.events import Key
from tui.conftest import screen_text

from companion.sound.messages import Ready
from companion.tui.draw.words import whole_clauses

DEVICE = "No sound device was found: playing silently, watch the beat."


@pytest.mark.parametrize(
    ("width", "words"),
    [
        (60, DEVICE),
        (59, "No sound device was found: playing silently"),
        (43, "No sound device was found: playing silently"),
        (20, "No sound device was…"),
    ],
)
def test_a_sentence_gives_up_whole_clauses(width, words):
    assert whole_clauses(DEVICE, width) == words


@pytest.mark.parametrize(
    ("sentence", "shown"),
    [
        (DEVICE, DEVICE.removesuffix(", watch the beat.")),
        (
            "Sounding with the built-in sound, through this computer's sound device.",
            "Sounding with the built-in sound",
        ),
    ],
)
async def test_in_80_columns_nothing_is_cut_in_the_middle(kit, tmp_path, sentence, shown):
    app, link = kit.make_app(kit.make_paths(tmp_path / "student"))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        screen = app.screen
        screen._entries = screen._entries * 100
        link.report(Ready("silent", sentence, False))
        await pilot.pause()
        assert str(screen.query_one("#songs-count").content).endswith(f"songs   {shown}")


async def test_songs_that_cannot_be_read_are_counted_where_they_are_out_of_sight(kit, tmp_path):
    """A folder that may not be read stood in the last line of a long list alone."""
    paths = kit.make_paths(tmp_path / "student", songs=(kit.FERRY, kit.WALTZ, kit.BROKEN))
    app, _ = kit.make_app(paths)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert str(app.screen.query_one("#songs-count").content).startswith("! 3 of 3, 1 unreadable")


async def test_a_new_student_is_shown_where_to_start_and_the_order_is_kept(kit, tmp_path):
    from companion.store.settings import load_settings

    app, _ = kit.make_app(kit.make_paths(tmp_path / "new", songs=(kit.FERRY, kit.WALTZ)))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.5)
        by_difficulty = [entry.id for entry in app.screen.shown]
        app.log_access.first_plan(app.show_notice)
        await pilot.pause()
        assert app.is_new and "start here" in screen_text(app)
        await pilot.press("f9")
        await pilot.pause()
        assert [entry.id for entry in app.screen.shown] == sorted(by_difficulty)
        assert "by title" in screen_text(app)
    assert load_settings(app.paths).song_order == "title"


async def test_keys_typed_faster_than_the_list_is_drawn_take_the_song_that_was_typed(kit, tmp_path):
    """What was typed before is cleared first, then the letters come, then the song is taken, in this order."""
    app, _ = kit.make_app(kit.make_paths(tmp_path / "student"))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press("x", "y")
        for key in ("escape", *"coat", "enter"):
            app.post_message(Key(key, key if len(key) == 1 else None))
        await kit.until(pilot, lambda: app.place == "stand")
        assert app.conductor.stand.song.title == "A Coat for Three"


async def test_who_comes_back_finds_every_song_and_an_empty_line(kit, started):
    """What was typed for the song before would stand before the next title."""
    app, _ = started
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(*"coat", "enter")
        await pilot.pause()
        assert app.screen.stand.song.title == "A Coat for Three"
        await pilot.press("escape")
        await pilot.pause()
        assert app.screen.query_one("#find").value == "" and len(app.screen.shown) > 1
        assert app.screen.marked.title == "A Coat for Three", "the song left off is marked"
        await pilot.press(*"lanterns", "enter")
        await pilot.pause()
        assert app.screen.stand.song.title == "Lanterns on the Slipway"


async def test_a_plan_that_comes_while_the_list_is_taken_down_breaks_nothing(kit, started):
    """As where one leaves at once: the log is read by then, and the screen is not quite gone."""
    app, _ = started
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        songs = app.screen
        await songs.query("#songs-list").remove()
        said = [str(songs.query_one(part).render()) for part in ("#songs-title", "#songs-count")]
        for is_new in (True, False):
            app.log_access.is_new = is_new
            songs.show_notice()
            assert [str(songs.query_one(part).render()) for part in ("#songs-title", "#songs-count")] == said
