"""The last change on the stand is taken back by one key, and nothing stops the music or ends the app by surprise."""

from __future__ import annotations

from tui.conftest import play, put_ferry

from companion.sound.messages import SetTempo, Stop


async def test_one_key_takes_back_what_a_key_changed(started):
    app, link = started
    async with app.run_test(size=(80, 24)) as pilot:
        await put_ferry(pilot)
        stands = [app.screen.stand]
        for keys in (("s", "s", "S"), ("l",), ("p",), ("o", "k", "down", "enter"), ("b",), ("f",), ("d",)):
            await pilot.press(*keys)
            await pilot.pause()
            assert app.screen.stand != stands[-1], keys
            stands.append(app.screen.stand)
        for before in reversed(stands[:-1]):
            await pilot.press("u")
            await pilot.pause()
            assert app.screen.stand == before
        assert app.notice == "Taken back: the tempo is 126 again."
        assert link.told_of(SetTempo)[-1].tempo_bpm == 126
        await pilot.press("u")
        assert app.notice == "There is no change to take back."


async def test_a_pinned_shell_is_taken_back_in_its_turn(started):
    app, _ = started
    async with app.run_test(size=(80, 24)) as pilot:
        await put_ferry(pilot)
        own = app.screen.stand.own_pins
        await pilot.press("x", "down", "enter", "p")
        await pilot.pause()
        pinned = app.screen.stand.own_pins
        assert pinned != own
        await pilot.press("u")
        await pilot.pause()
        assert app.screen.stand.own_pins == pinned and app.screen.stand.pattern == "four"
        await pilot.press("u")
        await pilot.pause()
        assert app.screen.stand.own_pins == own


async def test_a_tempo_that_the_climb_sets_is_not_taken_back(started):
    app, _ = started
    async with app.run_test(size=(80, 24)) as pilot:
        await put_ferry(pilot)
        await pilot.press("s")
        app.screen.draw(app.conductor.practise("climb"))
        await pilot.press("u")
        await pilot.pause()
        assert "climb sets the tempo" in app.notice and len(app.conductor.before) == 1


async def test_nothing_stops_the_music_by_surprise(kit, started):
    app, link = started
    async with app.run_test(size=(80, 24)) as pilot:
        await put_ferry(pilot)
        await play(pilot, link, kit)
        await pilot.press("escape")
        await pilot.pause()
        assert app.place == "stand" and app.screen.view.playing and "Space stops it" in app.notice
        for answer in ("n", "enter", "escape", "q"):
            await pilot.press("q")
            await pilot.pause()
            assert app.place == "pick" and app.stand_screen.view.playing
            await pilot.press(answer)
            await pilot.pause()
            assert app.place == "stand" and app.screen.view.playing and not app.leaving
        await pilot.press("w", "f10")
        await pilot.pause()
        assert app.place == "pick" and not app.leaving, "from a page over the stand too"
        await pilot.press("y")
        await pilot.pause()
        assert app.leaving and link.told_of(Stop)


async def test_a_stopped_app_is_left_at_once_and_a_playing_one_when_asked_twice(kit, student):
    app, _ = kit.make_app(student)
    async with app.run_test(size=(80, 24)) as pilot:
        await put_ferry(pilot)
        await pilot.press("q")
        assert app.leaving
    app, link = kit.make_app(student)
    async with app.run_test(size=(80, 24)) as pilot:
        await put_ferry(pilot)
        await play(pilot, link, kit)
        await pilot.press("f10", "f10")
        assert app.leaving
