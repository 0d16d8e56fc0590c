"""What the app opens on: what is due today, the song that was left off, or for a new student the list."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from store.passes import PASS
from tui.conftest import RecordingLink, make_app, screen_text, until

from companion.session.overview import keep_plan, todays_plan
from companion.store.log.practice_log import PracticeLog
from companion.store.settings import load_settings, save_settings

SIZE = (80, 24)
FERRY_ID = "lanterns-on-the-slipway"


def practised(paths) -> None:
    """A log with a pass of yesterday."""
    at = (datetime.now().astimezone() - timedelta(days=1)).isoformat(timespec="milliseconds")
    with PracticeLog.open(paths) as log:
        log.add_pass(
            replace(PASS, song_id=FERRY_ID, title="Lanterns on the Slipway", key="Bb", target_bpm=126, started_at=at)
        )


def all_done(paths) -> None:
    """Today's plan, every item of it ticked."""
    from companion.session.overview import now_here
    from companion.store.library import read_songs

    settings = load_settings(paths)
    with PracticeLog.open(paths) as log:
        songs = read_songs(paths, settings, log.song_ids())
        plan = todays_plan(log, songs, None, now_here(), False, 20, 0.6, settings.hand)
        keep_plan(log, replace(plan, items=tuple(replace(item, done=True) for item in plan.items)))


async def known(pilot) -> None:
    """Until the plan is there and what follows from it is done."""
    await until(pilot, lambda: pilot.app.plan is not None)
    for _ in range(3):
        await pilot.pause()


class Collector:
    """Looks for garbage, or not: switched off, as a process of the app's own begins. calls: what it was told."""

    def __init__(self) -> None:
        self.calls: list[str] = []

    def isenabled(self) -> bool:
        return "enable" in self.calls

    def freeze(self) -> None:
        self.calls.append("freeze")

    def enable(self) -> None:
        self.calls.append("enable")


async def test_something_is_due_and_one_key_leads_to_the_list(student, monkeypatch):
    practised(student)
    monkeypatch.setattr("companion.tui.app.gc", collector := Collector())
    app, _ = make_app(student)
    async with app.run_test(size=SIZE) as pilot:
        assert app.place == "songs", "what is painted first waits for no log"
        await until(pilot, lambda: app.place == "today")
        await pilot.pause()
        assert collector.calls == ["freeze", "enable"], "what is loaded by now is never looked through, all else is"
        assert "Today, 20 minutes: 0 of" in screen_text(app) and "Lanterns" in screen_text(app)
        await pilot.press("escape")
        await pilot.pause()
        assert app.place == "songs"
        await known(pilot)
        assert app.place == "songs", "it opens by itself but once"


async def test_who_just_began_to_type_goes_on_in_the_list(student):
    practised(student)
    app, _ = make_app(student)
    async with app.run_test(size=SIZE) as pilot:
        await until(pilot, lambda: app.place == "today")
        await pilot.press(*"coat", "enter")
        await pilot.pause()
        assert app.place == "stand" and app.screen.stand.song.title == "A Coat for Three"
        assert not app.screen.view.playing


@pytest.mark.parametrize("key", ["l", "down", "f9"])
async def test_nothing_opens_under_fingers_that_have_begun(student, key):
    practised(student)
    app, _ = make_app(student)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press(key)
        await known(pilot)
        assert app.place == "songs"
        assert app.screen.query_one("#find").value == ("l" if key == "l" else "")


async def test_with_nothing_due_the_song_left_off_stands_there_stopped(student):
    practised(student)
    all_done(student)
    save_settings(student, {"screen.last_song": FERRY_ID})
    app, _ = make_app(student)
    async with app.run_test(size=SIZE) as pilot:
        await until(pilot, lambda: app.place == "stand")
        assert app.screen.stand.original.id == FERRY_ID and not app.screen.view.playing
        await pilot.press("escape")
        await pilot.pause()
        assert app.place == "songs"


async def test_a_song_that_was_set_up_and_not_played_yet_is_come_back_to(student):
    """As after a plug that was pulled in its first pass."""
    save_settings(student, {"screen.last_song": FERRY_ID})
    app, _ = make_app(student)
    async with app.run_test(size=SIZE) as pilot:
        await until(pilot, lambda: app.place == "stand")
        assert app.is_new and app.screen.stand.original.id == FERRY_ID and not app.screen.view.playing


async def test_a_song_left_off_that_is_gone_leaves_the_list(student):
    practised(student)
    all_done(student)
    save_settings(student, {"screen.last_song": "no-more"})
    app, _ = make_app(student)
    async with app.run_test(size=SIZE) as pilot:
        await known(pilot)
        assert app.place == "songs" and not app.notice


async def test_a_new_student_stays_on_the_list_and_a_named_song_on_the_stand(student):
    from companion.chart.reader import read_chart
    from companion.tui.app import CompanionApp

    app, _ = make_app(student)
    async with app.run_test(size=SIZE) as pilot:
        await until(pilot, lambda: app.is_new)
        await pilot.pause()
        assert app.place == "songs"
    practised(student)
    song = read_chart(student.songs / "a-coat-for-three.toml")
    app = CompanionApp(student, load_settings(student), RecordingLink(), song)
    async with app.run_test(size=SIZE) as pilot:
        await known(pilot)
        assert app.place == "stand" and app.screen.stand.original == song
