"""The melody in the app: its own volume, heard once before hands play that have not played the song, room for it said and kept."""

from textual.widgets import OptionList
from tui.conftest import FERRY, RecordingLink, make_paths, screen_text

from companion.sound.messages import Load, Play, SetVolume
from companion.store.own_melody import load_melody
from companion.store.settings import load_settings
from companion.tui.app import CompanionApp

SIZE = (80, 24)
# The tune goes down to C4, which most shells on C7 reach for.
TUNE = """
title = "Low Lanterns"
key = "F"
meter = "4/4"
tempo = 120
feel = "swing"
form = "A"
[section.A]
bars = "F6 | D7 | Gm7 | C7"
melody = "F8 | D8 | D8 | C8"
"""


def an_app(tmp_path, log):
    paths = make_paths(tmp_path / "student", songs=(TUNE, FERRY))
    link = RecordingLink()
    return CompanionApp(paths, load_settings(paths), link, log=log), link, paths


async def put_tune(pilot):
    await pilot.press(*"low l", "enter")
    await pilot.pause()


async def test_the_melody_has_a_volume_of_its_own_and_new_hands_hear_it_first(tmp_path, log):
    app, link, paths = an_app(tmp_path, log)
    async with app.run_test(size=SIZE) as pilot:
        await put_tune(pilot)
        await pilot.press("o", "v", "down", "down", "down", "left", "left")
        assert "melody  ██████░░░░  60 %" in screen_text(app)
        await pilot.press("escape")
        assert link.told_of(SetVolume)[-1] == SetVolume("right", 0.6)
        assert load_settings(paths).sound.voices["right"].volume == 0.6
        await pilot.press("o", "h", "b")
        await pilot.pause()
        assert app.conductor.stand.hands == "both" and app.conductor.kind == "listen"
        assert "First hear it once" in screen_text(app)
        await pilot.press("space")
        assert {"left", "right"} <= set(link.told_of(Load)[-1].arrangement.parts)
        assert link.told_of(Play)[-1].turns == 1
        await pilot.press("space", "o", "h", "l")
        await pilot.pause()
        assert app.conductor.stand.hands == "left", "what it had begun with needs no such thing"


async def test_what_makes_room_is_said_kept_once_it_is_played_and_chosen(tmp_path, log):
    app, _, paths = an_app(tmp_path, log)
    async with app.run_test(size=SIZE) as pilot:
        await put_tune(pilot)
        stand = app.conductor.stand
        assert stand.room.made_by == "shells" and load_melody(paths, stand.original.id).other_shells == ()
        await pilot.press("space")
        await pilot.pause()
        assert "another shell" in screen_text(app)
        assert [tone.name for tone in load_melody(paths, stand.original.id).other_shells] == ["F"]
        await pilot.press("space")
        await pilot.press("x")
        shells = app.screen.query_one(OptionList)
        names = [str(shells.get_option_at_index(at).prompt) for at in range(shells.option_count)]
        shells.highlighted = next(at for at, words in enumerate(names) if "melody comes close" in words)
        await pilot.press("enter", "down", "down", "enter")
        await pilot.pause()
        assert app.conductor.stand.room.made_by == "octave"
        assert load_melody(paths, app.conductor.stand.original.id).room == "octave"
        assert "an octave higher" in screen_text(app)
