"""Where a song rests on root and fifth is chosen in the list of shells, and kept for that song."""

from __future__ import annotations

from textual.widgets import OptionList

from companion.store.pins import load_rest
from companion.tui.screens.stand import StandScreen

SIZE = (80, 24)
SONG = "lanterns-on-the-slipway"


def resting(screen) -> list[int]:
    choices = enumerate(screen.stand.part.choices)
    return [n for n, choice in choices if choice.shell.kind == "root-fifth" and choice.slot.chord.symbol == "Bb6"]


async def choose_rest(pilot, *keys: str) -> None:
    """The last line of the list of shells, and there."""
    await pilot.press("x")
    shells = pilot.app.screen.query_one(OptionList)
    shells.highlighted = shells.option_count - 1
    await pilot.press("enter")
    await pilot.pause()
    await pilot.press(*keys, "enter")
    await pilot.pause()


async def test_a_song_rests_where_one_chooses_and_another_day_too(kit, tmp_path):
    paths = kit.make_paths(tmp_path / "student", songs=(kit.FERRY, kit.WALTZ))
    app, _ = kit.make_app(paths)
    async with app.run_test(size=SIZE) as pilot:
        await kit.put_ferry(pilot)
        assert resting(app.screen) == []
        await choose_rest(pilot, "down", "down")  # wherever they come
        assert isinstance(app.screen, StandScreen) and len(resting(app.screen)) == 6
        assert app.screen.stand.part.choices[0].why == "Root and fifth, where Bb6 rests."
    assert load_rest(paths, SONG) == "always"
    app, _ = kit.make_app(paths)
    async with app.run_test(size=SIZE) as pilot:
        await kit.put_ferry(pilot)
        assert len(resting(app.screen)) == 6
        await choose_rest(pilot, "up", "up")  # nowhere, as the settings say
        assert resting(app.screen) == []
    assert load_rest(paths, SONG) is None


async def test_a_pin_that_is_chosen_again_keeps_its_reason(kit, tmp_path):
    """The student's own words stand in the file and in the list of reasons, with real signs."""
    paths = kit.make_paths(tmp_path / "student", songs=(kit.FERRY, kit.WALTZ))
    paths.pins.parent.mkdir(parents=True, exist_ok=True)
    written = f'[{SONG}]\n"A.1.1" = "root-third Bb2: like a bell"\n'
    paths.pins.write_text(written, encoding="utf-8")
    app, _ = kit.make_app(paths)
    async with app.run_test(size=SIZE) as pilot:
        await kit.put_ferry(pilot)
        await pilot.press("x", "enter")
        await pilot.pause()
        assert paths.pins.read_text(encoding="utf-8") == written
        await pilot.press("w")
        await pilot.pause()
        text = "\n".join("".join(each.text for each in strip) for strip in app.screen._compositor.render_strips())
        assert "of B♭6" in text and "Like a bell." in text
