"""Led from the piano, without the computer's keyboard: keys outside of the music, pedals, foot switches, page turners."""

import time

import pytest
from told_passes import reports, right
from tui.conftest import drawn, screen_text
from tui.mill import play_pass, put_mill

from companion.practice.leading import LEADS, Switch
from companion.sound.messages import Load, NoteIn, PedalIn, Play, SetTempo, Stop, SwitchIn
from companion.store.settings import load_settings
from companion.tui.screens.chords import ChordsScreen
from companion.tui.screens.keyboards import KeyboardsScreen
from companion.tui.screens.stand import StandScreen

SIZE = (80, 24)
HIGH = {"start-stop": 108, "slower": 106, "faster": 107, "next-loop": 105, "repeat": 104}


def down(note):
    return NoteIn(time.perf_counter(), note, 70, "Piano")


def up(note):
    return NoteIn(time.perf_counter(), note, 0, "Piano")


async def tap(pilot, link, note):
    link.report(down(note))
    link.report(up(note))
    await pilot.pause()


async def ask_to_learn(pilot, lead):
    await pilot.press("l", *["down"] * list(LEADS).index(lead), "enter")
    await pilot.pause()
    assert "Press once what is to lead" in screen_text(pilot.app)


async def learn_keys(pilot, link):
    """On the keyboards' screen, each by a press, and back on the stand."""
    await pilot.press("f5")
    assert isinstance(pilot.app.screen, KeyboardsScreen)
    for lead, note in HIGH.items():
        await ask_to_learn(pilot, lead)
        await tap(pilot, link, note)
    await pilot.press("escape")
    assert isinstance(pilot.app.screen, StandScreen)


async def test_keys_are_off_until_they_are_learned_and_lead_from_then_on(mill_app):
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await tap(pilot, link, 108)
        assert not link.told_of(Play), "off until it is learned"
        await learn_keys(pilot, link)
        assert app.settings.leading["slower"] == (Switch("key", 106),)

        await tap(pilot, link, 108)
        assert link.told_of(Play)[-1].tempo_bpm == 120 and app.screen.view.playing
        await tap(pilot, link, 106)
        await tap(pilot, link, 106)
        assert app.screen.stand.tempo_bpm == 110 == link.told_of(SetTempo)[-1].tempo_bpm
        assert "key C♯8" not in drawn(app, "state") and "110 now" in screen_text(app)
        await tap(pilot, link, 107)
        assert app.screen.stand.tempo_bpm == 115
        await tap(pilot, link, 105)
        assert app.screen.stand.loop_name == "One" and len(link.told_of(Load)[-1].arrangement.bars) == 4
        played = len(link.told_of(Play))
        await tap(pilot, link, 104)
        assert len(link.told_of(Play)) == played + 1 and app.screen.view.playing
        await tap(pilot, link, 108)
        assert link.told_of(Stop) and not app.screen.view.playing
    assert load_settings(app.paths).leading == app.settings.leading, "it is kept"


async def test_what_leads_is_never_mistaken_for_music(mill_app):
    """A whole pass that is right, with keys and a pedal that lead pressed in the midst of every bar."""
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await learn_keys(pilot, link)
        await pilot.press("f5")
        await ask_to_learn(pilot, "faster")
        link.report(PedalIn(time.perf_counter(), True, "Piano"))
        await pilot.pause()
        assert "Sustain pedal" in screen_text(app)
        await pilot.press("escape")
        await tap(pilot, link, 108)
        arrangement = link.told_of(Load)[-1].arrangement
        start_s = time.perf_counter() - 500.0
        end_s = await play_pass(pilot, link, start_s=start_s)
        bars, _ = reports(arrangement, right, end_s, 120, 1)
        for bar in bars:
            link.report(bar[0])
            for note in (106, 107):
                at_s = bar[0].due_s if hasattr(bar[0], "due_s") else bar[0].time_s
                link.report(NoteIn(at_s, note, 90, "Piano"))
                link.report(NoteIn(at_s + 0.1, note, 0, "Piano"))
            for report in bar[1:]:
                link.report(report)
        await pilot.pause(0.1)
        records = app.practice_log.passes()
        assert [record.share_right for record in records] == [1.0, 1.0]
        assert not any(record.slipped for record in records)
        assert app.screen.stand.tempo_bpm == 120


async def test_a_key_of_the_music_is_refused_with_a_sentence_and_plays(mill_app):
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await pilot.press("f5")
        await ask_to_learn(pilot, "stop")
        await tap(pilot, link, 48)
        text = " ".join(screen_text(app).split())
        assert "C3 is music: your hands play from E2 to C4 here." in text
        assert app.settings.leading["stop"] == ()
        await tap(pilot, link, 61)
        assert app.settings.leading["stop"] == (Switch("key", 61),)
        await pilot.press("l", "down", "down", "enter", "x")
        assert app.settings.leading["stop"] == ()
        await ask_to_learn(pilot, "stop")
        await pilot.press("escape")
        assert isinstance(app.screen, KeyboardsScreen), "esc leaves the learning first"


@pytest.mark.parametrize(
    "press",
    [
        SwitchIn(1.0, "control", 80, "Pedals"),
        SwitchIn(1.0, "program", 5, "Pedals"),
        PedalIn(1.0, True, "Piano"),
        "pagedown",
        "pageup",
    ],
)
async def test_pedals_foot_switches_and_page_turners_do_the_same(mill_app, press):
    app, link = mill_app

    async def pressed(pilot):
        if isinstance(press, str):
            await pilot.press(press)
        else:
            link.report(press)
        await pilot.pause()

    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await pilot.press("f5")
        await ask_to_learn(pilot, "start-stop")
        await pressed(pilot)
        assert "Learned." in screen_text(app)
        await pilot.press("escape")
        await pressed(pilot)
        assert app.screen.view.playing
        await pressed(pilot)
        assert not app.screen.view.playing
        assert not app.conductor.sources.key_heard, "no pedal is a keyboard"


async def test_page_turners_lead_as_shipped_and_what_leads_rests_away_from_the_stand(mill_app):
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await pilot.press("pageup")
        assert app.screen.stand.loop_name == "One"
        await pilot.press("pagedown")
        assert app.screen.view.playing
        await pilot.press("pagedown")
        await learn_keys(pilot, link)
        await pilot.press("escape")
        played = len(link.told_of(Play))
        await tap(pilot, link, 108)
        assert len(link.told_of(Play)) == played, "nothing starts behind the list of songs"
        await pilot.press("f2")
        await pilot.pause()
        assert isinstance(app.screen, ChordsScreen)
        await tap(pilot, link, 108)
        assert len(link.told_of(Play)) == played
