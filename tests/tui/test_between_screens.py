"""From the stand to the songs, Today, progress and the lesson, and back: nothing is forgotten."""

import time
from dataclasses import replace
from datetime import UTC, datetime

from store.passes import PASS
from textual.widgets import Static
from told_passes import right
from tui.conftest import RecordingLink, drawn, make_paths, screen_text
from tui.mill import MILL, choose, play_pass, put_mill

from companion.sound.messages import (
    Finished,
    Play,
)
from companion.store.log.practice_log import PracticeLog
from companion.store.settings import load_settings, save_settings
from companion.tui.app import CompanionApp
from companion.tui.screens.stand import StandScreen
from companion.tui.screens.today import TodayScreen

SIZE = (80, 24)


async def test_going_back_to_a_song_forgets_nothing(mill_app, log):
    """The question after a pass with the bars marked so far, the hands, and the way through all keys."""
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await choose(pilot, "fade")
        app.screen.change(lambda stand: stand.change(hands="right"))  # a song that has no melody
        await pilot.press("space")
        await play_pass(pilot, link, None)
        link.report(Finished(0.0))
        await pilot.pause()
        await pilot.press("tab", "escape")
        await pilot.pause()
        assert not isinstance(app.screen, StandScreen)
        await pilot.press("escape")
        await pilot.pause()
        assert isinstance(app.screen, StandScreen) and app.screen.view.asking and app.screen.view.slips == {0}
        assert "how did that go" in drawn(app, "now") and "it ran, but for One 1" in drawn(app, "now")
        await pilot.press("enter")
        await pilot.pause()
        (record,) = log.passes()
        assert record.slipped == (0,) and record.hands == "right" and app.screen.view.playing
        await choose(pilot, "play")
        await pilot.press("o", "a", "enter")
        await pilot.pause()
        coming = app.screen.view.next_stand
        assert coming is not None
        await pilot.press("escape")
        await pilot.pause()
        await pilot.press("escape")
        await pilot.pause()
        assert app.screen.view.next_stand is coming and "next key" in drawn(app, "title")


async def test_a_song_chosen_again_is_as_it_was_left(mill_app):
    """By enter in the list too, at once and after another song."""
    app, _ = mill_app
    (app.paths.songs / "quick-mill.toml").write_text(MILL.replace("Slow", "Quick"), encoding="utf-8")
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press(*"slow", "enter")
        await choose(pilot, "fade")
        await pilot.press("S", "right")
        left = app.screen.view
        for titles in (["slow"], ["quick", "slow"]):
            for title in titles:
                await pilot.press("escape")
                await pilot.pause()
                app.screen.query_one("#find").value = ""
                await pilot.press(*title, "enter")
                await pilot.pause()
                assert isinstance(app.screen, StandScreen)
            assert app.screen.stand is left.stand and app.screen.view.drill == left.drill is not None
            assert app.screen.view.cursor == left.cursor


async def test_today_starts_an_item_and_the_log_ticks_it_off(mill_app, log):
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        await pilot.press("f3")
        await pilot.pause()
        await pilot.pause()
        assert isinstance(app.screen, TodayScreen)
        await pilot.press("down")  # past the chords in root position, which are offered before it
        first = app.screen.marked
        assert first.song_id == "slow-mill" and "Step 1" in first.words, "the song with a lesson is begun with"
        await pilot.press("enter")
        await pilot.pause()
        await pilot.pause()
        stand = app.screen
        assert isinstance(stand, StandScreen) and stand.stand.loop == first.loop and stand.view.playing
        assert link.told_of(Play)[-1].tempo_bpm == 60 and app.conductor.asks, "it will ask how it went"
        await play_pass(pilot, link, None, start_s=time.perf_counter())
        link.report(Finished(0.0))
        await pilot.pause()
        assert stand.view.asking
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press("f3")
        await pilot.pause()
        await pilot.pause()
        assert app.screen.plan.items[1].done and "1 of" in str(app.screen.query_one("#today-title", Static).content)
        await pilot.press("right")
        await pilot.pause()
        assert app.screen.plan.minutes == 40
        await pilot.press("escape", "escape")
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert "to practise today: F3" in screen_text(app), "the list of songs says what is left"


async def test_the_list_of_songs_counts_the_plan_that_f3_opens(tmp_path):
    """For the minutes of the settings, and for others once they were chosen."""
    paths = make_paths(tmp_path / "student", songs=(MILL,))
    save_settings(paths, {"practice.minutes": 40})
    with PracticeLog.open(paths) as log:
        log.add_pass(replace(PASS, song_id="slow-mill", loop=(0, 1), started_at=datetime.now(UTC).isoformat()))
    app = CompanionApp(paths, load_settings(paths), RecordingLink())
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("down")  # who has begun stays on the list
        for step in (None, "left", None):
            await pilot.pause()
            await app.workers.wait_for_complete()
            await pilot.pause()
            counted = str(app.screen.query_one("#songs-title", Static).content)
            await pilot.press("f3")
            await pilot.pause()
            await pilot.pause()
            left = sum(not item.done for item in app.screen.plan.items)
            assert f"  {left} things to practise today" in counted
            if step:
                await pilot.press(step)
            await pilot.pause()
            minutes = app.screen.plan.minutes
            await pilot.press("escape")
        assert minutes == 20, "chosen in between, and kept"


async def test_progress_and_lesson_are_pages(mill_app, log):
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await pilot.press("space")
        await play_pass(pilot, link, lambda strike: [] if strike.group.index == 1 else right(strike))
        await pilot.press("f4")
        assert "Stop first" in drawn(app, "state")
        await pilot.press("space", "f4")
        await pilot.pause()
        text = screen_text(app)
        assert "Sections" in text and "One" in text and "missing" in text
        await pilot.press("escape", "o", "i")
        await pilot.pause()
        assert "Quietly." in screen_text(app) and "1. section One" in screen_text(app)
