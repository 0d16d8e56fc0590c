"""The app comes back as it was left, also when nobody said goodbye: what changes is on the disk while the app still runs."""

from __future__ import annotations

import pytest
from tui.conftest import drawn, make_app, make_paths, put_ferry, screen_text, until

from companion.sound.messages import SetVolume
from companion.store.own_stand import OwnStand, load_stand
from companion.store.settings import load_settings, save_settings
from companion.theory.key import Key
from companion.tui.screens.songs import SongsScreen

SIZE = (80, 24)
TUNE = """
title = "Cups in the Sink"
key = "F"
meter = "4/4"
tempo = 120
feel = "swing"
form = "A"
[section.A]
bars = "F6 | D7 | Gm7 | C7"
melody = "F8 | D8 | D8 | C8"
"""
FERRY_ID = "lanterns-on-the-slipway"


async def test_what_is_set_on_the_stand_is_there_the_next_day(student):
    app, _ = make_app(student)
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        await pilot.press("S", "S", "s", "l", "l", "p", "c", "c", "c", "b", "d")
        await pilot.press("o", "n", "o", "v", "down", "left", "escape", "o", "k", "down", "enter")
        await pilot.pause()
        left = app.screen.stand
        kept = OwnStand(115, left.key, "B")
        # The app still runs, and may be killed now.
        await until(pilot, lambda: load_stand(student, FERRY_ID) == kept)
        await until(pilot, lambda: load_settings(student).sound.voices["bass"].volume == 0.7)
        settings = load_settings(student)
        assert settings.last_song == FERRY_ID
    again, link = make_app(student)
    async with again.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        now = again.screen.stand
        for name in (
            "tempo_bpm",
            "key",
            "loop",
            "loop_name",
            "pattern",
            "click",
            "bass",
            "demonstrate",
            "count_in_bars",
        ):
            assert getattr(now, name) == getattr(left, name), name
        assert (now.tempo_bpm, now.loop_name, now.demonstrate, now.click.drop_bars) == (115, "B", True, 1)
        assert again.volumes["bass"] == 0.7 and not link.told_of(SetVolume)
        assert "115" in drawn(again, "title")
        await pilot.press("t")
        assert again.screen.stand.tempo_bpm == 126


async def test_in_the_list_the_song_left_off_is_marked(student, monkeypatch):
    """Where what is due is opened, one key leads to the list, and one more to that song."""
    monkeypatch.setattr("companion.tui.navigation.Navigation.open_what_is_due", lambda self: None)
    save_settings(student, {"screen.last_song": "a-coat-for-three"})
    app, _ = make_app(student)
    async with app.run_test(size=SIZE) as pilot:
        songs = lambda: next((screen for screen in app.screen_stack if isinstance(screen, SongsScreen)), None)
        await until(pilot, lambda: songs() is not None and songs().query("#songs-list") and songs().marked is not None)
        assert songs().marked.id == "a-coat-for-three" and songs().shown.index(songs().marked) > 0


async def test_hands_and_a_loop_of_bars_are_kept_for_their_song_alone(tmp_path):
    paths = make_paths(tmp_path / "student", songs=(TUNE,))
    app, _ = make_app(paths)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("enter", "right", "a", "right", "z", "o", "h", "b")
        await pilot.pause()
        song_id = app.screen.stand.original.id
        assert app.screen.stand.hands == "both"
    assert load_stand(paths, song_id) == OwnStand(None, None, "2-3", "both")
    again, _ = make_app(paths)
    async with again.run_test(size=SIZE) as pilot:
        await pilot.press("enter")
        await pilot.pause()
        assert (again.screen.stand.hands, again.screen.stand.loop) == ("both", (1, 2))
        assert again.screen.view.cursor == 1, "shown is where it will start"


async def test_a_song_that_is_only_looked_at_leaves_nothing_of_its_own(student):
    app, _ = make_app(student)
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        await pilot.press("s", "f", "l", "o", "w")
    assert load_stand(student, FERRY_ID) == OwnStand()
    path = student.own / f"{FERRY_ID}.toml"
    assert not path.exists() or not path.read_text("utf-8").strip()


async def test_the_tempo_that_a_climb_works_at_is_kept_and_not_its_target(student):
    app, _ = make_app(student)
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        app.screen.draw(app.conductor.practise("climb"))
        await pilot.pause()
        worked = app.conductor.practice.drill.climb.tempo_bpm
        assert worked < app.screen.stand.song.tempo_bpm
    assert load_stand(student, FERRY_ID).tempo_bpm == pytest.approx(worked, abs=0.05)


async def test_a_damaged_line_is_one_sentence_and_costs_no_pin(student):
    student.own.mkdir(parents=True)
    path = student.own / f"{FERRY_ID}.toml"
    path.write_text('[stand]\ntempo = "brisk" # mine\n[swing]\nversion = "straight"\n', encoding="utf-8")
    app, _ = make_app(student)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press(*"lant", "enter")
        await pilot.pause()
        text = screen_text(app)  # a page, as the path is long
        assert "[stand] tempo is 'brisk'; expected a number from 20 to 400" in " ".join(text.replace("│", " ").split())
        await pilot.press("escape")
        assert app.screen.stand.tempo_bpm == 126
        await pilot.press("s")
        await until(pilot, lambda: "125" in path.read_text("utf-8"))
    assert load_stand(student, FERRY_ID) == OwnStand(125) and "# mine" in path.read_text("utf-8")


async def test_settings_that_cannot_be_read_are_told_of_once_and_left_alone(student):
    student.settings.parent.mkdir(parents=True, exist_ok=True)
    student.settings.write_text("playing = [walking", encoding="utf-8")
    from companion.cli.app import settings_or_shipped
    from companion.tui.app import CompanionApp

    settings, fault = settings_or_shipped(student)
    assert fault
    from tui.conftest import RecordingLink

    app = CompanionApp(student, settings, RecordingLink())
    said = []
    async with app.run_test(size=SIZE) as pilot:
        app.say = lambda sentence: said.append(sentence) if str(student.settings) in sentence else None
        await put_ferry(pilot)
        await pilot.press("p", "b", "c", "p", "d")
        await until(pilot, lambda: said)
        await pilot.press("p")
    assert len(said) == 1 and "\n" not in said[0]
    assert student.settings.read_text("utf-8") == "playing = [walking"


def test_what_a_song_no_longer_has_stays_as_the_song_has_it(student):
    from companion.chart.reader import read_chart
    from companion.session.left_song import as_left, left_as
    from companion.session.stand import Stand

    stand = Stand.put(read_chart(student.songs / f"{FERRY_ID}.toml"), load_settings(student))
    moved = stand.with_key(Key.parse("Db")).with_loop(range(4, 8), "bars 5 to 8").with_tempo(92.5)
    left = left_as(moved, moved.tempo_bpm)
    assert left == OwnStand(92.5, Key.parse("Db"), "5-8")
    assert as_left(stand, left) == moved
    gone = as_left(stand, OwnStand(80, None, "30-64", "right"))
    assert (gone.tempo_bpm, gone.loop, gone.hands) == (80, stand.loop, "left")
