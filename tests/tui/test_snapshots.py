"""The screens as pictures, at both sizes, each with a word on the state that was drawn."""

import sys
from dataclasses import replace

import pytest

from companion.practice.drills import climbing
from companion.session.changes import Sign
from companion.session.waiting import WaitingPass
from companion.sound.messages import Keyboards, NoteIn, Started
from companion.tui.screens.chords import ChordsScreen
from companion.tui.screens.songs import SongsScreen
from companion.tui.screens.stand import StandScreen

pytestmark = pytest.mark.skipif(
    sys.version_info[:2] != (3, 11), reason="the pictures were made on Python 3.11; others may differ a little"
)
SIZES = [(80, 24), (120, 40)]


def in_words(size):
    return f"{size[0]}x{size[1]}"


@pytest.fixture
def started(kit, tmp_path):
    return kit.make_app(kit.make_paths(tmp_path / "student", songs=(kit.FERRY, kit.WALTZ, kit.BROKEN)))


@pytest.mark.parametrize("size", SIZES, ids=in_words)
def test_songs(snap_compare, started, size):
    app, _ = started

    async def look(pilot):
        await pilot.pause()
        assert isinstance(app.screen, SongsScreen) and len(app.screen.shown) == 3

    assert snap_compare(app, terminal_size=size, run_before=look)


@pytest.mark.parametrize("size", SIZES, ids=in_words)
def test_stand_while_playing(snap_compare, kit, started, size):
    app, link = started

    async def look(pilot):
        await pilot.press(*"lant", "enter", "space")
        link.report(Started(0.0))
        link.report(kit.beat(4, 2, turn=1))
        await pilot.pause()
        assert isinstance(app.screen, StandScreen)
        assert app.screen.view.sounding and app.screen.view.now[0].chord.symbol == "G7"

    assert snap_compare(app, terminal_size=size, run_before=look)


@pytest.mark.parametrize("size", SIZES, ids=in_words)
def test_why(snap_compare, started, size):
    app, _ = started

    async def look(pilot):
        await pilot.press(*"coat", "enter", "right", "w")
        await pilot.pause()
        assert app.stand_screen.view.now[0].chord.symbol == "B7"

    assert snap_compare(app, terminal_size=size, run_before=look)


@pytest.mark.parametrize("size", SIZES, ids=in_words)
def test_help(snap_compare, started, size):
    app, _ = started

    async def look(pilot):
        await pilot.press(*"lant", "enter", "f1")
        await pilot.pause()
        assert app.screen.query_one("#page").border_title == "Help: the stand"

    assert snap_compare(app, terminal_size=size, run_before=look)


@pytest.mark.parametrize("size", SIZES, ids=in_words)
def test_a_drill_with_cues_gone_and_signs(snap_compare, kit, started, size):
    app, link = started

    async def look(pilot):
        await pilot.press(*"lant", "enter", "m", "m", "w", "space")
        stand = app.screen
        practice = app.conductor.practice
        fade = replace(practice.drill.fade, levels=(5, 4, 3, 2, 1, 0, 1, 2) * 4)
        practice.drill = replace(practice.drill, fade=fade)
        app.conductor.shown.before = {
            (0, 0): Sign("right"),
            (1, 0): Sign("late"),
            (2, 0): Sign("early"),
            (3, 0): Sign("wrong"),
        }
        stand.show(notice="")
        link.report(Started(0.0))
        link.report(kit.beat(4, 2))
        await pilot.pause()
        assert stand.view.cue(4) == 1 and "G7 >" in "".join(stand.query_one("#chart").rows_as_text())

    assert snap_compare(app, terminal_size=size, run_before=look)


@pytest.mark.parametrize("size", SIZES, ids=in_words)
def test_the_question_after_a_pass(snap_compare, started, size):
    app, _ = started

    async def look(pilot):
        await pilot.press(*"lant", "enter", "l", "m", "down", "down", "down", "enter")
        practice = app.conductor.practice
        practice.waiting.passes = (WaitingPass(None, practice.drill, app.screen.stand, frozenset()),)
        practice.let_go = lambda: None  # nothing was played
        app.screen.show(notice="")
        await pilot.press("right", "tab", "right", "right", "tab")
        assert app.screen.view.slips == {1, 3}

    assert snap_compare(app, terminal_size=size, run_before=look)


@pytest.mark.parametrize("size", SIZES, ids=in_words)
def test_a_summary_with_the_climb(snap_compare, started, size):
    app, _ = started

    async def look(pilot):
        await pilot.press(*"lant", "enter", "l", "m", "down", "down", "down", "enter")
        practice = app.conductor.practice
        climb = practice.drill.climb
        for clean in (True, True, True, False, True, True, False, True, True, True):
            climb = climbing.after_pass(climb, clean)
        practice.drill = replace(practice.drill, climb=climb)
        app.screen.show(notice="", summary=("9 of 11 chords right (82 %): 2 late.", "Time: in time."))
        await pilot.pause()
        assert "◆" in "".join(app.screen.query_one("#now").rows_as_text())

    assert snap_compare(app, terminal_size=size, run_before=look)


@pytest.mark.parametrize("size", SIZES, ids=in_words)
def test_chords_in_root_position(snap_compare, started, size):
    app, link = started

    async def look(pilot):
        await pilot.press(*"lant", "f2", "space")
        link.report(Keyboards(("Piano",), ("Piano",)))
        for note in (46, 51):
            link.report(NoteIn(1.0, note, 70, "Piano"))
        await pilot.pause()
        assert isinstance(app.screen, ChordsScreen) and app.screen.roots.shown.answer == "Eb: the third is D."

    assert snap_compare(app, terminal_size=size, run_before=look)
