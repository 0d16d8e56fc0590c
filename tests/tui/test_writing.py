"""Songs that are written, changed, imported, taken through all keys and exported in the app: few pilots, and real."""

from __future__ import annotations

import asyncio
import sys
from dataclasses import replace

import pytest
from textual.widgets import Input
from tui.conftest import drawn, until

from companion.authoring.draft import Draft
from companion.authoring.draft_song import bar_text, song_of
from companion.authoring.journal import Journal, kept_drafts
from companion.chart.model import Bar
from companion.chart.reader import read_chart
from companion.sound.messages import Load, Play, Started
from companion.tui.draw.writing import WritingView, draw_written
from companion.tui.screens.ask import AskScreen, complete
from companion.tui.screens.pick import PickScreen
from companion.tui.screens.read import ReadScreen
from companion.tui.screens.songs import SongsScreen
from companion.tui.screens.stand import StandScreen
from companion.tui.screens.writing import WritingScreen

SIZE = (80, 24)
# Thirty-two bars over common progressions, in two halves as on most sheets.
HALVES = (
    ["Fmaj7", "D7", "Gm7", "C7", "Am7 D7", "Gm7 C7", "F6", "Cm7 F7"]
    + ["Bbmaj7", "Bbm6", "Am7", "D7", "G7", "%", "Gm7", "C7"],
    ["Fmaj7", "D7", "Gm7", "C7", "Am7 D7", "Gm7 C7", "F6", "F7"]
    + ["Bbmaj7", "Bdim7", "F/C", "D7b9", "Gm7", "C7sus4 C7", "F6", "Gm7 C7"],
)
THREE_MINUTES_S = 180
SLOW_TYPIST_S = 0.6  # a key, for two fingers that look at the sheet between bars


@pytest.fixture
def student(kit, tmp_path):
    return kit.make_paths(tmp_path / "student")


@pytest.fixture
def started(kit, student):
    return kit.make_app(student)


async def begin(pilot, title="River Steps", key="F"):
    await pilot.press("f6", *title.replace(" ", "_").lower(), "enter", *key, "enter")
    await pilot.pause()
    assert isinstance(pilot.app.screen, WritingScreen)


def keys_of(text):
    names = {" ": "space", "|": "vertical_line", "/": "slash", "%": "percent_sign", "#": "number_sign"}
    return [names.get(sign, sign) for sign in text]


async def test_a_tune_of_32_bars_takes_its_chords_one_key_a_bar_and_a_handful_more(started, student):
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        pressed = []

        async def press(*keys):
            pressed.extend(keys)
            await pilot.press(*keys)

        await press("f6", *"Tune", "enter", "F", "enter")
        for number, half in enumerate(HALVES):
            if number:
                await press("f4")
            for at, bar in enumerate(half):
                await press(*keys_of(bar))
                if at < len(half) - 1:
                    await press(*(["enter"] if at % 2 else ["vertical_line"]))
        await press("f2")
        await pilot.pause()
        song = read_chart(student.songs / "tune.toml")
        assert [len(section.bars) for section in song.sections.values()] == [16, 16] and song.form == ("A", "B")
        assert song.sections["B"].bars[13].chords[0].chord.symbol == "C7sus4"
        typed = sum(len(bar) for half in HALVES for bar in half)
        separators = 32 - 2
        title_and_key = len("Tune") + len("F")
        assert len(pressed) - typed - separators - title_and_key <= 6, "F6, two enters, F4, F2"
        assert len(pressed) * SLOW_TYPIST_S < THREE_MINUTES_S
        assert kept_drafts(student) == [], "what is saved is no draft any more"
        await pilot.press("escape", "enter")
        await pilot.pause()
        assert isinstance(app.screen, StandScreen) and app.screen.stand.song.id == "tune", "practised at once"


async def test_a_bar_with_a_fault_says_why_and_is_mended(started, student):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await begin(pilot)
        await pilot.press(*keys_of("Dm7|Hm7|G7"))
        await pilot.pause()
        assert "!Hm7" in drawn(app, "written") and "also not understood yet: A 2" in drawn(app, "written")
        await pilot.press("f2")
        await pilot.pause()
        assert "did you mean Bm7?" in " ".join(drawn(app, "written").split()) and app.screen.draft.at == (0, 1)
        assert not (student.songs / "river-steps.toml").exists()
        await pilot.press("delete", *"Bm7", "f3")
        await pilot.pause()
        assert "Bm7  B2 A3  root-seventh" in drawn(app, "written")
        (load, play) = (link.told_of(Load)[-1], link.told_of(Play)[-1])
        assert len(load.arrangement.bars) == 1 and "left" in load.arrangement.parts and play.turns == 1
        await pilot.press("f6")
        assert app.screen.draft.bar.text in ("", "Hm7"), "one step back"
        await pilot.press("f7")
        assert app.screen.draft.bar.text == "Bm7"


async def test_copying_another_key_and_the_form(started, student):
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await begin(pilot)
        await pilot.press(*keys_of("Dm7|G7"), "f8", "left", "f8", "f4", "f9")
        assert [bar.text for bar in app.screen.draft.page.sections[1].bars] == ["Dm7", "G7", ""]
        await pilot.press("f5")
        await pilot.pause()
        assert isinstance(app.screen, PickScreen)
        await pilot.press("enter", *keys_of("A C"), "enter")
        await pilot.pause()
        assert isinstance(app.screen, AskScreen), "there is no section C"
        await pilot.press("backspace", *"B", "space", "A", "enter")
        await pilot.pause()
        assert "form A B A" in drawn(app, "written")
        await pilot.press("f5", *["down"] * 7, "enter")
        await pilot.pause()
        app.screen.query_one(Input).value = "Ab"
        await pilot.press("enter")
        await pilot.pause()
        assert [bar.text for bar in app.screen.draft.page.sections[0].bars] == ["Fm7", "Bb7"]
        assert "A♭" in drawn(app, "written")


async def test_a_section_has_a_pickup_of_its_own_with_its_chords(started, student):
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await begin(pilot)
        await pilot.press(*keys_of("Dm7|G7"), "f4", *keys_of("Cmaj7|C6"))
        for down, text in ((10, "1"), (11, "G7")):
            await pilot.press("f5", *["down"] * down, "enter")
            await pilot.pause()
            app.screen.query_one(Input).value = text
            await pilot.press("enter")
            await pilot.pause()
        section = app.screen.draft.page.sections[1]
        assert (section.pickup, section.pickup_chords) == ("1", "G7")
        made = song_of(app.screen.draft.set(title="Pegs").page).sections["B"]
        assert made.pickup == 1 and bar_text(Bar(made.pickup_chords)) == "G7"


async def test_a_draft_that_was_not_saved_is_offered_at_the_next_start(kit, started, student):
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await begin(pilot)
        await pilot.press(*keys_of("Dm7|G"))
        (kept,) = kept_drafts(student)
        assert [bar.text for bar in kept.draft.section.bars] == ["Dm7", "G"], "kept at every key"
    again, _ = kit.make_app(student)
    async with again.run_test(size=SIZE) as pilot:
        await pilot.pause()
        assert isinstance(again.screen, PickScreen)
        await pilot.press("enter", "7", "f2")
        await pilot.pause()
        song = read_chart(student.songs / "river-steps.toml")
        assert [bar.chords[0].chord.symbol for bar in song.sections["A"].bars] == ["Dm7", "G7"]
        assert kept_drafts(student) == []


async def test_a_shipped_song_becomes_the_students_own_when_it_is_changed(kit, tmp_path):
    paths = kit.make_paths(tmp_path / "student", songs=())
    shipped = tmp_path / "shipped"
    shipped.mkdir()
    (shipped / "lanterns-on-the-slipway.toml").write_text(kit.FERRY, encoding="utf-8")
    app, _ = kit.make_app(replace(paths, shipped_songs=shipped))
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        await pilot.press("f7")
        await pilot.pause()
        assert "saved" in drawn(app, "written") and "not saved" not in drawn(app, "written")
        await pilot.press("delete", *keys_of("Ebmaj7"), "f2", "escape")
        await pilot.pause()
        assert isinstance(app.screen, SongsScreen)
        (entry,) = app.screen.shown
        assert entry.own and app.screen.marked == entry
        assert read_chart(entry.path).sections["A"].bars[0].chords[0].chord.symbol == "Ebmaj7"
        assert (shipped / entry.path.name).read_text(encoding="utf-8") == kit.FERRY


async def test_a_song_is_imported_by_its_path_and_what_was_not_understood_is_shown(started, student, tmp_path):
    """The tune is in ABC 2.1, an open standard."""
    sheet = tmp_path / "a sheet.abc"
    sheet.write_text('X:1\nT:Garden Gate\nM:4/4\nL:1/4\nK:G\n"G"G A B c|"D7"d2 d2|"Hm7"G4|"G"G4|]\n', encoding="utf-8")
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        await pilot.press("f8")
        await pilot.pause()
        line = app.screen.query_one(Input)
        line.value = str(tmp_path / "a ")
        line.cursor_position = len(line.value)
        await pilot.press("tab")
        await pilot.pause()
        assert line.value == str(sheet)
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, ReadScreen))
        await pilot.press("enter")
        await pilot.pause()
        assert app.screen.marked.id == "garden-gate" and app.screen.marked.bars == 4
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(app.screen, StandScreen)


async def test_the_loop_goes_through_all_keys_from_the_next_bar_line(kit, started):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press(*"lant", "enter", "l", "o", "a", "enter", "space")
        await pilot.pause()
        link.report(Started(0.0))
        for index in range(8):
            for pulse in range(4):
                link.report(kit.beat(index, pulse, due_s=100 + (4 * index + pulse) * 60 / 126))
        await pilot.pause()
        screen = app.screen
        assert screen.view.next_stand.key.name == "Eb" and "next key: E♭" in drawn(app, "title")
        assert "E♭6" in screen.view.of_coming.stand.song.sections["A"].bars[0].chords[0].chord.symbol.replace("b", "♭")
        await until(pilot, lambda: link.told_of(Load)[-1].arrangement.bars[0].chords[0].chord.symbol == "Eb6")
        assert screen.stand.key.name == "Bb", "handed over before its bar line, shown with its first beat"
        link.report(kit.beat(0, 0, turn=1, due_s=100 + 32 * 60 / 126))
        await pilot.pause()
        await pilot.pause()
        assert screen.stand.key.name == "Eb" and "next key: A♭" in drawn(app, "title")
        await pilot.press("p")
        await pilot.pause()
        assert "next key" not in drawn(app, "title"), (
            "a pass that was changed does not count: the key stays for the next"
        )
        link.report(kit.beat(0, 0, turn=2, due_s=101 + 32 * 60 / 126))
        await until(pilot, lambda: "next key: A♭" in drawn(app, "title"))  # a timer of the app finds it
        await pilot.press("space", "right", "enter")
        assert app.screen.view.next_stand is None, "from a later bar on it is no pass"


async def test_the_stand_exports_while_the_song_plays_on(kit, started, student):
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press(*"lant", "enter", "space", "o", "e", "enter", "enter")
        target = student.exports / "lanterns-on-the-slipway.mid"
        await until(pilot, lambda: "Written" in app.notice)
        assert target.read_bytes()[:4] == b"MThd" and app.screen.view.playing
        await pilot.press("o", "e", "enter")
        await pilot.pause()
        assert app.screen.query_one(Input).value.endswith("-2.mid"), "nothing is written over unasked"
        line = app.screen.query_one(Input)
        line.value = str(student.data / "nowhere" / "x.mid")
        await pilot.press("enter")
        await until(pilot, lambda: "nowhere" in app.notices.text and "Writing" not in app.notice)


# --- below the screen


def test_paths_are_completed_by_folders_and_fitting_files(tmp_path):
    for name in ("sheets", ".hidden"):
        (tmp_path / name).mkdir()
    for name in ("song.abc", "song.mp3", "Some.MXL", ".secret.abc"):
        (tmp_path / name).touch()
    at = f"{tmp_path}/"
    assert complete(at, (".abc", ".mxl")) == [at + "Some.MXL", at + "sheets/", at + "song.abc"]
    assert complete(at + "so", (".abc", ".mxl")) == [at + "song.abc"]
    assert complete(at + ".", (".abc",)) == [at + ".hidden/", at + ".secret.abc"]
    assert complete(str(tmp_path / "none" / "x"), (".abc",)) == []
    assert complete("\0", (".abc",)) == []


@pytest.mark.parametrize("size", [(1, 1), (20, 4), (40, 10), (80, 23), (200, 60)])
def test_the_page_keeps_to_its_window_and_shows_the_bar_being_written(size):
    width, height = size
    draft = Draft()
    for _ in range(40):
        draft = draft.type("Dm7 G7|")
    draft = draft.new_section().type("C6")
    rows = draw_written(WritingView(draft), width, height)
    assert len(rows) <= height and all(sum(len(text) for text, _ in row) <= width for row in rows)
    if height >= 10:
        assert any("C6▏" in "".join(text for text, _ in row) for row in rows)


def test_a_bar_too_long_for_its_cell_shows_its_end_while_it_is_written():
    draft = Draft().type("Dm7:1 G7:1 Cmaj7:1 A7b9:1")
    (row,) = [row for row in draw_written(WritingView(draft), 80, 23) if any("▏" in text for text, _ in row)]
    assert "A7♭9:1▏" in "".join(text for text, _ in row)


# --- pictures


@pytest.mark.skipif(
    sys.version_info[:2] != (3, 11), reason="the pictures were made on Python 3.11; others may differ a little"
)
@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])
def test_writing(snap_compare, kit, student, size):
    draft = (
        Draft()
        .set(title="River Steps", key="Bb")
        .type("Bb6|G7|Cm7|F7|Dm7 G7|Cm7 F7|Bb6|Hm7 F7")
        .new_section()
        .type("D7|%|Gm7 C7")
    )
    Journal(student, "new-1").keep(draft)
    app, _ = kit.make_app(student)

    async def look(pilot):
        await pilot.pause()
        await pilot.press("enter")
        await asyncio.sleep(0.3)
        await pilot.pause()
        assert app.screen.draft.page == draft.page and app.screen.shown.shells

    assert snap_compare(app, terminal_size=size, run_before=look)
