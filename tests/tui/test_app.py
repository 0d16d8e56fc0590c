"""The app in a real (headless) terminal, few and real: from the songs to the stand, playing, every key, every size."""

import pytest
from textual.events import Paste
from textual.widgets import Input
from tui.conftest import drawn, play, put_ferry, screen_text

from companion.hands.left.options import pin_of
from companion.sound.messages import Finished, Load, Play, Sample, SetTempo, SetVolume, Started, Stop
from companion.store.pins import load_pins, save_pins
from companion.store.settings import load_settings
from companion.theory.shell_kinds import Pin
from companion.tui.actions import ACTIONS
from companion.tui.app import CompanionApp
from companion.tui.screens.first_pages import FirstScreen
from companion.tui.screens.pick import PickScreen
from companion.tui.screens.read import ReadScreen
from companion.tui.screens.songs import SongsScreen
from companion.tui.screens.stand import StandScreen
from companion.tui.widgets.text_line import MOST_SIGNS

SIZE = (80, 24)


async def test_a_line_takes_no_more_than_fits(started):
    """Each key would cost more than the one before."""
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        line = app.screen.query_one("#find", Input)
        for _ in range(2):
            line.post_message(Paste("lant" * MOST_SIGNS))
        await pilot.press("x")
        assert line.value == "lant" * (MOST_SIGNS // 4)
        await pilot.press("backspace", "x")
        assert line.value.endswith("lanx")
        await pilot.press("ctrl+p")
        line = app.screen.query_one(Input)
        line.post_message(Paste("lant" * MOST_SIGNS))
        await pilot.press(*"lant")
        assert line.value == "lant", "what does not fit is not taken"


async def test_a_new_user_plays_along_within_four_keys(kit, tmp_path):
    paths = kit.make_paths(tmp_path / "new", cautions_seen=False)
    app, link = kit.make_app(paths)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        assert isinstance(app.screen, ReadScreen) and "Stop when it hurts" in screen_text(app)
        await pilot.press("enter")
        assert isinstance(app.screen, FirstScreen)
        await pilot.press("x", "enter", "space")
        assert isinstance(app.screen, StandScreen)
        assert len(link.told_of(Play)) == 1 and link.told_of(Load)
    assert paths.cautions_shown.exists()
    app, _ = kit.make_app(paths)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        assert isinstance(app.screen, StandScreen), (
            "the cautions come once, and the song that was begun is come back to"
        )


async def test_songs_are_found_by_typing_and_faults_stop_nothing(started):
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        assert "not-finished.toml" in screen_text(app) and "plays silently" in screen_text(app)
        await pilot.press(*"slip")
        assert [entry.id for entry in app.screen.shown] == ["lanterns-on-the-slipway"]
        await pilot.press("escape")
        assert len(app.screen.shown) == 3 and not app.screen.query_one("#find", Input).value
        await pilot.press("down", "down", "enter")
        await pilot.pause()
        assert isinstance(app.screen, ReadScreen) and "Hm7" in screen_text(app)
        await pilot.press("escape", "up", "enter")
        await pilot.pause()
        assert app.screen.stand.song.id == "a-coat-for-three", "the last by difficulty"


async def test_beats_are_drawn_as_they_are_reported(kit, started):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        link.report(kit.beat(9))
        await pilot.pause()
        assert "stopped" in drawn(app, "title"), "a beat before the start belongs to nothing"
        await play(pilot, link, kit, 4, 2)
        assert all(word in drawn(app, "title") for word in ("▶", "chorus 1", "bar 5 of 32")) and "█ 3 █" in drawn(
            app, "beat"
        )
        assert "▶Dm7" in drawn(app, "chart")
        assert "next, on beat 1" in drawn(app, "now")
        link.report(kit.beat(31, 3, turn=2))
        await pilot.pause()
        assert "chorus 3" in drawn(app, "title")
        assert "↻A" in drawn(app, "chart"), "the line that comes next is in view"
        await pilot.press("space")
        assert link.told_of(Stop) and app.screen.view.cursor == 31
        link.report(kit.beat(0, 0, turn=3))
        await pilot.pause()
        assert "stopped" in drawn(app, "title"), "a late beat of the stopped pass is not drawn"


async def test_stopped_and_started_again_before_the_first_start_was_told(kit, started):
    """Three times space, faster than the reports come: what is told of the first start belongs to no pass."""
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        await pilot.press("space", "space", "space")
        first, second = link.told_of(Play)
        assert first.number != second.number
        for report in (
            Started(0.0, first.number),
            kit.beat(0),
            Finished(0.0),
            Started(0.1, second.number),
            kit.beat(0),
        ):
            link.report(report)
        await pilot.pause()
        assert app.screen.view.playing and app.screen.view.beat is not None
        assert app.practice_log.passes(broken=True) == []


async def test_a_beat_that_lies_ahead_waits_until_it_is_due(kit, started, monkeypatch):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        await play(pilot, link, kit)
        waits = []
        now_s = [1.65]
        app.conductor._clock = lambda: now_s[0]
        monkeypatch.setattr("companion.tui.one_timer.time.perf_counter", lambda: now_s[0])
        monkeypatch.setattr(app.screen, "set_timer", lambda delay, callback: waits.append((delay, callback)))
        link.report(kit.beat(1, 0, due_s=1.9))
        await pilot.pause()
        delay, draw = waits[-1]
        assert delay == pytest.approx(0.24), "less the way to the terminal"
        assert app.screen.view.here == 0
        now_s[0] = 1.8905
        draw()
        assert app.screen.view.here == 1
        count = len(waits)
        now_s[0] = 1.65
        link.report(kit.beat(2, 0, due_s=1.652))
        await pilot.pause()
        assert app.screen.view.here == 2 and len(waits) == count, "so near that it is drawn at once"


async def test_changes_while_playing_are_sent_at_once(kit, started):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        await play(pilot, link, kit, 8)
        for key, field, value in [
            ("p", "pattern", "two"),
            ("c", "click", "offbeats"),
            ("b", "bass", "two-feel"),
            ("d", "demonstrate", True),
            ("on", "count_in_bars", 0),
        ]:
            loads = len(link.told_of(Load))
            await pilot.press(*key)
            sent = link.told_of(Load)[loads:]
            assert len(sent) == 1
            arrangement = sent[0].arrangement
            found = "left" in arrangement.parts if field == "demonstrate" else getattr(arrangement, field)
            assert getattr(found, "mode", found) == value
        await pilot.press("f", "F", "s", "S", "S")
        assert [message.tempo_bpm for message in link.told_of(SetTempo)] == [127, 132, 131, 126, 121]
        await pilot.press("t")
        assert link.told_of(SetTempo)[-1].tempo_bpm == 126
        await pilot.press("l")
        assert [bar.index for bar in link.told_of(Load)[-1].arrangement.bars] == list(range(8))
        await pilot.press("o", "w", "a")
        bars = link.told_of(Load)[-1].arrangement.bars
        assert [bar.index for bar in bars] == list(range(8, 32)), "from the sounding bar"
        assert app.screen.view.playing and not link.told_of(Stop)


async def test_the_loop_is_marked_with_the_arrows_and_played_from_the_marked_bar(kit, started):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        await pilot.press("right", "right", "a", "down", "right", "z")
        assert app.screen.stand.loop == (2, 3, 4, 5, 6, 7)
        assert "║:Cm7" in drawn(app, "chart").replace("║›", "║:") and ":║" in drawn(app, "chart")
        assert "bar 8 of 32" in drawn(app, "title")
        await pilot.press("left", "enter")
        assert link.told_of(Play)[-1].first_bar == 4
        link.report(Started(0.0))
        link.report(Finished(1.0))
        await pilot.pause()
        assert not app.screen.view.playing


async def test_another_shell_is_heard_kept_and_taken_back(kit, student, started):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        await pilot.press("right", "right")
        before = app.screen.view.now[1].shell
        await pilot.press("x", "down")
        assert isinstance(app.screen, PickScreen)
        heard = link.told_of(Sample)[-1].notes
        await pilot.press("enter")
        await pilot.pause()
        after = app.screen.view.now[1].shell
        assert after.kind != before.kind and after.midi == heard
        assert load_pins(student, "lanterns-on-the-slipway") == {("A", 3, 1): pin_of(after)}
        assert "Pinned" in drawn(app, "state")
        await pilot.press("o", "u")
        assert app.screen.view.now[1].shell == before
        assert load_pins(student, "lanterns-on-the-slipway") == {}
        await pilot.press("o", "u")
        assert "no change to take back" in drawn(app, "state")


async def test_a_pin_written_by_hand_meanwhile_outlives_the_next_choice(kit, student, started):
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        by_hand = {("A", 1, 1): Pin("root-fifth")}
        save_pins(student, "lanterns-on-the-slipway", by_hand)
        await pilot.press("right", "right", "x", "down", "enter")
        await pilot.pause()
        chosen = {("A", 3, 1): pin_of(app.screen.view.now[1].shell)}
        assert load_pins(student, "lanterns-on-the-slipway") == app.screen.stand.own_pins == by_hand | chosen
        by_hand[("A", 1, 1)] = Pin("root-third")
        save_pins(student, "lanterns-on-the-slipway", by_hand | chosen)
        await pilot.press("o", "u")
        assert load_pins(student, "lanterns-on-the-slipway") == by_hand


async def test_why_names_fingers_reason_and_the_next_best(started):
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        await pilot.press("right", "right", "w")
        await pilot.pause()
        text = screen_text(app)
        choice = app.stand_screen.view.now[1]
        assert f"fingers {choice.fingers}" in text and choice.shell.kind in text
        assert "Next best" in text and "in a chorus" in text
        assert "█" in text, "the large chord stays in view"


async def test_key_loop_and_volumes_are_chosen_from_lists(kit, student, started):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        await pilot.press("o", "k", "down", "enter")
        await pilot.pause()
        assert app.screen.stand.key.name == "B" and "B6" in drawn(app, "chart")
        await pilot.press("o", "l", "down", "down", "enter")
        await pilot.pause()
        assert app.screen.stand.loop_name == "B" and app.screen.view.cursor == 16
        await pilot.press("o", "v", "down", "left", "left", "escape")
        await pilot.pause()
        assert link.told_of(SetVolume) == [SetVolume("bass", 0.7), SetVolume("bass", 0.6)]
        assert load_settings(student).sound.voices["bass"].volume == 0.6


async def test_back_to_the_songs_and_again_to_the_stand(started):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        await pilot.press("space", "c", "right", "space", "escape")
        await pilot.pause()
        assert isinstance(app.screen, SongsScreen) and link.told_of(Stop)
        await pilot.press("escape")
        await pilot.pause()
        assert isinstance(app.screen, StandScreen) and app.screen.stand.click.mode == "offbeats"
        await pilot.press("escape")
        await pilot.press(*"coat", "enter")
        await pilot.pause()
        assert app.screen.stand.song.title == "A Coat for Three"
        assert app.screen.stand.click.mode == "offbeats", "the click stays as it was set"


STAND_KEYS = [(key, action) for action in ACTIONS if "stand" in action.where for key in action.keys]


async def test_every_key_of_the_stands_help_does_something(kit, started):
    """Each key changes the picture, tells the sound process something, opens a page or list, or leaves."""
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        stand = app.screen
        for key, action in STAND_KEYS:
            if action.method in ("quit", "songs"):
                continue
            stand.show(cursor=9, notice="")
            stand.action_loop("whole")
            if action.id == "whole-form":
                stand.action_loop("next")
            if action.id == "target-tempo":
                stand.action_change_tempo(-1)
            view, told = stand.view, len(link.told)
            await pilot.press(key)
            await pilot.pause()
            assert (stand.view, len(link.told)) != (view, told) or app.screen is not stand, f"{key} did nothing"
            if app.screen is not stand:
                await pilot.press("escape")
                await pilot.pause()
            stand.stop()
            assert app.screen is stand
        await pilot.press("f2")
        await pilot.pause()
        assert isinstance(app.screen, SongsScreen)
        await pilot.press("f10")
    assert app.return_code == 0


async def test_the_palette_has_what_applies_here(started):
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        titles = {command.title for command in app.get_system_commands(app.screen)}
        assert {"Why this shell", "Loop the whole form", "Theme: choose other colours", "Quit"} <= titles
        assert "Put the song on the stand" not in titles
        await pilot.press("ctrl+p")
        await pilot.pause()
        await pilot.press(*"next bass")
        await pilot.pause(0.3)
        await pilot.press("enter", "enter")
        await pilot.pause(0.3)
        assert app.stand_screen.stand.bass == "two-feel"


async def test_a_song_given_at_the_start_is_on_the_stand(kit, student):
    from companion.chart.reader import read_chart

    song = read_chart(student.songs / "a-coat-for-three.toml")
    app = CompanionApp(student, load_settings(student), kit.RecordingLink(), song)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        assert isinstance(app.screen, StandScreen) and app.screen.stand.song.id == song.id
