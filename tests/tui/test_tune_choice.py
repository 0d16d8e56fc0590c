"""The whole tune is made, changed, seen, printed and taken back in the app, and kept for the song."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from tui.conftest import put_ferry, screen_text

from companion.arranging.choice import ArrangementChoice
from companion.chart.reader import read_chart
from companion.session.arranged import arranged
from companion.session.performance import performance
from companion.sound.messages import BeatReport, Load, Play
from companion.store.own_arrangement import load_arrangement
from companion.tui.draw.lines import title_line
from companion.tui.draw.now import draw_now
from companion.tui.screens import exporting
from companion.tui.screens.tune_choice import NO_MELODY

SONG = read_chart(Path(__file__).parents[2] / "songs" / "two-spoons.toml")


async def test_made_changed_and_taken_back(started, student):
    app, link = started
    async with app.run_test(size=(80, 24)) as pilot:
        app.put_song(SONG)
        await pilot.pause()
        await pilot.press("o", "z")
        await pilot.pause()
        assert "right hand      the melody alone" in screen_text(app)
        await pilot.press(*["down"] * 5, "right", "right")
        await pilot.pause()
        stand = app.stand_screen.stand
        assert stand.arranged == ArrangementChoice(voices=3) and "right hand      three" in screen_text(app)
        assert link.told_of(Load)[-1].arrangement == stand.arrangement(), "it is heard from the next bar on"
        await pilot.press("down", "right", *["down"] * 2, "right", "escape", "u", "u", "u")
        await pilot.pause()
        assert app.stand_screen.stand.arranged == ArrangementChoice(voices=2)
        assert app.notice == "Taken back: the whole tune is as before."
        app.student.close()
        assert load_arrangement(student, SONG.id) == ArrangementChoice(voices=2)


async def test_from_a_lead_sheet_to_a_performance_in_under_ten_keys(started, student, monkeypatch):
    """o z a p: made and printed; space: heard once, intro to ending; space: practised; m g space: performed."""
    app, link = started
    written = []
    monkeypatch.setattr(
        exporting.StandExport,
        "_write",
        lambda self, stand, path, options, then: written.append((stand, options)),
    )
    async with app.run_test(size=(80, 24)) as pilot:
        app.put_song(SONG)
        await pilot.pause()
        pressed = ["o", "z", "a", "p"]
        await pilot.press(*pressed)
        await pilot.pause()
        stand = app.stand_screen.stand
        assert stand.hands == "both" and stand.arranged.voices == 2
        assert {bar.stretch for bar in arranged(stand)} == {"intro", "form", "ending"}
        assert [(given.arranged, options.hands) for given, options in written] == [(stand.arranged, "both")]
        await pilot.press("space")
        await pilot.pause()
        heard = link.told_of(Load)[-1].arrangement
        assert heard == performance(stand.to_listen()) and heard.lead_in and heard.ending
        assert link.told_of(Play)[-1].turns == 1
        view = app.stand_screen.view
        for frame, said in (("introduction", "▶ introduction"), ("ending", "▶ ending"), ("", "▶ count-in")):
            there = replace(view, beat=BeatReport(0.0, -1, 0, -1, 0, 4, 120.0, frame))
            assert there.counting_in and said in "".join(text for text, _ in title_line(there, 80))
            assert there.framing in "".join(text for row in draw_now(there, 80, 6) for text, _ in row)
        await pilot.press("space", "m", "g")
        await pilot.pause()
        assert app.place == "performance"
        assert app.screen.performing.stand.arranged == stand.arranged and app.screen.performing.stand.hands == "both"
        assert len([*pressed, "space", "space", "m", "g", "space"]) < 10


async def test_the_page_begins_with_the_bar_at_hand(started, student):
    app, _ = started
    async with app.run_test(size=(80, 24)) as pilot:
        app.put_song(SONG)
        await pilot.pause()
        await pilot.press("right", "right", "o", "z", "b")
        await pilot.pause()
        shown = screen_text(app)
        bar = app.stand_screen.stand.bars[2]
        assert f"from {bar.section} bar 3 on" in shown and f"  3  {bar.chords[0].symbol}" in shown


async def test_without_a_melody_there_is_nothing_to_arrange(started):
    app, _ = started
    async with app.run_test(size=(80, 24)) as pilot:
        await put_ferry(pilot)
        await pilot.press("o", "z")
        await pilot.pause()
        assert app.notices.text == NO_MELODY
