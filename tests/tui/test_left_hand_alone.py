"""Who plays with the left hand alone is shown, asked and offered nothing of the melody and the right hand, wherever they look."""

from __future__ import annotations

import re

import pytest
from practice.passes import played
from session_songs import SUNG
from tui.conftest import play, screen_text, until

from companion.chart.reader import parse_chart
from companion.session.overview import lesson_of_song, now_here, todays_plan
from companion.store.log.practice_log import PracticeLog
from companion.tui.screens.read import lesson_text

OF_THE_RIGHT_HAND = re.compile(r"melod|right hand|both hands|hands together|swing(ing|s)|finger for", re.IGNORECASE)


@pytest.fixture
def sung_app(kit, tmp_path):
    return kit.make_app(kit.make_paths(tmp_path / "student", songs=(SUNG,)))


async def test_nothing_of_the_right_hand_comes_uninvited(sung_app, kit):
    app, link = sung_app
    seen: list[str] = []

    async def look(pilot, *keys: str) -> None:
        await pilot.press(*keys)
        await pilot.pause()
        seen.append(screen_text(app))

    async with app.run_test(size=(120, 40)) as pilot:
        await look(pilot)
        await look(pilot, "f1")
        await look(pilot, "escape", "f3")
        assert "its chords in root position" in seen[-1] and "Step 1" in seen[-1], "today's plan"
        await look(pilot, "escape", "enter")
        assert app.screen.stand.has_melody
        await look(pilot, "v")
        await look(pilot, "v")
        await look(pilot, "v", "m")
        assert "up to tempo" in seen[-1].casefold()
        await look(pilot, "escape", "o", "e")
        assert "Export what?" in seen[-1]
        await look(pilot, "escape", "o", "i")
        assert "Lesson" in seen[-1]
        await look(pilot, "escape", "f1")
        await look(pilot, "escape", "f4")
        await look(pilot, "escape", "w")
        await look(pilot, "escape", "x")
        await pilot.press("escape")
        app.screen.change(lambda stand: stand.with_key("Db"))
        await look(pilot)
        await play(pilot, link, kit)
        await look(pilot)
        await look(pilot, "space")
        found = [match[0] for text in seen for match in OF_THE_RIGHT_HAND.finditer(text)]
        assert found == [], seen
        # The door stands in the list of all else; behind it there is the rest.
        await pilot.press("o")
        await pilot.pause()
        assert "Choose the hands you play with" in screen_text(app)
        await pilot.press("h", *["down"] * 4, "enter", "m")
        await until(
            pilot, lambda: "Hands together" in screen_text(app) and "Straight, then swinging" in screen_text(app)
        )


def test_nor_in_todays_plan_or_the_lesson_whatever_was_played() -> None:
    song = parse_chart(SUNG, id="sung")
    with PracticeLog.in_memory() as log:
        for number in range(15):
            plan = todays_plan(log, [song], 40, now_here(), afresh=True)
            assert all(item.hands == "left" and item.drill != "swing" for item in plan.items)
            assert not OF_THE_RIGHT_HAND.search(" ".join(item.head + item.words for item in plan.items))
            assert not OF_THE_RIGHT_HAND.search(lesson_text(log, song))
            cues = (1.0, 0.6, 0.0)[number % 3]
            log.add_pass(played(1 - number / 100, range(8), song=song, tempo_bpm=200.0, cues=cues, kind="fade"))
        log.add_pass(played(loop=range(8), song=song, hands="both", id="both"))
        steps = [state.step for state in lesson_of_song(log, song)]
        assert any(step.swing for step in steps) and "swinging" in lesson_text(log, song)
        assert steps[-1].layer == "performance"
