"""Notes written in the app: typed, pressed on a keyboard one by one, and played in with the click."""

from __future__ import annotations

import pytest
from tui.conftest import beat

from companion.chart.melody import section_melody
from companion.chart.reader import read_chart
from companion.practice.leading import Switch
from companion.sound.messages import Finished, Keyboards, Load, NoteIn

SIZE = (80, 24)


@pytest.fixture
def student(kit, tmp_path):
    return kit.make_paths(tmp_path / "student")


@pytest.fixture
def started(kit, student):
    return kit.make_app(student)


async def begin(pilot):
    """A song with four bars of chords, in its first bar."""
    await pilot.press("f6", *"Tune", "enter", "F", "enter")
    for bar in ("F6", "D7", "Gm7", "C7"):
        await pilot.press(*bar, *(["enter"] if bar != "C7" else ["home"]))
    await pilot.pause()


def names(student):
    notes = section_melody(read_chart(student.songs / "tune.toml"), "A")
    return [(note.start_tick, note.pitch.name) for note in notes if note.pitch]


def page(app):
    return app.screen.draft.section.melody


async def test_notes_are_typed_under_the_chords_and_saved(started, student):
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await begin(pilot)
        await pilot.press("tab", *"F2A2", *"c4", "enter", "circumflex_accent", *"F8")
        assert not app.screen.shown.faults
        await pilot.press("enter", *"G4")
        assert app.screen.shown.faults == {(0, 2): "the notes make 2 beats, but a bar of 4/4 has 4"}
        await pilot.press("z", "4", "f2")
        await pilot.pause()
        assert names(student) == [(0, "F4"), (960, "A4"), (1920, "C5"), (3840, "F#4"), (7680, "G4")]
        await pilot.press("tab", "A")  # chords again
        assert app.screen.draft.bar.text == "Gm7A" and page(app).count("G4") == 1


async def test_keys_of_the_piano_are_notes_as_long_as_the_one_before(started, student):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await begin(pilot)
        link.report(NoteIn(1.0, 65, 64, "Piano"))  # on the chords' line keys type nothing
        await pilot.pause()
        await pilot.press("tab")
        for note in (65, 66, 67):
            link.report(NoteIn(1.0, note, 64, "Piano"))
            link.report(NoteIn(1.2, note, 0, "Piano"))
        await pilot.pause()
        await pilot.press("backspace", "4")  # the third is a half note
        link.report(NoteIn(2.0, 70, 64, "Piano"))  # the bar is full: in the next one
        await pilot.pause()
        await pilot.press("backspace", "8", "f2")
        await pilot.pause()
        assert names(student) == [(0, "F4"), (960, "Gb4"), (1920, "G4"), (3840, "Bb4")]


async def test_a_key_that_leads_is_no_note(started):
    app, link = started
    app.student.keep_leading({**app.settings.leading, "start": (Switch("key", 108),)})
    async with app.run_test(size=SIZE) as pilot:
        await begin(pilot)
        await pilot.press("tab")
        for note in (108, 65):
            link.report(NoteIn(1.0, note, 64, "Piano"))
        await pilot.pause()
        assert app.screen.draft.text == "F2"


async def test_a_melody_is_played_in_with_the_click_and_taken_back_with_one_key(started, student):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await begin(pilot)
        link.report(Keyboards(("Piano",), ("Piano",)))
        await pilot.pause()
        app.screen.play_in()
        await pilot.pause()
        assert link.told_of(Load)[-1].arrangement.count_in_bars == 2
        for bar in range(4):
            link.report(beat(bar, due_s=10.0 + 2 * bar, turn=0))
        for number, note in enumerate((65, 69, 72, 69, 66)):
            at = 10.02 + 0.5 * number + (0.012 if number % 2 else -0.008)
            link.report(NoteIn(at, note, 64, "Piano"))
            link.report(NoteIn(at + 0.46, note, 0, "Piano"))
        link.report(Finished(18.0))
        await pilot.pause()
        assert "Taken down: 5 notes" in app.notice
        await pilot.press("f2")
        await pilot.pause()
        wanted = [(0, "F4"), (960, "A4"), (1920, "C5"), (2880, "A4"), (3840, "F#4")]
        assert names(student) == wanted
        await pilot.press("f6")
        assert page(app) == ""


async def test_what_is_played_in_is_given_up_by_escape_and_needs_a_keyboard(started):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await begin(pilot)
        app.screen.play_in()
        await pilot.pause()
        assert "No keyboard is heard" in app.notice and not link.told_of(Load)
        link.report(Keyboards(("Piano",), ("Piano",)))
        await pilot.pause()
        app.screen.play_in()
        link.report(NoteIn(11.0, 65, 64, "Piano"))
        await pilot.pause()
        await pilot.press("escape")
        assert "Given up" in app.notice and page(app) == ""
        assert app.screen.place == "writing"
