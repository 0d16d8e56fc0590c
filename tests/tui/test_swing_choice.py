"""How the melody is played is chosen from the stand's list, kept for the song and put back."""

from __future__ import annotations

from pathlib import Path

from tui.conftest import play, put_ferry, screen_text

from companion.chart.reader import read_chart
from companion.errors import SettingsError
from companion.groove.swung_choice import BarVersion, SwungChoice
from companion.sound.messages import Load
from companion.store.own_swing import load_swing
from companion.tui.screens import swing_choice

SONG = read_chart(Path(__file__).parents[2] / "songs" / "left-sock-blues.toml")


async def test_a_version_is_chosen_kept_and_put_back(kit, started, student, monkeypatch):
    app, link = started
    async with app.run_test(size=(80, 24)) as pilot:
        app.put_song(SONG)
        await pilot.pause()
        straight = app.screen.stand.melody
        await pilot.press("o", "s")
        await pilot.pause()
        assert "straight     as it is written" in screen_text(app) and "of 12 bars change" in screen_text(app)
        await pilot.press("down", "down", "enter")
        await pilot.pause()
        stand = app.screen.stand
        assert load_swing(student, SONG.id) == stand.swung == SwungChoice(BarVersion(2)) and stand.melody != straight
        await play(pilot, link, kit)
        loaded = link.told_of(Load)[-1].arrangement.bars
        assert [strike for bar in loaded for strike in bar.written] == [
            strike for bar in stand.arrangement().bars for strike in bar.written
        ]
        await pilot.press("space", "right", "o", "s", *["down"] * 3, "enter")  # the mark is on version 2
        await pilot.pause()
        assert "How is bar 2 of A played?" in screen_text(app)
        await pilot.press("down", "enter")  # round to the first line
        await pilot.pause()
        assert load_swing(student, SONG.id).bars == {("A", 2): None}
        await pilot.press("o", "s", *["up"] * 3, "enter")
        await pilot.pause()
        assert "2 straight, kept" in screen_text(app)
        await pilot.press("escape", "o", "s", "up", "up", "enter")
        await pilot.pause()
        assert app.screen.stand.melody == straight and load_swing(student, SONG.id).whole is None

        def full(*_) -> None:
            raise SettingsError("your choice was not saved: the disk is full")

        monkeypatch.setattr(swing_choice, "save_swing", full)
        await pilot.press("o", "s", "down", "enter")
        await pilot.pause()
        assert "the disk is full" in screen_text(app) and app.stand_screen.stand.melody != straight


async def test_a_song_without_a_melody_says_so_and_a_soloist_lies_back(started, student):
    app, _ = started
    async with app.run_test(size=(80, 24)) as pilot:
        await put_ferry(pilot)  # which has no melody
        await pilot.press("o", "s")
        await pilot.pause()
        assert "has no melody, so there is nothing to swing" in screen_text(app)
        app.put_song(SONG)
        await pilot.pause()
        await pilot.press("o", "s", *["up"] * 3, "right", "right", "down", "enter")
        await pilot.pause()
        assert app.screen.stand.swing_ratio == 1.2
        assert app.screen.stand.arrangement().laid_back and app.settings.playing.laid_back
        assert "a little behind the beat" in screen_text(app)


async def test_a_version_that_is_new_to_the_right_hand_is_heard_once_first(started, student):
    app, _ = started
    async with app.run_test(size=(80, 24)) as pilot:
        app.put_song(SONG)
        await pilot.pause()
        await pilot.press("o", "s", "down", "enter")
        await pilot.pause()
        assert app.conductor.kind == "play", "of the left hand alone it is no new layer"
        await pilot.press("o", "h", "b", "m", "down", "enter", "o", "s", "down", "enter")
        await pilot.pause()
        assert app.conductor.kind == "listen" and "First hear it once" in screen_text(app)
        await pilot.press("m", "down", "enter", "o", "s", "up", "up", "enter")
        await pilot.press("o", "s", "down", "down", "enter")
        await pilot.pause()
        assert app.conductor.kind == "play", "it was put up once"
