"""What the app answers while one plays, and the key for just what slipped, there and back, as a student presses it."""

import time

import pytest
from told_passes import right
from tui.conftest import drawn
from tui.mill import choose, play_pass, put_mill

from companion.sound.messages import Finished, Keyboards, Load, NoteIn, Play

SIZE = (80, 24)


def slips_in_bar_2(strike):
    """G7 with the key beside its upper note."""
    if strike.group.index == 1:
        return [(0.0, strike.notes[0]), (0.0, strike.notes[1] + 1)]
    return right(strike)


@pytest.mark.parametrize("kind", ["play", "climb"])
async def test_r_after_a_heard_pass_plays_the_change_and_goes_back(mill_app, kind):
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        if kind != "play":
            await choose(pilot, kind)
        assert "what slipped" not in drawn(app, "foot")
        await pilot.press("r")
        assert not link.told_of(Play), "nothing to practise yet"
        await pilot.press("space")
        tempo_bpm = link.told_of(Play)[-1].tempo_bpm
        await play_pass(pilot, link, slips_in_bar_2)
        await pilot.press("space")
        assert "r: B♭6 to G7 (One 2) by itself" in drawn(app, "now") and "r what slipped" in drawn(app, "foot")
        await pilot.press("r")
        await pilot.pause()
        assert [bar.index for bar in link.told_of(Load)[-1].arrangement.bars] == [0, 1]
        assert link.told_of(Play)[-1].tempo_bpm == pytest.approx(tempo_bpm), "at the tempo it slipped at"
        assert "r back" in drawn(app, "foot") and "r goes back" in drawn(app, "state")
        await pilot.press("space", "r")
        await pilot.pause()
        assert len(link.told_of(Load)[-1].arrangement.bars) == 8 and app.conductor.kind == kind
        assert not app.conductor.playing and "r back" not in drawn(app, "foot")


async def test_r_after_a_pass_that_was_told(mill_app):
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await choose(pilot, "fade")
        await pilot.press("space")
        await play_pass(pilot, link, None)
        link.report(Finished(0.0))
        await pilot.pause()
        assert "it broke off" in drawn(app, "now")
        await pilot.press("right", "tab", "enter")
        await pilot.pause()
        await pilot.press("space")
        await pilot.pause()
        assert app.conductor.state.alone == (1, 0), app.conductor.state.alone
        await pilot.press("r")
        await pilot.pause()
        assert [bar.index for bar in link.told_of(Load)[-1].arrangement.bars] == [0, 1]
        await pilot.press("r")
        await pilot.pause()
        assert len(link.told_of(Load)[-1].arrangement.bars) == 8 and app.conductor.kind == "fade"


async def test_free_time_draws_the_key_and_answers_it_and_r_waits_for_the_change(mill_app):
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        link.report(Keyboards(("Piano",), ("Piano",)))
        await pilot.pause()
        await choose(pilot, "free")
        await pilot.press("space")
        stand, now_s = app.screen, time.perf_counter()

        async def strike(*notes, velocity=64):
            for note in notes:
                link.report(NoteIn(now_s, note, velocity, "Piano"))
            await pilot.pause(0.05)

        for number in range(3):
            due = stand.view.waiting.notes
            if number == 1:
                assert "▼" not in drawn(app, "need")
                await strike(due[0], due[1] + 1)
                assert "▼" in drawn(app, "need"), "the key that is down"
                assert "G♭: the seventh is F." in drawn(app, "state"), drawn(app, "state")
                await strike(due[1] + 1, velocity=0)
            await strike(*due)
            assert "the seventh is" not in drawn(app, "state"), "found: nothing is left to say"
            await strike(*due, velocity=0)
            now_s += 1.0
        await pilot.press("space")
        assert "Stopped at" in drawn(app, "now") and "3 of 11 shells, 2 of them" in drawn(app, "now")
        await pilot.press("r")
        assert app.conductor.kind == "free" and stand.view.waiting.index == 0 and "r back" in drawn(app, "foot")
        assert app.conductor.stand.loop == (0, 1)
        await pilot.press("r")
        assert app.conductor.kind == "free" and len(app.conductor.stand.loop) == 8
