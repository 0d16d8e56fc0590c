"""Today: whole sentences, on to the next with one key, what got better at the end, and letters that are a title."""

from __future__ import annotations

import time
from dataclasses import replace

import pytest
from store.passes import PASS
from tui.conftest import make_app, screen_text, until
from tui.mill import play_pass
from tui.test_opening import practised

from companion.practice.planning.plan import Plan, PlanItem
from companion.session.overview import keep_plan
from companion.sound.messages import Finished
from companion.tui.draw.today import item_texts

WORDS = (
    "Two bars around G7 that slip one time in three. Play them slowly, and stop when three passes in a row were clean."
)
ITEM = PlanItem("step", 5, WORDS, "x", "Two Jars", "A", (0, 1), tempo_bpm=90.0)
PLAN = Plan("2026-01-05", "2026-01-05T10:00:00+00:00", 20, (replace(ITEM, done=True), *[ITEM] * 4))


def test_reasons_are_whole_sentences_and_what_is_done_makes_room():
    texts = item_texts(PLAN, 74, 14)
    assert all(" ".join(text.split()).endswith(WORDS) for text in texts[1:]), "no sentence is cut"
    assert texts[0] == "✓  5 min  Two Jars, A, at 90"
    assert max(len(line) for text in texts for line in text.splitlines()) <= 74
    assert item_texts(PLAN, 114, 34)[0].endswith("were clean."), "with rows enough all of it stays"


@pytest.mark.parametrize("letter", ["x", "n", "q", "b", "5"])
async def test_a_title_goes_on_in_the_list_whatever_it_begins_with(student, letter):
    practised(student)
    app, _ = make_app(student)
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: app.place == "today")
        before = app.plan
        await pilot.press("down", letter, "o")
        await pilot.pause()
        assert app.place == "songs" and app.screen.query_one("#find").value == letter + "o"
        assert app.plan == before, "nothing was ticked off or planned anew"


async def test_over_the_stand_letters_do_nothing(student):
    practised(student)
    app, _ = make_app(student)
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: app.place == "today")
        await pilot.press(*"coat", "enter", "f3")
        await until(pilot, lambda: app.place == "today" and app.screen.plan is not None)
        await pilot.press("x", "n")
        assert app.place == "today" and not any(item.done for item in app.screen.plan.items)


async def test_one_key_goes_on_from_the_stand_and_the_end_says_what_got_better(mill_app, log):
    app, link = mill_app
    log.add_pass(replace(PASS, song_id="slow-mill", hands="left"))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("f3")
        await until(pilot, lambda: app.place == "today" and app.screen.plan is not None)
        listen = replace(
            app.screen.plan.items[0], kind="step", drill="listen", loop=(0, 1, 2, 3), passes=1, words="Hear."
        )
        keep_plan(log, replace(app.plan, items=(listen, replace(listen, loop=(4, 5), words="Now."))))
        app.screen.read_plan(None)
        app.todays_item.start(listen)
        await until(pilot, lambda: app.place == "stand" and app.screen.view.playing)
        await pilot.press("e")
        assert "not done yet" in app.notice and app.screen.stand.loop == (0, 1, 2, 3)
        await play_pass(pilot, link, None, start_s=time.perf_counter())
        link.report(Finished(0.0))
        await until(pilot, lambda: app.todays_item.done)
        assert "Done. e goes on: " in app.notice and "e today's next" in screen_text(app)
        await pilot.press("e")
        await until(pilot, lambda: app.place == "stand" and app.screen.view.playing and app.screen.stand.loop == (4, 5))
        assert "today's next" not in screen_text(app)
        await play_pass(pilot, link, None, start_s=time.perf_counter())
        link.report(Finished(0.0))
        await until(pilot, lambda: app.todays_item.done)
        assert "Done, and with it all of today." in app.notice and "today's next" not in screen_text(app)
        await pilot.press("e")
        await until(pilot, lambda: app.place == "today" and "Enough for today." in screen_text(app))
