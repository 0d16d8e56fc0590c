"""The drill of names in the app: from the song's list of ways to practise, the name gone after a moment, the times in a page."""

from __future__ import annotations

from textual.widgets import OptionList
from tui.conftest import put_ferry, screen_text, until
from tui.test_chords import strike

from companion.practice.planning.whole_chords import chord_ids
from companion.session.chords.memory import SHELL_KIND, known_chords
from companion.session.chords.waiting import SEEN_S
from companion.sound.messages import Keyboards

SIZE = (80, 24)


async def test_names_from_the_list_of_ways_and_their_times(started):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        link.report(Keyboards(("Piano",), ("Piano",)))
        await pilot.press("m")
        await pilot.pause()
        assert "Names   " in screen_text(app) and "a name for a moment: strike its shell" in screen_text(app)
        ways = app.screen.query_one("#pick-list", OptionList)
        await pilot.press(*["down"] * (ways.option_count - 2 - ways.highlighted), "enter")  # the last but one
        await pilot.pause()
        assert app.place == "chords" and app.screen.roots.setup.order == "random"
        await pilot.press("space")
        await pilot.pause()
        roots = app.screen.roots
        item, since_s = roots.shown.now, roots.wake_s - SEEN_S
        assert roots.shown.name and not roots.shown.keys and "Which was it?" not in screen_text(app)
        roots.tick(since_s + SEEN_S)
        app.screen.show()
        await pilot.pause()
        assert not roots.shown.name and "Which was it? Strike its shell." in screen_text(app)
        strike(link, *item.shell, at_s=since_s + 1.4)
        await until(pilot, lambda: bool(known_chords(app.practice_log, ("left",), SHELL_KIND)))
        known = known_chords(app.practice_log, ("left",), SHELL_KIND)
        assert known[item.memory_key].times == (1.4,), "from when the name was shown"
        assert known[item.memory_key].right == 1
        assert not known_chords(app.practice_log), "no chord was struck whole"
        await pilot.press("space", "f4")
        await pilot.pause()
        assert "Shells by name" in screen_text(app) and "1.4 s, right at once 1 of 1" in screen_text(app)
        app.show_progress(app.stand_screen.stand.original)
        await pilot.pause()
        await pilot.press("end")
        await pilot.pause()
        # On the song's Progress too; eight chords in FERRY, counted by hand.
        await until(pilot, lambda: "Shells by name" in screen_text(app))
        # Two of its symbols mean one chord (F7 and F7 with more on top): who was asked for that has seen both.
        seen = list(chord_ids(app.stand_screen.stand.original).values()).count(item.memory_key)
        await until(pilot, lambda: f"Left hand: {seen} of 8 names seen, 0 of them sure" in screen_text(app))
