"""The first start: three pages that come once, and the first song, whose keys are taught by using them."""

from __future__ import annotations

import tomllib
from dataclasses import replace

import pytest
from tui.conftest import drawn, make_app, make_paths, screen_text

from companion.session.changes import Sign
from companion.session.stand import Stand
from companion.sound.messages import Keyboards, NoteIn, Sample
from companion.store.log.practice_log import PracticeLog
from companion.store.settings import load_settings
from companion.tui.draw.first_pages import REACHES, a_shell, hand_page, keyboard_page, reach_of, sound_page
from companion.tui.draw.row import length
from companion.tui.draw.view import View
from companion.tui.key_lesson import NAMES, KeyLesson
from companion.tui.keymap import Keymap
from companion.tui.screens.first_pages import FirstScreen
from companion.tui.screens.songs import SongsScreen

SIZE = (80, 24)


@pytest.fixture
def new(tmp_path):
    return make_paths(tmp_path / "new", cautions_seen=False)


async def test_three_pages_come_once_and_what_they_set_is_kept(new):
    app, link = make_app(new)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        await pilot.press("enter")
        assert "How far does your left hand reach?" in screen_text(app)
        link.report(Keyboards(("Stage Piano",), ("Stage Piano",)))
        await pilot.pause()
        assert "Hold two keys together on your keyboard" in screen_text(app)
        for note in (48, 62):  # a ninth
            link.report(NoteIn(0.0, note, 60, "Stage Piano"))
        await pilot.pause()
        assert "▶a ninth◀" in screen_text(app)
        for note in (48, 62):
            link.report(NoteIn(0.0, note, 0, "Stage Piano"))
        await pilot.press("enter")
        assert "Press any key of it" in screen_text(app) and "✓ heard" in screen_text(app)
        link.report(NoteIn(0.0, 66, 60, "Stage Piano"))
        await pilot.pause()
        assert "You pressed G♭4: it is heard." in screen_text(app)
        await pilot.press("enter", "space")
        assert link.told_of(Sample) == [Sample((48, 58))], "C and B flat, a shell of C7"
        assert "I hear nothing" in screen_text(app)
        await pilot.press("n")
        assert "1. Nothing was found that could sound." in screen_text(app) and "2. F5 chooses" in screen_text(app)
        await pilot.press("f5", "escape", "enter")
        assert isinstance(app.screen, SongsScreen)
    assert load_settings(new).hand.reach == 14
    app, _ = make_app(new)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        assert isinstance(app.screen, SongsScreen), "once"


async def test_each_page_is_skipped_by_a_key_and_changes_nothing(new):
    app, _ = make_app(new)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        await pilot.press("enter", "right")
        assert "▶a ninth◀" in screen_text(app)
        await pilot.press("escape", "escape")
        assert isinstance(app.screen, FirstScreen) and "(3 of 3)" in screen_text(app)
        await pilot.press("escape")
        assert isinstance(app.screen, SongsScreen)
    assert load_settings(new).hand.reach == 12


async def test_after_a_crash_no_page_comes_again_but_the_keys_go_on_being_taught(new):
    app, _ = make_app(new)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        await pilot.press("enter", "enter")  # the first page was seen, and then the plug was pulled
    assert tomllib.loads(new.settings.read_text())["screen"]["keys_to_learn"].split() == list(NAMES)
    app, _ = make_app(new)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        assert isinstance(app.screen, SongsScreen)
        await pilot.press(*"lant", "enter")
        await pilot.pause()
        assert "····· space starts: hear it once" in drawn(app, "state")
        await pilot.press("space")
        assert "✓···· Too fast, too slow? s makes it slower" in drawn(app, "state")
        await pilot.press("s")
        assert "✓✓··· Hear it to its end" in drawn(app, "state")
    assert load_settings(new).keys_to_learn == "shell answer repeat"


async def test_a_student_with_a_log_sees_no_pages(new):
    new.data.mkdir(parents=True)
    PracticeLog.open(new).close()
    app, _ = make_app(new)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        await pilot.press("enter")
        assert isinstance(app.screen, SongsScreen), "the cautions alone"
        await pilot.press(*"lant", "enter")
        await pilot.pause()
        assert "starts: hear" not in drawn(app, "state")


@pytest.mark.parametrize("width", [80, 120])
def test_each_page_fits_its_window(settings, width):
    keyboards = Keyboards(tuple(f"A keyboard with a long name, number {n}" for n in range(9)), ())
    shell = a_shell(settings.hand)
    pages = [
        *(hand_page(reach, is_heard, width) for reach in REACHES for is_heard in (True, False)),
        keyboard_page(Keyboards((), (), "it is in use by another program"), (), True, width),
        keyboard_page(keyboards, (21, 108), False, width),
        *(sound_page(shell, 0.5, "Built-in sound.", mode, True, width) for mode in ("builtin", "midi", "silent", "")),
    ]
    for page in pages:
        assert len(page) <= 22 and max(length(row) for row in page) <= width


def test_a_reach_is_what_two_keys_span():
    assert [reach_of(held) for held in ((), (60,), (60, 64), (48, 60), (48, 61), (48, 64), (36, 60))] == [
        None,
        None,
        None,
        12,
        12,
        16,
        16,
    ]


# --- the keys of the first song


class Lesson:
    """A lesson of the keys that is told what goes on, each time from what was before."""

    def __init__(self, view: View, *, heard: bool = False) -> None:
        self.kept: list[str] = []
        self.said: list[str] = []
        self.lesson = KeyLesson(NAMES, Keymap(), self.kept.append, self.said.append)
        self.view, self.heard = view, heard

    def tell(self, **fields: object) -> str:
        self.view = self.lesson.teach(self.view, replace(self.view, **fields), heard=self.heard)
        return self.view.taught


@pytest.fixture
def stopped(started) -> View:
    app, _ = started
    from companion.chart.reader import read_chart

    song = read_chart(next(app.paths.songs.glob("lantern*.toml")))
    return View(Stand.put(song, app.settings))


def test_each_key_is_ticked_as_it_is_used_one_at_a_time(stopped):
    told = Lesson(stopped)
    assert told.tell(sound="silent") == "····· space starts."
    assert told.tell(playing=True).startswith("✓···· Too fast")
    assert told.tell(stand=stopped.stand.with_tempo(90.0)).startswith("✓✓··· Strike both filled keys")
    assert told.tell(waits=1) == "✓✓✓··", "the sentence that tells the keys for an answer stands behind"
    assert told.tell(waits=0).startswith("✓✓✓✓· It goes round by itself")
    assert told.tell(playing=False).startswith("✓✓✓✓· space plays it again")
    assert told.tell(playing=True) == ""
    assert told.kept[-1] == "" and told.said == [
        "✓✓✓✓✓ These keys are all you need. F3 tells what comes next, F1 has every other key."
    ]


def test_another_order_ticks_as_well(stopped):
    told = Lesson(stopped)
    assert told.tell(stand=stopped.stand.with_tempo(90.0)) == "·✓··· space starts."
    told.tell(playing=True)
    assert told.tell(slips=frozenset({2})).startswith("✓✓·✓· Strike both")
    assert told.tell(playing=False).startswith("✓✓·✓· space starts. Now you play along")
    assert told.tell(playing=True).startswith("✓✓·✓✓ Strike both")
    assert told.tell(waits=1) == "" and told.said


def test_with_a_keyboard_a_shell_is_ticked_by_striking_it_and_nobody_need_answer(stopped):
    told = Lesson(stopped, heard=True)
    told.tell(playing=True)
    assert "answer" in told.kept[0] or told.view.taught.startswith("✓··✓·")
    assert told.tell(signs={(0, 0): Sign("wrong")}).startswith("✓··✓·")
    assert told.tell(signs={(0, 0): Sign("right")}).startswith("✓·✓✓·")


def test_a_drill_keeps_its_line(stopped):
    from companion.session.drill import DrillSettings, new_drill

    told = Lesson(stopped)
    assert told.tell(drill=new_drill(stopped.stand, "fade", DrillSettings())) == ""
    assert told.tell(drill=new_drill(stopped.stand, "listen", DrillSettings())).startswith("····· space starts: hear")


async def test_the_next_song_teaches_no_keys(new):
    app, _ = make_app(new)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        await pilot.press("enter", "x", *"lant", "enter")
        await pilot.pause()
        await pilot.press("space", "space", "escape", *"coat", "enter")
        await pilot.pause()
        assert "✓" not in drawn(app, "state")
    assert load_settings(new).keys_to_learn == ""
