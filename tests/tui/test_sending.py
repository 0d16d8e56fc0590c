"""A song goes from the stand to the teacher in one file, and comes in by the import: the very files of `companion send` and `companion receive`."""

from __future__ import annotations

import threading
import zipfile
from pathlib import Path

import pytest
from tui.conftest import make_paths, put_ferry, screen_text, until
from tui.mill import MILL

from companion.errors import SheetError
from companion.reports.envelope import receive
from companion.store.paths import Paths
from companion.store.pins import load_pins, save_pins
from companion.theory.shell_kinds import Pin

SIZE = (80, 24)
ID = "lanterns-on-the-slipway"
PINS = {("A", 1, 1): Pin.parse("root-third")}


@pytest.fixture
def folder(started, tmp_path, monkeypatch) -> Path:
    """Where exports land; not there yet."""
    folder = tmp_path / "sheets"
    monkeypatch.setattr("companion.tui.app.export_folder", lambda paths, settings, begun: folder)
    return folder


async def send(pilot) -> None:
    await pilot.press("o", "r")
    await until(pilot, lambda: "open its folder" in screen_text(pilot.app))


async def take_in(pilot, path: Path) -> None:
    await pilot.press("f8")
    await pilot.pause()
    pilot.app.screen.line.value = str(path)
    await pilot.press("enter")
    await pilot.pause()


def page(app) -> str:
    """The words of a page, whose long paths go on in the next line."""
    return "".join("".join(line.strip(" │┃║▌▐") for line in screen_text(app).splitlines()).split())


async def test_it_lands_among_the_exports_and_the_page_opens_the_folder(started, folder, student, monkeypatch):
    opened = []
    monkeypatch.setattr("companion.tui.app.open_folder", lambda at: opened.append(at) or "")
    save_pins(student, ID, PINS)
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        app.screen.change(lambda stand: stand.with_loop((0, 1), "bars 1-2"))
        await send(pilot)
        assert str(folder / f"{ID}.zip") in page(app) and "Packing" not in page(app)
        await pilot.press("o")
        await until(pilot, lambda: opened == [folder])
        first = (folder / f"{ID}.zip").read_bytes()
        await send(pilot)
        assert str(folder / f"{ID}-2.zip") in page(app), "nothing is written over"
    assert (folder / f"{ID}.zip").read_bytes() == first
    with zipfile.ZipFile(folder / f"{ID}.zip") as archive:
        assert set(archive.namelist()) >= {"song.toml", "pins.toml", "shells.txt", "report.html"}
        assert '"A.1.1" = "root-third"' in archive.read("pins.toml").decode()
        assert archive.read("song.toml").decode().count("|") >= 14, "the whole song, whatever the loop"


async def test_while_it_plays_no_page_covers_it_and_the_screen_waits_for_nothing(started, folder, kit, monkeypatch):
    began, go_on = threading.Event(), threading.Event()

    def slow(*_: object) -> bytes:
        began.set()
        assert threading.current_thread() is not threading.main_thread() and go_on.wait(120)
        return b"packed"

    monkeypatch.setattr("companion.reports.sending.song_to_send", slow)
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        await kit.play(pilot, link, kit)
        lists = app.screen
        lists.action_export("send")
        await until(pilot, began.is_set)
        tempo_bpm = lists.stand.tempo_bpm
        lists.action_change_tempo(-1)
        assert lists.stand.tempo_bpm == tempo_bpm - 1, "keys are obeyed meanwhile"
        go_on.set()
        await until(pilot, lambda: (folder / f"{ID}.zip").is_file() and "Written" in app.notice)
        assert app.screen is lists and lists.view.playing


async def test_a_folder_that_cannot_be_made_is_one_sentence(started, folder):
    folder.write_text("a file")
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        await pilot.press("o", "r")
        await until(pilot, lambda: "cannotbemade:" in page(app))
    assert folder.read_text() == "a file"


@pytest.fixture
def teacher(tmp_path) -> Paths:
    return make_paths(tmp_path / "teacher", songs=(MILL,))


async def test_what_was_sent_comes_in_by_the_import(started, folder, student, teacher, kit):
    save_pins(student, ID, PINS)
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        await send(pilot)
    theirs, _ = kit.make_app(teacher)
    async with theirs.run_test(size=SIZE) as pilot:
        await take_in(pilot, folder / f"{ID}.zip")
        await until(pilot, lambda: "wastakenin" in page(theirs))
        assert f"{teacher.songs / ID}.tomlwith1shelloftheirownchoice" in page(theirs)
        await pilot.press("escape")
        await pilot.pause()
        assert theirs.place == "songs" and "Lanterns on the Slipway" in screen_text(theirs)
    assert load_pins(teacher, ID) == PINS


async def test_what_is_no_such_file_is_told_as_the_command_tells_it(started, tmp_path):
    bad = tmp_path / "bad.zip"
    with zipfile.ZipFile(bad, "w") as archive:
        archive.writestr("../song.toml", "x")
    app, _ = started
    before = sorted(app.paths.songs.iterdir())
    async with app.run_test(size=SIZE) as pilot:
        await take_in(pilot, bad)
        await until(pilot, lambda: "bad.zipwasnotimported" in page(app))
        with pytest.raises(SheetError) as told:
            receive(bad, app.paths, app.settings)
        assert "folders are not taken in" in str(told.value) and "".join(str(told.value).split()) in page(app)
    assert sorted(app.paths.songs.iterdir()) == before
