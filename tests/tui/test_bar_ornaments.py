"""Fills and what ends a phrase are offered in the bar's own list, kept for the song, and put off there."""

from __future__ import annotations

from pathlib import Path

from tui.conftest import screen_text

from companion.arranging.choice import IN_SHELLS, ArrangementChoice
from companion.chart.reader import read_chart
from companion.session.bar_ornaments import offers
from companion.store.own_arrangement import load_arrangement, save_arrangement

SONG = read_chart(Path(__file__).parents[2] / "songs" / "sixpence-and-a-quarter.toml")
LAST_OF_SECOND_A = 15


async def test_what_a_bar_has_room_for_is_chosen_and_kept(started, student):
    """The last bar of the second A, before the bridge on the fourth degree."""
    app, _ = started
    async with app.run_test(size=(80, 24)) as pilot:
        app.put_song(SONG)
        await pilot.pause()
        await pilot.press(*["right"] * LAST_OF_SECOND_A, "x")
        await pilot.pause()
        assert "what ends the phrase in the left hand" in screen_text(app)
        await pilot.press(*["down"] * 3, "enter")
        await pilot.pause()
        shown = screen_text(app)
        assert "How does the left hand end bar 8 of A?" in shown and "In shells, G6 Am7 Bm7" in shown
        await pilot.press("up", "up", "enter")  # from how the whole song has it
        await pilot.pause()
        assert load_arrangement(student, SONG.id).bars == {("A", 8, "walk"): IN_SHELLS}
        stand = app.stand_screen.stand
        assert len(stand.bars[LAST_OF_SECOND_A].chords) == 3 and len(stand.song.unroll()[LAST_OF_SECOND_A].chords) == 1
        assert [offer.wish for offer in offers(stand, LAST_OF_SECOND_A, "walk")] == [1, IN_SHELLS, 0, None]
        await pilot.press("x", *["down"] * 3, "enter", *["down"] * 3, "enter")  # with its goal, as a loop
        await pilot.pause()
        looped = app.stand_screen.stand
        assert looped.loop == (15, 16) and "G6 Am7 Bm7" in " ".join(
            placed.symbol for placed in looped.bars[LAST_OF_SECOND_A].chords
        )
        await pilot.press("x", *["down"] * 3, "enter", "down", "down", "enter")
        await pilot.pause()
        assert load_arrangement(student, SONG.id).bars == {}
        assert len(app.stand_screen.stand.bars[LAST_OF_SECOND_A].chords) == 1


async def test_what_goes_under_a_note_is_left_out_and_kept(started, student):
    app, _ = started
    save_arrangement(student, SONG.id, ArrangementChoice(voices=2))
    async with app.run_test(size=(80, 24)) as pilot:
        app.put_song(SONG)
        await pilot.pause()
        await pilot.press("x")
        await pilot.pause()
        await pilot.press(*["down"] * 4, "enter")
        await pilot.pause()
        assert "Under which note of bar 1 of A?" in screen_text(app)
        await pilot.press("enter")
        await pilot.pause()
        assert "as the companion chooses" in screen_text(app)
        await pilot.press("up", "enter")
        await pilot.pause()
        (degrees,) = load_arrangement(student, SONG.id).notes.values()
        assert degrees == () and app.stand_screen.stand.harmonised[0].voicing.added == ()
