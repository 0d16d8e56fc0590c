"""Chords in root position in the app: reached from the songs and from the stand, played, told, listened to, chosen, left."""

from __future__ import annotations

import time

import pytest
from desk import put
from practice.passes import SONG, played
from session_songs import FOUR
from tui.conftest import screen_text

from companion.practice.drills.root_position import Known
from companion.session.chords.memory import KIND, known_chords
from companion.session.chords.rounds import Setup
from companion.sound.messages import BeatReport, Finished, Keyboards, Load, NoteIn, Play, Sample, Started, Stop
from companion.store.log.practice_log import PracticeLog
from companion.tui.screens.chord_choices import ChordChoices
from companion.tui.screens.chords import ChordsScreen
from companion.tui.screens.pick import PickScreen
from companion.tui.screens.read import lesson_text
from companion.tui.screens.stand import StandScreen

SIZE = (80, 24)


def strike(link, *notes: int, at_s: float = 1.0) -> None:
    for note in notes:
        link.report(NoteIn(at_s, note, 70, "Piano"))
    for note in notes:
        link.report(NoteIn(at_s + 0.2, note, 0, "Piano"))


@pytest.fixture
def ferry_app(kit, tmp_path):
    return kit.make_app(kit.make_paths(tmp_path / "student", songs=(kit.FERRY,)))


@pytest.fixture
def stand(settings):
    return put(FOUR, settings)


async def test_from_todays_plan_and_back_with_its_tick(ferry_app):
    app, _ = ferry_app
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("f3")
        await pilot.pause()
        at = [item.kind for item in app.screen.plan.items].index("chords")
        assert "Lanterns on the Slipway, its chords in root position" in screen_text(app)
        assert app.screen.plan.items[at + 1].kind == "step"
        await pilot.press(*["down"] * at, "enter")
        await pilot.pause()
        assert isinstance(app.screen, ChordsScreen)
        await pilot.press("space", *["enter"] * 40)  # the student's word, also for those that come again
        await pilot.press("space")
        await pilot.pause()
        app.screen.stop()
        await pilot.press("escape")
        await pilot.pause()
        assert app.place == "today" and app.screen.plan.items[at].done
        assert [item.done for item in app.screen.plan.items].count(True) == 1


async def test_from_the_song_list_before_any_stand(ferry_app):
    app, link = ferry_app
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("f2")
        assert isinstance(app.screen, ChordsScreen) and "Lanterns on the Slipway" in screen_text(app)
        await pilot.press("space")
        assert "◇ waits for you   1 of 16" in screen_text(app)
        assert "No keyboard is heard: enter says you have it" in screen_text(app)
        link.report(Keyboards(("Piano",), ("Piano",)))
        strike(link, 46, 50, 53, 55)  # B flat 6 in the left hand
        await pilot.pause()
        assert "2 of 16" in screen_text(app) and "B♭6: " in screen_text(app)
        strike(link, 55, 59, 62, 66, at_s=3.0)
        await pilot.pause()
        assert "the seventh is F." in screen_text(app)
        await pilot.press("space")
        assert "1 of 1 chord right at once" in screen_text(app)
        assert set(known_chords(app.practice_log)) == {"0 Bb 3 5 6"}
        await pilot.press("f4")
        page = screen_text(app)
        assert "s, right at once 1 of 1" in page and page.count("new") >= 12
        await pilot.press("escape", "escape")
        assert app.place == "songs"


async def test_from_the_stand_it_is_offered_first_where_the_chords_are_new(ferry_app):
    app, link = ferry_app
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("enter", "space")
        assert app.stand_screen.view.playing
        await pilot.press("m")
        assert isinstance(app.screen, PickScreen)
        words, first, _ = app.screen._items[0]
        assert (
            first == "chords" and words.endswith("7 of 7 chords new to you") and app.screen._items[1].value == "listen"
        )
        assert app.screen._marked.value == "play", "what is marked stays what is played"
        await pilot.press("up", "up", "enter")
        assert isinstance(app.screen, ChordsScreen) and not app.conductor.playing
        link.told.clear()
        await pilot.press("d", "escape")
        assert isinstance(app.screen, StandScreen)
        assert link.told_of(Sample)[0].notes == (46, 50, 53, 55)
        assert isinstance(link.told[-1], Load) and link.told[-1].arrangement == app.stand_screen.stand.arrangement()


async def test_once_the_song_was_played_it_is_among_the_last_lines(ferry_app, monkeypatch):
    app, _ = ferry_app
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("enter")
        monkeypatch.setattr(app.practice_log, "count", lambda song_id=None: 3)
        await pilot.press("m")
        names = [item.value for item in app.screen._items]
        assert names[-3:] == ["chords", "names", "performance"] and names[0] == "listen"


def test_each_line_of_the_list_goes_round_its_values(stand):
    """Right as often as a line has values comes back to the first; the tempo is held within its bounds."""
    taken: list[Setup] = []
    choices = ChordChoices(None, stand, Setup(), taken.append)
    for name, values in (("hand", 2), ("inversion", 4), ("way", 4), ("order", 4), ("in_time", 2), ("hear_first", 2)):
        words = [choices.words(name)]
        for _ in range(values):
            choices.change(name, 1)
            words.append(choices.words(name))
        assert words[0] == words[-1] and len(set(words)) == values
    choices.change("quality", 1)
    assert "as D7, for round the fourths and down by whole tones" in choices.words("quality")
    for _ in range(30):
        choices.change("tempo_bpm", -1)
    assert "20, with the click" in choices.words("tempo_bpm")


async def test_all_of_it_is_chosen_in_one_list(ferry_app):
    app, link = ferry_app
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("f2", "m", "right", "down", "right", *["down"] * 2, "left", "enter", "space")
        text = screen_text(app)
        assert "1 of 12   one quality down by whole tones" in text
        assert "right hand, first inversion" in text and "degrees 3 5 6 1" in text
        await pilot.press("m", "right", "escape")
        assert "right hand" in screen_text(app), "left without taking anything"
        await pilot.press("f", "F", "space")
        assert "tempo 65" in screen_text(app) and link.told_of(Play)[-1].tempo_bpm == 65.0
        await pilot.press("escape", "f2")
        assert "first inversion" in screen_text(app), "as it was chosen last"


async def test_with_the_click(ferry_app):
    app, link = ferry_app
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("f2", "f", "space")
        number, now_s = link.told_of(Play)[-1].number, time.perf_counter()
        link.report(Started(now_s, number))
        link.report(BeatReport(now_s, -1, 0, -1, 0, 4, 60.0))
        await pilot.pause()
        assert "▶ count-in" in screen_text(app) and "█ 1 █" in screen_text(app)
        link.report(BeatReport(now_s + 4.0, 0, 0, -1, 0, 4, 60.0))
        strike(link, 46, 50, 53, 55, at_s=now_s + 4.02)
        link.report(BeatReport(now_s + 8.0, 0, 1, -1, 0, 4, 60.0))
        await pilot.pause()
        assert "B♭6: right" in screen_text(app) and "2 of 16" in screen_text(app)
        link.report(Finished(now_s + 70.0))
        await pilot.pause()
        assert "1 of 16 chords right and in time." in screen_text(app)
        await pilot.press("escape")
        assert link.told_of(Stop)


async def test_without_a_keyboard_one_key_says_it(ferry_app):
    app, _ = ferry_app
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("f2", "enter", "enter")
        assert "2 of 16" in screen_text(app) and "you say" in screen_text(app)
        await pilot.press("x")
        assert "B♭6 was wrong: it comes again." in screen_text(app)
        assert known_chords(app.practice_log)["0 Bb 3 5 6"].right == 0


async def test_a_song_that_cannot_be_read_has_none(kit, tmp_path):
    app, _ = kit.make_app(kit.make_paths(tmp_path / "student", songs=(kit.BROKEN,)))
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("f2")
        assert app.place == "songs"


@pytest.mark.parametrize("size", [(1, 1), (40, 12), (200, 60)])
async def test_any_window_will_do(ferry_app, size):
    app, _ = ferry_app
    async with app.run_test(size=size) as pilot:
        await pilot.press("f2", "space", "enter", "space")
        assert isinstance(app.screen, ChordsScreen)


def test_the_lesson_offers_new_chords_until_it_is_begun() -> None:
    offer = "6 of 6 chords here are new to you in root position: m teaches them, before the shells."
    with PracticeLog.in_memory() as log:
        assert lesson_text(log, SONG).endswith(offer)
        for name in ("F 3 5 6", "D 3 5 b7", "G b3 5 b7"):
            log.put_state("", f"0 {name}", KIND, Known((1.0,), 1, 1, "2026-01-05").to_json(), "left")
        assert "3 of 6 chords here are new" in lesson_text(log, SONG)
        log.add_pass(played(pattern="whole", tempo_bpm=130.0))
        assert "new to you" not in lesson_text(log, SONG), "never before a lesson that was begun"
