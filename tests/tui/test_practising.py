"""Practising in the app: marks, the student's word, the climb, the log, free time, a rest."""

import time

import pytest
from told_passes import right
from tui.conftest import drawn, screen_text
from tui.mill import MILL, choose, play_pass, put_mill

from companion.sound.messages import (
    Finished,
    Keyboards,
    NoteIn,
    Play,
    SetTempo,
)
from companion.store.settings import load_settings
from companion.tui.app import CompanionApp
from companion.tui.screens.read import ReadScreen
from companion.tui.screens.stand import StandScreen

SIZE = (80, 24)


async def test_marks_come_while_playing_and_the_pass_is_in_the_log(mill_app, log):
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await pilot.press("space")

        def hand(strike):
            if strike.group.index == 1:
                return [(0.0, strike.notes[0]), (0.0, strike.notes[1] + 1)]  # G7 with a neighbour
            if strike.group.index == 4:
                return []
            return [
                (0.12 if strike.group.index == 3 else -0.12 if strike.group.index == 5 else 0.0, note)
                for note in strike.notes
            ]

        await play_pass(pilot, link, hand)
        row = drawn(app, "chart")
        for words in ("B♭6 •", "G7 ×", "B♭6 >", "E♭maj7 _", "Am7♭5 <", "F7 •"):
            assert words in row, row
        assert "of 11 chords right" in row, "the summary lies below the chart while the next pass runs"
        assert drawn(app, "now").splitlines()[0].startswith(" now"), "and covers nothing that is played"
        (record,) = log.passes()
        assert record.kind == "play" and record.source == "heard" and record.slipped == (1, 3, 4, 5)
        await pilot.press("space")
        assert "what was played" in drawn(app, "now") and "Costliest" in drawn(app, "now"), "it stays when stopped"
        await pilot.press("right")
        assert "what was played" not in drawn(app, "now"), "until a key"
        await choose(pilot, "fade")
        await pilot.press("space")
        await play_pass(pilot, link)
        assert log.passes()[-1].kind == "fade" and "F7 •" in drawn(app, "chart"), "another way starts afresh"


async def test_without_a_keyboard_one_key_says_how_it_went(mill_app, log):
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await choose(pilot, "climb")
        await pilot.press("space")
        first = link.told_of(Play)[-1]
        assert first.turns == 0 and first.tempo_bpm == pytest.approx(72)
        await play_pass(pilot, link, None)
        link.report(Finished(0.0))
        await pilot.pause()
        assert "it ran" in drawn(app, "now") and "it broke off" in drawn(app, "now")
        await pilot.press("enter")
        await pilot.pause()
        assert link.told_of(Play)[-1].tempo_bpm > 72, "clean: the next pass is faster"
        assert log.passes()[-1].fact == "ran"
        await play_pass(pilot, link, None)
        link.report(Finished(0.0))
        await pilot.pause()
        await pilot.press("right", "tab", "right", "tab", "right", "tab", "tab")
        assert app.screen.view.slips == {1, 2} and "One 2, One 3" in drawn(app, "now")
        assert drawn(app, "chart").count("×") == 2
        await pilot.press("enter")
        await pilot.pause()
        record = log.passes()[-1]
        assert record.slipped == (1, 2) and record.source == "told" and not record.clean
        assert link.told_of(Play)[-1].tempo_bpm < 76, "and falls after a bad one"
        assert drawn(app, "state").strip().startswith("Up to tempo: ") and "120" in drawn(app, "state")


async def test_the_climb_changes_the_tempo_for_the_next_bar_line(mill_app):
    app, link = mill_app
    app.key_heard = True
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await pilot.press("S", "S")
        link.told.clear()
        await pilot.press("m")
        assert "till 80 % of passes are clean" in screen_text(app)
        await pilot.press("escape")
        await choose(pilot, "climb")
        assert app.screen.view.drill.climb.target_bpm == 120, "a tempo slowed down to practise is no target"
        await pilot.press("space")
        await play_pass(pilot, link)
        (change,) = link.told_of(SetTempo)
        assert change.at == "bar" and change.tempo_bpm == pytest.approx(72 * 1.06)
        await pilot.press("f")
        assert len(link.told_of(SetTempo)) == 1 and "climb sets the tempo" in drawn(app, "state")


async def test_tempo_keys_in_a_heard_pass_wait_for_the_bar_line(mill_app, log):
    app, link = mill_app
    app.key_heard = True
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await pilot.press("space")
        await play_pass(pilot, link, finish=False)
        await pilot.press("F", "F", "s")
        assert [(change.tempo_bpm, change.at) for change in link.told_of(SetTempo)] == [
            (125, "bar"),
            (130, "bar"),
            (129, "bar"),
        ]


async def test_a_summary_stays_for_its_own_time(mill_app, monkeypatch):
    """The timer of the pass before does not take the next one's away."""
    monkeypatch.setattr("companion.tui.screens.stand_news.SUMMARY_S", 0.6)
    app, link = mill_app
    app.key_heard = True
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await pilot.press("space")
        end_s = await play_pass(pilot, link)
        await pilot.pause(0.4)
        await play_pass(pilot, link, right, end_s, 1)
        await pilot.pause(0.3)
        assert app.screen.view.summary, "the first timer would have been over by now"
        await pilot.pause(0.8)
        assert not app.screen.view.summary


async def test_a_notice_never_hides_what_a_key_has_changed(mill_app):
    app, _ = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        for key, words in (("p", "two to the bar"), ("c", "2 and 4"), ("b", "two-feel"), ("d", "shells heard")):
            app.say("Something to say.")
            await pilot.press(key)
            assert words in drawn(app, "state")


async def test_a_drill_is_taken_up_where_it_was_left(kit, tmp_path, log):
    paths = kit.make_paths(tmp_path / "student", songs=(MILL,))
    for visit in range(2):
        link = kit.RecordingLink()
        app = CompanionApp(paths, load_settings(paths), link, log=log)
        async with app.run_test(size=SIZE) as pilot:
            await put_mill(pilot)
            await choose(pilot, "fade")
            assert f"Round {visit + 1}:" in drawn(app, "state")
            await pilot.press("space")
            await play_pass(pilot, link)


async def test_free_time_waits_for_the_shell_and_needs_a_keyboard(mill_app, log):
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await choose(pilot, "free")
        assert isinstance(app.screen, ReadScreen) and "keyboard" in screen_text(app)
        await pilot.press("escape")
        link.report(Keyboards(("Piano",), ("Piano",)))
        await pilot.pause()
        await choose(pilot, "free")
        plays = len(link.told_of(Play))
        await pilot.press("space")
        stand = app.screen
        assert stand.view.waiting.index == 0 and "waits for you" in drawn(app, "title")
        now_s = time.perf_counter()
        for _ in range(11):
            target = stand.view.waiting
            link.report(NoteIn(now_s, 30, 64, "Piano"))
            await pilot.pause()
            assert stand.view.waiting == target, "a wrong key moves nothing"
            for note in target.notes:
                link.report(NoteIn(now_s + 1.0, note, 64, "Piano"))
            for note in (30, *target.notes):
                link.report(NoteIn(now_s + 1.1, note, 0, "Piano"))
            now_s += 2.0
            await pilot.pause()
        assert log.passes()[-1].kind == "free" and stand.view.waiting.index == 0, "round again"
        await pilot.press("space")
        assert "Longest waits" in drawn(app, "now") and not stand.view.playing
        assert len(link.told_of(Play)) == plays, "no click"


async def test_a_log_that_cannot_be_had_is_said_and_practice_goes_on(kit, tmp_path):
    paths = kit.make_paths(tmp_path / "student", songs=(MILL,))
    paths.log.mkdir()
    app, link = kit.make_app(paths)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        await pilot.pause()
        assert "practice log" in screen_text(app)
        if isinstance(app.screen, ReadScreen):
            await pilot.press("escape")
        await put_mill(pilot)
        await pilot.press("space")
        await play_pass(pilot, link)
        assert app.practice_log.path is None and len(app.practice_log.passes()) == 1


async def test_a_rest_is_offered_once(mill_app):
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        app.minutes._played_s = 25 * 60.0
        await pilot.press("space")
        await play_pass(pilot, link)
        assert "25 minutes" in drawn(app, "state"), "one line while it plays"
        await pilot.press("space")
        await pilot.pause()
        assert isinstance(app.screen, ReadScreen) and "five minutes" in screen_text(app)
        await pilot.press("space")
        assert isinstance(app.screen, StandScreen) and not app.minutes.rest_is_due
