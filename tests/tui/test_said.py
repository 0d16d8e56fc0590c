"""What the app says where something went wrong or is missing, and for how long."""

import pytest
from textual.widgets import OptionList
from tui.conftest import drawn, put_ferry, screen_text, until

from companion.sound.messages import Notice, Ready
from companion.store.settings import load_settings
from companion.theory.shell_kinds import Pin
from companion.tui.app import CompanionApp
from companion.tui.notices import FAULT, GOES_ON, lines_of
from companion.tui.screens.read import ReadScreen
from companion.tui.screens.songs import SongsScreen
from companion.tui.screens.stand import StandScreen

SIZE = (80, 24)


async def test_messages_of_the_sound_process_take_one_line(started):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        now = drawn(app, "now")
        link.report(Notice("lost", "The port went away; it plays on silently."))
        await pilot.pause()
        assert " The port went away" in drawn(app, "state") and drawn(app, "now") == now
        link.report(Ready("builtin", "The built-in sound plays.", realtime=False))
        app.unsay()
        await pilot.pause()
        assert "silently" not in drawn(app, "state")


async def test_the_students_own_keys_work_and_bad_ones_are_said(kit, student):
    student.settings.parent.mkdir(parents=True, exist_ok=True)
    student.settings.write_text('[keys]\npattern = "g"\nclick = "ctrl+x"\n', encoding="utf-8")
    app, _link = kit.make_app(student)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        assert "keys.click" in screen_text(app)
        await pilot.press("escape")
        await put_ferry(pilot)
        await pilot.press("p")
        assert app.screen.stand.pattern == "four"
        await pilot.press("g")
        assert app.screen.stand.pattern == "two"


async def test_no_songs_at_all_says_where_they_go(kit, tmp_path):
    paths = kit.make_paths(tmp_path / "empty", songs=())
    app, _ = kit.make_app(paths)
    async with app.run_test(size=(200, 24)) as pilot:
        await pilot.pause()
        assert str(paths.songs) in screen_text(app)
        await pilot.press("enter", "down", "escape")
        assert app.screen.query_one("#songs-list", OptionList).option_count == 0


async def test_what_went_wrong_is_said_in_whole_and_practice_goes_on(kit, student):
    student.pins.parent.mkdir(parents=True, exist_ok=True)
    student.pins.write_text("this is [not TOML", encoding="utf-8")
    fault = "settings.toml: bass is 'tuba'.\nGoing on with the settings as shipped."
    app = CompanionApp(student, load_settings(student), kit.RecordingLink(), fault=fault)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        assert "bass is 'tuba'" in screen_text(app)
        await pilot.press("escape", *"lant", "enter")
        await pilot.pause()
        assert isinstance(app.screen, ReadScreen) and "left out" in screen_text(app)
        await pilot.press("escape", "space")
        assert isinstance(app.screen, StandScreen) and app.screen.view.playing


async def test_a_pin_that_no_longer_fits_does_not_keep_the_song_away(kit, student):
    student.pins.parent.mkdir(parents=True, exist_ok=True)
    student.pins.write_text('[lanterns-on-the-slipway]\n"A.1.1" = "bass-seventh"\n', encoding="utf-8")
    app, _ = kit.make_app(student)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press(*"lant", "enter")
        await pilot.pause()
        assert isinstance(app.screen, StandScreen) and "does not fit" in screen_text(app)
        assert app.screen.stand.own_pins == {("A", 1, 1): Pin("bass-seventh")}, "kept for a hand where it fits"


async def test_a_song_no_hand_can_play_is_a_page_not_a_fall(kit, tmp_path):
    song = kit.FERRY.replace("[section.B]", '[shells]\n"A.1.1" = "bass-seventh"\n\n[section.B]')
    app, _ = kit.make_app(kit.make_paths(tmp_path / "student", songs=(song,)))
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(app.screen, ReadScreen)
        await pilot.press("escape")
        assert isinstance(app.screen, SongsScreen)


@pytest.mark.parametrize("many", [False, True])
async def test_songs_that_cannot_be_listed_are_no_empty_list(started, monkeypatch, many):
    """At once and in the background, as a folder of thousands is read."""
    app, _ = started

    def fail(*_):
        raise RuntimeError("it fell down")

    monkeypatch.setattr("companion.tui.screens.songs.list_songs", fail)
    if many:
        monkeypatch.setattr("companion.tui.screens.songs._READ_AT_ONCE", 0)
    async with app.run_test(size=SIZE) as pilot:
        await until(pilot, lambda: "fell down" in screen_text(app))
        app.unsay()
        await pilot.pause()
        assert "Listing the songs failed" in screen_text(app) and "No songs yet" not in screen_text(app)


async def test_an_export_that_fails_says_so(started, monkeypatch):
    app, _ = started

    def fail(*_):
        raise ValueError("ink is out")

    monkeypatch.setattr("companion.export.apart.export_apart", fail)
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        await pilot.press("o", "e", "enter", "enter")
        await until(pilot, lambda: "ink is out" in screen_text(app))
        assert "Writing" in screen_text(app) and "failed" in screen_text(app)


async def test_ctrl_c_is_answered_in_our_own_words(started):
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("tab", "ctrl+c")
        await pilot.pause()
        assert app.notice == "F10 leaves the companion." and not app._notifications


async def test_a_notice_goes_when_a_key_changes_what_it_covers(started):
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        app.say("Something that was true a moment ago.")
        await pilot.press("c")
        assert not app.notice and "2 and 4" in drawn(app, "state")
        app.say("Another thing.")
        await pilot.press("o", "n")
        assert app.notice.startswith("Count-in: "), "what the key itself has to say stays"


@pytest.mark.parametrize("columns", [30, 76, 116])
def test_a_sentence_is_said_whole_in_lines_that_fit(columns):
    words = "Done, and with it all of today. Kettle on the Sill: clean at its tempo, 60, for the first time."
    for sentence in (words, FAULT + words, "Short.", ""):
        lines = lines_of(sentence, columns)
        assert all(len(line) <= columns for line in lines) and all(line.endswith(GOES_ON) for line in lines[:-1])
        sign = FAULT if sentence.startswith(FAULT) else ""
        assert all(line.startswith(sign) for line in lines)
        assert sign + " ".join(line.removeprefix(sign).removesuffix(GOES_ON) for line in lines) == sentence
        assert len(lines) == 1 or len(sentence) > columns, "no line more than there must be"


async def test_what_has_no_room_in_one_line_is_said_in_the_next(started, monkeypatch):
    app, _ = started
    words = "Done, and with it all of today. Kettle on the Sill: clean at its tempo, 60, for the first time."
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        app.say(words)
        await pilot.pause()
        first, last = lines_of(words, SIZE[0] - 4)
        assert first in drawn(app, "state") and app.notices.text == words
        with monkeypatch.context() as patch:  # the first line is soon over, the last one stays
            patch.setattr("companion.tui.notices.NOTICE_S", 0.05)
            app.say(words)
        await until(pilot, lambda: last in drawn(app, "state"))
