"""What is taken down while something is still to come: the palette, the app."""

from __future__ import annotations

import pytest
from textual.command import CommandPalette
from textual.events import Key, Mount
from tui.conftest import until

from companion.sound.messages import Notice, Quit, Stop

SIZE = (80, 24)


@pytest.fixture
def started(kit, tmp_path):
    return kit.make_app(kit.make_paths(tmp_path / "student"))


@pytest.mark.parametrize("typed", ["", "no such command"])
async def test_what_the_palette_says_after_a_while_is_let_go_where_it_is_being_closed(started, monkeypatch, typed):
    """Its parts go first; a count of half a second ran out after them and ended the app."""
    monkeypatch.setattr(CommandPalette, "_BUSY_COUNTDOWN", 0.15)
    monkeypatch.setattr(CommandPalette, "_NO_MATCHES_COUNTDOWN", 0.15)
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        await pilot.press("ctrl+p")
        palette = app.screen
        assert isinstance(palette, CommandPalette)
        await pilot.pause(0.3)
        palette._list_visible = True
        palette._start_busy_countdown()
        palette._start_no_matches_countdown(typed)
        await palette.query("*").remove()
        await pilot.pause(0.3)
        palette.on_mount(Mount())  # keys typed fast close it before it has its parts
        assert not palette.check_action("command_list", ("page_down",))


async def test_the_sound_process_is_told_to_leave_at_once(started):
    """Not only when the app is taken down: it leaves meanwhile."""
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        app.exit()
        assert [type(message) for message in link.told[-2:]] == [Stop, Quit]


@pytest.mark.parametrize("key", ["f3", "f5"])
@pytest.mark.parametrize("fault", ["! ", ""])
async def test_what_is_said_stands_on_every_screen(started, key, fault):
    """On the plan of the day and on the keyboards it was said to nobody: a full disk, a keyboard that went."""
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        await pilot.press(key)
        await pilot.pause()
        app.say(fault + "Not remembered yet: the disk is full.")
        await pilot.pause()
        notice = app.screen.query_one("#notice")
        assert str(notice.content) == fault + "Not remembered yet: the disk is full."
        assert notice.has_class("fault") == bool(fault) and notice.region.height == 1
        foot = app.screen.query_one("#foot")
        assert notice.region.bottom == foot.region.y


@pytest.mark.parametrize("keys", [("f3",), ("f5",), ("f6",), ("f1",), ("ctrl+p",), ("f8",)])
async def test_f10_leaves_from_every_screen(started, keys):
    """Ctrl+C promises it everywhere."""
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        songs = app.screen
        await pilot.press(*keys)
        await pilot.pause()
        assert app.screen is not songs
        await pilot.press("f10")
        await pilot.pause()
        assert app.leaving


async def test_news_waits_until_a_fault_was_read(started, monkeypatch):
    """A new sound process told at once that the keyboard is there, over the sentence why there is a new one."""
    app, link = started
    set_timer, over = app.set_timer, []

    def timed(seconds, callback, **options):
        if callback == app.notices._is_over:  # when it is over says the test, as a busy machine may be late
            over.append(callback)
        return set_timer(seconds, callback, **options)

    monkeypatch.setattr(app, "set_timer", timed)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        link.report(Notice("error", "The sound did not answer."))
        link.report(Notice("info", "The keyboard is there."))
        await pilot.pause()
        assert app.notice == "! The sound did not answer."
        over[-1]()
        await pilot.pause()
        assert app.notice == "The keyboard is there."


async def test_a_letter_typed_fast_is_for_the_list_that_the_letter_before_it_opens(kit, started):
    """Both keys were on their way to the stand, and the second one was lost there."""
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await kit.put_ferry(pilot)
        for key in "ok":
            app.post_message(Key(key, key))
        await until(pilot, lambda: any(box.border_title == "Which key?" for box in app.screen.query("#pick")))


async def test_what_is_typed_at_one_go_is_for_the_line_that_its_first_letters_open(kit, started):
    """The list was left and the line not there yet: h, a and f were obeyed by the stand between."""
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await kit.put_ferry(pilot)
        before = app.screen.view.stand
        for key in "omhalf":
            app.post_message(Key(key, key))
        app.post_message(Key("enter", None))
        await until(pilot, lambda: app.conductor.stand.tempo_bpm != before.tempo_bpm)
        after = app.conductor.stand
        assert after.tempo_bpm == before.tempo_bpm / 2 and after.loop == before.loop
