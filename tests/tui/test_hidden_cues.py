"""What the app shows of a chord while a drill hides it: each cue and no more, in the dark nothing."""

import pytest
from told_passes import right
from tui.conftest import drawn, screen_text
from tui.mill import choose, play_pass, put_mill, with_levels

from companion.sound.messages import (
    Finished,
    Play,
    Started,
    Stop,
)
from companion.tui.screens.stand import StandScreen

SIZE = (80, 24)


async def test_the_next_round_hides_cues_and_only_those_that_hold(mill_app, log):
    app, link = mill_app
    app.key_heard = True
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await choose(pilot, "fade")
        assert "Round 1: 0 of 8 bars from memory" in drawn(app, "state")
        await pilot.press("space")
        end_s = await play_pass(pilot, link)
        fade = app.screen.view.drill.fade
        assert fade.round == 2 and min(fade.levels) == 4
        weak = fade.levels.index(4)
        for turn in range(1, 5):
            slip = (lambda strike: [] if strike.group.index == weak else right(strike)) if turn == 4 else right
            before = app.screen.view.drill.fade.levels
            end_s = await play_pass(pilot, link, slip, end_s, turn)
        after = app.screen.view.drill.fade.levels
        assert after[weak] == before[weak] + 1, "what slipped gets its last cue back"
        assert all(new <= old for at, (new, old) in enumerate(zip(after, before, strict=True)) if at != weak)
        assert len(log.passes()) == 5 and log.passes()[-1].round == 5
        assert log.state("slow-mill", "0-7", "fade", "left") is not None
        assert not link.told_of(Stop) and len(link.told_of(Play)) == 1, "round and round without a gap"


NAMES = ["B♭", "E♭", "G7", "Cm", "F7", "Dm", "Am", "maj", "m7", "root-", "seventh", "Bb", "Eb", "7♭5"]


@pytest.mark.parametrize("size", [SIZE, (120, 40), (50, 20), (40, 7)])
async def test_with_nothing_left_to_see_no_chord_or_note_is_on_the_screen(kit, mill_app, size):
    app, link = mill_app
    async with app.run_test(size=size) as pilot:
        await put_mill(pilot)
        app.say("ready")
        assert any(name in screen_text(app) for name in NAMES)
        await choose(pilot, "fade")
        with_levels(app.screen, 0)
        app.say("ready")
        await pilot.press("space")
        link.report(Started(0.0))
        for index in (-1, 0, 1, 2, 3, 6, 7):
            link.report(kit.beat(index, 2, turn=-1 if index < 0 else 0))
            await pilot.pause()
            text = screen_text(app)
            assert not [name for name in NAMES if name in text], text
            assert not any(f" {letter} " in text for letter in "ACDEFG"), text
        for key in ("w", "x"):
            await pilot.press(key)
            assert isinstance(app.screen, StandScreen), "no list or reason gives it away"
        await pilot.press("space", "left", "right")
        assert not [name for name in NAMES if name in screen_text(app)]


@pytest.mark.parametrize(
    ("level", "seen", "hidden"),
    [
        (5, ["G7", "root-", "fingers"], []),
        (4, ["G7", "root-"], []),
        (3, ["G7"], ["root-", "fingers"]),
        (2, ["│▶G… "], ["G7", "root-"]),
        (1, ["│▶·  ·"], ["G7", "root-"]),
        (0, ["│▶bar 2 ", "bar 2 of One"], ["G7", "·", "root-"]),
    ],
)
async def test_each_cue_shows_what_it_should_and_no_more(kit, mill_app, level, seen, hidden):
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await choose(pilot, "fade")
        with_levels(app.screen, level)
        app.unsay()
        await pilot.press("space")
        link.report(Started(0.0))
        link.report(kit.beat(1, 0))
        await pilot.pause()
        picture = "\n".join(drawn(app, part) for part in ("chart", "now"))
        assert all(words in picture for words in seen), picture
        assert not any(words in picture for words in hidden), picture
        keys = drawn(app, "need")
        assert ("root" in keys) == (level == 5), "the keyboard's marks are the strongest cue"
        assert ("Now G7" in drawn(app, "chart")) == (level >= 3), "a teacher's note may name the chord"


async def test_a_look_shows_the_bar_for_a_moment_and_counts(kit, mill_app, monkeypatch):
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await choose(pilot, "fade")
        await pilot.press("h")
        assert "Nothing is hidden" in drawn(app, "state")
        with_levels(app.screen, 0)
        monkeypatch.setattr("companion.tui.screens.stand.PEEK_S", 0.5)
        await pilot.press("space")
        link.report(Started(0.0))
        link.report(kit.beat(1, 0))
        await pilot.pause()
        await pilot.press("h")
        assert "G7" in drawn(app, "chart") and "Cm7" not in drawn(app, "chart")
        assert app.conductor.practice.drill.fade.peeked == {1}
        await pilot.pause(0.6)
        assert "G7" not in drawn(app, "chart")


async def begin_in_bar_3(pilot, app, link, kit, kind):
    """The drill chosen and begun, the second beat of the third bar told."""
    await put_mill(pilot)
    await choose(pilot, kind)
    app.unsay()
    await pilot.press("space")
    link.report(Started(0.0))
    link.report(kit.beat(2, 1))
    await pilot.pause()


async def test_symbols_alone_show_no_note_until_the_end_and_then_comes_memory(kit, mill_app, log):
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await begin_in_bar_3(pilot, app, link, kit, "symbols-only")
        shown = screen_text(app)
        assert all(symbol in shown for symbol in ("B♭6", "E♭maj7", "Am7♭5")), "a lead sheet shows them"
        assert not any(words in shown for words in ("root", "7th", "seventh", "third", "●")), shown
        await pilot.press("space", "space")
        await play_pass(pilot, link)
        link.report(Finished(0.0))
        await pilot.pause()
        assert log.passes()[-1].kind == "symbols-only" and log.passes()[-1].cues == 0.6
        assert {state.loop_key for state in log.states("recall-symbols")} == {"One", "Two"}
        assert "m goes on from memory" in drawn(app, "now")
        await pilot.press("m", "enter")
        assert app.conductor.kind == "fade", "that is what lies under the hand"


async def test_in_the_dark_nothing_but_the_beat_until_the_end(kit, mill_app, log):
    app, link = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await begin_in_bar_3(pilot, app, link, kit, "dark")
        assert set(screen_text(app)) == set(" \n1234▁█") and "█ 2 █" in screen_text(app)
        await pilot.press("space", "space")
        await play_pass(pilot, link)
        link.report(Finished(0.0))
        await pilot.pause()
        assert "B♭6 •" in drawn(app, "chart") and "dark" in drawn(app, "now")
        assert log.passes()[-1].kind == "dark" and log.passes()[-1].cues == 0
        assert app.screen.view.drill.finished and "Next:" in drawn(app, "now")
