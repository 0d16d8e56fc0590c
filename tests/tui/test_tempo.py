"""The tempo typed and tapped, loops typed, from the stand's list."""

from tui.conftest import play, screen_text
from tui.mill import put_mill

from companion.sound.messages import NoteIn, SetTempo
from companion.tui.screens.stand import StandScreen
from companion.tui.screens.tempo import TempoScreen


async def test_the_tempo_is_typed_doubled_and_halved(mill_app):
    app, link = mill_app
    async with app.run_test(size=(80, 24)) as pilot:
        await put_mill(pilot)
        for typed, tempo_bpm in (("96", 96), ("half", 48), ("d", 96)):
            await pilot.press("o", "m", *typed, "enter")
            assert app.screen.stand.tempo_bpm == tempo_bpm == link.told_of(SetTempo)[-1].tempo_bpm
        await pilot.press("o", "m", *"900", "enter")
        assert "expected beats a minute from 20 to 400" in " ".join(screen_text(app).split())
        await pilot.press("escape")
        assert isinstance(app.screen, StandScreen) and app.screen.stand.tempo_bpm == 96


async def test_the_tempo_is_tapped_with_space_and_with_the_piano(mill_app, kit):
    """While a pass is played, which hears nothing of the taps."""
    app, link = mill_app
    async with app.run_test(size=(80, 24)) as pilot:
        await put_mill(pilot)
        await play(pilot, link, kit)
        await pilot.press("o", "m")
        assert isinstance(app.screen, TempoScreen)
        for number in range(5):
            link.report(NoteIn(1000.0 + 0.75 * number, 48, 64, "Piano"))
            link.report(NoteIn(1000.1 + 0.75 * number, 48, 0, "Piano"))
        await pilot.pause()
        assert app.screen.line.value == "80"
        assert not app.conductor.sources.key_heard and not app.conductor.state.signs
        await pilot.press("enter")
        assert app.screen.stand.tempo_bpm == 80 and app.screen.view.playing

        await pilot.press("o", "m")
        times = iter(2000.0 + 0.5 * number for number in range(5))
        app.screen.clock = lambda: next(times)
        await pilot.press(*["space"] * 5)
        assert app.screen.line.value == "120"
        await pilot.press("enter")
        assert app.screen.stand.tempo_bpm == 120


async def test_what_was_typed_is_taken_back(mill_app):
    """Steps beside a typed tempo are no part of it."""
    app, _ = mill_app
    async with app.run_test(size=(80, 24)) as pilot:
        await put_mill(pilot)
        await pilot.press("s", "s", "o", "m", *"96", "enter", "o", "m", *"half", "enter")
        await pilot.press("o", "y", "2", "minus", "3", "enter", "o", "y", *"two", "enter")
        stand = lambda: app.screen.stand
        assert (stand().tempo_bpm, stand().loop_name) == (48, "Two")
        seen = []
        for _ in range(5):
            await pilot.press("u")
            seen.append((stand().tempo_bpm, len(stand().loop)))
        assert seen == [(48, 2), (48, 8), (96, 8), (118, 8), (120, 8)]


async def test_a_loop_is_typed(mill_app):
    app, _ = mill_app
    async with app.run_test(size=(80, 24)) as pilot:
        await put_mill(pilot)
        for typed, loop in (("2-3", (1, 2)), ("two 3-4", (6, 7)), ("One", (0, 1, 2, 3)), ("whole", tuple(range(8)))):
            await pilot.press(
                "o", "y", *(key if key not in " -" else {" ": "space", "-": "minus"}[key] for key in typed)
            )
            await pilot.press("enter")
            assert app.screen.stand.loop == loop
        await pilot.press("o", "y", *"99", "enter")
        assert "is not a loop of this song" in screen_text(app)
