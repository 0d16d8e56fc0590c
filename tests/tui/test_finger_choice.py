"""A finger of the student's own for a note of the melody: one key keeps it, the same takes it back, and all that shows fingers has it."""

from __future__ import annotations

from pathlib import Path

from tui.conftest import drawn, screen_text

from companion.chart.reader import read_chart
from companion.errors import SettingsError
from companion.session import own_fingers
from companion.session.right_hand import right_hand
from companion.store.own_melody import load_melody
from companion.store.own_song import own_path
from companion.tui.screens.finger_choice import NO_NOTE

SONG = read_chart(Path(__file__).parents[2] / "songs" / "two-spoons.toml")  # F2 A2 d2 c2 | B6 A2 | ...
HANDS_BOTH = ("o", "h", "b")


def fingers(stand) -> list[int]:
    return [note.finger for note in right_hand(stand)]


async def test_a_finger_is_kept_shown_and_let_go_by_the_same_key(started, student, monkeypatch):
    app, _ = started
    async with app.run_test(size=(120, 40)) as pilot:
        app.put_song(SONG)
        await pilot.pause()
        await pilot.press("o", "f")
        await pilot.pause()
        assert "What else?" in screen_text(app) and "ingers of your own" not in screen_text(app)  # the left hand alone
        await pilot.press("escape", *HANDS_BOTH)
        await pilot.press("v")  # the melody by name
        await pilot.pause()
        own = fingers(app.screen.stand)
        assert own[:4] == [1, 2, 5, 4] and "5" in drawn(app, "need")
        strip = drawn(app, "need")
        await pilot.press("o", "f")
        await pilot.pause()
        shown = screen_text(app)
        assert "beat 3           D5    1 of D6          finger 5" in shown and "yours" not in shown
        await pilot.press("down", "down", "4")
        await pilot.pause()
        assert "finger 4, yours" in screen_text(app)
        assert load_melody(student, SONG.id).fingers == {("A", 1, 3): 4}
        stand = app.stand_screen.stand
        assert fingers(stand)[2] == 4 and app.conductor.stand.own_fingers == {("A", 1, 3): 4}
        await pilot.press("escape")
        await pilot.pause()
        assert drawn(app, "need") != strip, "the strip and the keyboard below it have it at once"
        await pilot.press("o", "f", "down", "down", "9", "4")  # a hand has five
        await pilot.pause()
        assert load_melody(student, SONG.id).fingers == {} and fingers(app.stand_screen.stand) == own
        assert "A.1.3" not in own_path(student, SONG.id).read_text(encoding="utf-8")

        await pilot.press("escape", "u")
        await pilot.pause()
        assert load_melody(student, SONG.id).fingers == {("A", 1, 3): 4} and "Taken back" in screen_text(app)
        await pilot.press("u")
        await pilot.pause()
        assert load_melody(student, SONG.id).fingers == {} and fingers(app.stand_screen.stand) == own
        await pilot.press("o", "f", "down", "down")

        def full(*_) -> None:
            raise SettingsError("your fingers were not saved: the disk is full")

        monkeypatch.setattr(own_fingers, "save_fingers", full)
        await pilot.press("1", "escape")
        await pilot.pause()
        assert "the disk is full" in screen_text(app) and fingers(app.screen.stand)[2] == 1
        await pilot.press(*["right"] * 15, "o", "f")  # z4 z2 E2: bar 16 has one
        await pilot.pause()
        assert "A bar 16" in screen_text(app) and "beat 4" in screen_text(app)


async def test_a_bar_without_a_note_says_so_and_what_is_hidden_stays_hidden(started):
    app, _ = started
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("enter")
        await pilot.pause()
        app.screen._lists.fingers()
        await pilot.pause()
        assert NO_NOTE in screen_text(app)
        app.screen.conductor.practise("dark")
        app.screen._lists.fingers()
        await pilot.pause()
        assert "That is hidden now" in screen_text(app)
