"""Keyboards and outputs in the app: chosen, measured by tapping, missing, pulled out in the middle of a pass."""

import time

from sound.soundfonts_made import needs_fluidsynth, sine, soundfont
from textual.widgets import OptionList
from told_passes import reports, right
from tui.conftest import drawn, screen_text
from tui.mill import play_pass, put_mill

from companion.session.practice import KEYBOARD_GONE
from companion.sound.messages import (
    BeatReport,
    Configure,
    Finished,
    KeyboardGone,
    Keyboards,
    Load,
    NoteIn,
    Notice,
    Outputs,
    Play,
)
from companion.store.settings import load_settings
from companion.tui.screens.keyboards import TAP_BARS, TAP_BPM, KeyboardsScreen
from companion.tui.screens.stand import StandScreen

SIZE = (80, 24)


async def test_tapping_with_the_click_measures_and_keeps_what_midi_says(kit, mill_app):
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await pilot.press("f5", "t")
        assert isinstance(app.screen, KeyboardsScreen)
        assert link.told_of(Play)[-1] == Play(TAP_BPM, turns=1)
        for number in range(4 * TAP_BARS):
            due_s = 10.0 + number * 60 / TAP_BPM
            link.report(BeatReport(due_s, 0, number // 4, number // 4, number % 4, 4, TAP_BPM))
            link.report(NoteIn(due_s + 0.034 + 0.002 * (number % 3), 60, 64, "Piano"))
        link.report(Finished(40.0))
        await pilot.pause()
        assert "36 ms" in screen_text(app) and app.settings.practice.latency_ms == 36
        assert load_settings(app.paths).practice.latency_ms == 36
        await pilot.press("t")
        for number in range(4 * TAP_BARS):
            link.report(BeatReport(time.perf_counter(), 0, number // 4, number // 4, number % 4, 4, TAP_BPM))
            await pilot.press("space")
            await pilot.pause(0.03)
        link.report(Finished(40.0))
        await pilot.pause()
        assert app.settings.practice.latency_ms == 36, "the space bar is not the piano"


async def test_keyboards_are_chosen(mill_app):
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        link.report(Keyboards(("Small", "Grand"), ("Small", "Grand")))
        await pilot.press("f5")
        await pilot.pause()
        assert app.screen.query_one("#keyboards-list", OptionList).option_count == 2 + 3 + 1
        await pilot.press("enter")
        assert link.told_of(Configure)[-1].config.midi_in == ("Grand",)
        assert load_settings(app.paths).sound.midi_in == ("Grand",)
        link.report(Keyboards(("Small", "Grand"), ("Grand",)))
        await pilot.pause()
        assert "not heard Small" in screen_text(app)
        await pilot.press("a")
        assert link.told_of(Configure)[-1].config.midi_in == ()
        await pilot.press("escape")
        assert isinstance(app.screen, StandScreen)


async def test_where_no_keyboard_can_be_heard_the_reason_is_said(mill_app):
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("f5")
        await pilot.pause()
        assert "Plug one in" in screen_text(app)
        link.report(Keyboards((), (), "no MIDI library for this Python is installed"))
        await pilot.pause()
        text = " ".join(screen_text(app).split())
        assert "No keyboard can be heard: no MIDI library for this Python is installed." in text
        assert "Plug one in" not in text


async def test_a_keyboard_that_goes_in_the_middle_of_a_pass_breaks_it_off(mill_app, log):
    """The whole way: what the sound process tells, the sentence on the screen, the log; the music plays on."""
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await pilot.press("space")
        end_s = await play_pass(pilot, link)
        arrangement, tempo_bpm = link.told_of(Load)[-1].arrangement, link.told_of(Play)[-1].tempo_bpm
        bars, _ = reports(arrangement, right, end_s, tempo_bpm, 1)
        for report in [report for bar in bars[:2] for report in bar]:
            link.report(report)
        port = next(report.port for report in bars[0] if isinstance(report, NoteIn))
        link.report(Notice("lost", f"The keyboard “{port}” went away. It will be heard again when it is back."))
        link.report(KeyboardGone(port))
        await pilot.pause()
        assert KEYBOARD_GONE in drawn(app, "state")
        whole, every = app.practice_log.passes(), app.practice_log.passes(broken=True)
        assert [record.broken for record in every] == [False, True] and len(whole) == 1
        assert app.screen.view.playing


async def test_where_it_sounds_is_chosen(mill_app):
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        link.report(Keyboards(("Small",), ("Small",)))
        link.report(Outputs(("Synth", "Grand")))
        await pilot.press("f5")
        await pilot.pause()
        assert "✓ sounds    by itself" in screen_text(app)
        await pilot.press("down", "down", "down", "enter")
        config = link.told_of(Configure)[-1].config
        assert (config.mode, config.midi_out) == ("midi", "Synth")
        kept = load_settings(app.paths).sound
        assert (kept.mode, kept.midi_out) == ("midi", "Synth")
        assert "✓ sounds    Synth" in screen_text(app)
        link.report(Outputs(("Grand",)))
        await pilot.pause()
        assert "✓ sounds    Synth, which is not there now" in screen_text(app)
        await pilot.press("up", "up", "enter")
        config = link.told_of(Configure)[-1].config
        assert (config.mode, config.midi_out) == ("auto", "")
        await pilot.press("down", "down", "down", "enter")
        assert load_settings(app.paths).sound.mode == "silent"


async def choose_soundfont(app, pilot, path: str) -> None:
    """As a student types it, from the last row of the page."""
    names = app.screen.query_one("#keyboards-list", OptionList)
    while names.highlighted != names.option_count - 1:
        await pilot.press("down")
    await pilot.press("enter")
    await pilot.pause()
    app.screen.line.value = path
    await pilot.press("enter")
    await pilot.pause()


@needs_fluidsynth
async def test_a_soundfont_is_chosen_and_a_bad_one_is_said(mill_app, tmp_path):
    good, bad = tmp_path / "grand.sf2", tmp_path / "cut.sf2"
    good.write_bytes(soundfont([{}], [sine(440)]))
    bad.write_bytes(good.read_bytes()[:-50])
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await pilot.press("f5")
        await pilot.pause()
        assert "the built-in piano, bass and click" in screen_text(app)
        await choose_soundfont(app, pilot, str(good))
        assert link.told_of(Configure)[-1].config.soundfont == str(good)
        assert load_settings(app.paths).sound.soundfont == str(good)
        assert "grand.sf2, a SoundFont of yours" in screen_text(app)
        configured = len(link.told_of(Configure))
        await choose_soundfont(app, pilot, str(bad))
        assert "cut.sf2 is cut off" in screen_text(app) and len(link.told_of(Configure)) == configured
        assert load_settings(app.paths).sound.soundfont == str(good), "what played goes on"
        await choose_soundfont(app, pilot, str(tmp_path / "nowhere.sf2"))
        assert "There is no such file" in screen_text(app)
        await pilot.press("escape")
        await choose_soundfont(app, pilot, "")
        assert link.told_of(Configure)[-1].config.soundfont == ""
        assert load_settings(app.paths).sound.soundfont == ""
