"""The whole app and its commands on a full disk, and in a home that can only be read: it goes on, and says so."""

from __future__ import annotations

import pytest
from faults.disk_desk import companion, contents, give_up_rights, is_one_sentence
from store.passes import PASS, numbered
from tui.conftest import RecordingLink, make_paths
from tui.mill import MILL, choose, play_pass, put_mill
from tui.patience import exact_pauses  # noqa: F401  a fixture

from companion.authoring.journal import kept_drafts
from companion.chart.reader import read_chart
from companion.sound.messages import Stop
from companion.store.log.patient_log import PatientLog
from companion.store.log.practice_log import PracticeLog
from companion.store.settings import load_settings
from companion.tui.app import CompanionApp
from companion.tui.screens.first_pages import FirstScreen
from companion.tui.screens.read import ReadScreen
from companion.tui.screens.writing import WritingScreen


@pytest.mark.parametrize("cut", [0, 300, 50_000])
async def test_the_app_says_what_became_of_a_log_that_was_cut_off(tmp_path, cut):
    paths = make_paths(tmp_path / "student", songs=(MILL,))
    with PracticeLog.open(paths) as log:
        log._connection.execute("PRAGMA synchronous = OFF")
        for number in range(150):
            log.add_pass(numbered(number))
    with paths.log.open("rb+") as file:
        file.truncate(cut)
    link = RecordingLink()
    app = CompanionApp(paths, load_settings(paths), link)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.pause()
        assert ("was damaged: it was set aside as" in on_screen(app)) == bool(cut)
        if cut:
            await pilot.press("escape")
        await put_mill(pilot)
        await pilot.press("space")
        await play_pass(pilot, link)
        await pilot.press("space")
    with PracticeLog.open(paths) as log:
        assert log.count() == 1 and len(log.damaged_copies()) == bool(cut)


# --- the whole app


def on_screen(app) -> str:
    strips = app.screen._compositor.render_strips()
    return " ".join("".join(segment.text for strip in strips for segment in strip).replace("│", " ").split())


def desk_app(disk, **options):
    """The app on the student's folders on the disk, with a link that never sounds."""
    link = RecordingLink()
    return CompanionApp(disk.paths, load_settings(disk.paths), link, **options), link


async def test_the_app_goes_on_and_says_so_on_a_full_disk(disk):
    make_paths(disk.home, songs=(MILL,))
    app, link = desk_app(disk)
    async with app.run_test(size=(80, 24)) as pilot:
        await put_mill(pilot)
        await pilot.press("space")
        end_s = await play_pass(pilot, link)
        disk.fill()
        for turn in range(1, 4):
            end_s = await play_pass(pilot, link, start_s=end_s, turn=turn)
        waiting = app.practice_log.passes_waiting
        assert waiting >= 2 and f"{waiting} passes not in the practice log yet: the disk is full." in on_screen(app)
        assert app.stand_screen.view.playing
        disk.make_room()
        await play_pass(pilot, link, start_s=end_s, turn=4)
        assert f"can be written again: {waiting + 1} passes now in it." in on_screen(app)
        await pilot.press("space")
    assert app.parting == "" and link.told_of(Stop)
    with PracticeLog.open(disk.paths) as log:
        assert log.count() == 5


def test_ticks_that_can_never_be_written_are_said_at_the_end_too(disk):
    log = PatientLog.begin(disk.paths)
    disk.fill()
    for count in range(40):  # the file may have room left in itself
        log.put_state("", "", f"plan {count}", ["x" * 4000])
    log.settle()
    log.close()
    assert log.messages == [
        "Not remembered yet: the disk is full.",
        "What was ticked off or set last could not be written to the practice log and is lost: the disk is full.",
    ]


async def test_what_was_lost_is_said_after_the_end(disk):
    make_paths(disk.home, songs=(MILL,))
    app, link = desk_app(disk)
    async with app.run_test(size=(80, 24)) as pilot:
        await put_mill(pilot)
        disk.fill()
        await pilot.press("space")
        end_s = await play_pass(pilot, link)
        for turn in range(1, 3):
            end_s = await play_pass(pilot, link, start_s=end_s, turn=turn)
        await pilot.press("space")
    lost = app.practice_log.passes_waiting
    assert (
        lost >= 2
        and app.parting == f"{lost} passes could not be written to the practice log and are lost: the disk is full."
    )


async def test_writing_a_song_goes_on_on_a_full_disk_and_no_letter_is_lost(disk):
    make_paths(disk.home, songs=(MILL,))
    app, _ = desk_app(disk)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press("f6", *"New", "enter", "enter")
        await pilot.pause()
        await pilot.press(*"F6", "space")
        await pilot.pause()
        (kept,) = kept_drafts(disk.paths)
        disk.fill()
        before = contents(disk.home)
        await pilot.press(*"|Bb7|")
        await pilot.pause()
        assert app.screen.draft.page != kept.draft.page
        assert "Your draft cannot be kept (No space left on device)" in on_screen(app)
        await pilot.press("escape")
        assert isinstance(app.screen, WritingScreen), "it does not close over what would be lost"
        await pilot.press("f2")
        await pilot.pause()
        assert "was not saved (No space left on device)" in on_screen(app)
        await pilot.press("escape")
        assert isinstance(app.screen, WritingScreen), "it stays open"
        assert contents(disk.home).keys() == before.keys()
        written = app.screen.draft.page
        disk.make_room()
        await pilot.press("f2")
        await pilot.pause()
        assert app.screen.is_saved
        await pilot.press("escape")
    assert kept_drafts(disk.paths) == []
    (path,) = (path for path in disk.paths.songs.glob("*.toml") if path.stem != "slow-mill")
    assert len(read_chart(path).sections["A"].bars) == len(
        [bar for bar in written.sections[0].bars if bar.text.strip()]
    )


# --- a home that can only be read


@pytest.mark.parametrize("used", [True, False], ids=["used", "new"])
async def test_the_app_in_a_home_that_can_only_be_read(disk, used):
    make_paths(disk.home, songs=(MILL,), cautions_seen=used)
    if used:
        with PracticeLog.open(disk.paths) as log:
            log.add_pass(PASS)
    before = contents(disk.home)
    disk.lock()
    app, link = desk_app(disk)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        said = []
        for _ in range(4):  # pages to read, the cautions among them where they were never seen
            await pilot.pause()
            if isinstance(app.screen, ReadScreen):
                said.append(on_screen(app))
                await pilot.press("escape")
            elif isinstance(app.screen, FirstScreen):
                await pilot.press("x")
        said.append(on_screen(app))
        assert any("practice log" in words and "as soon as that can be had" in words for words in said), said
        await put_mill(pilot)
        await choose(pilot, "fade")
        await pilot.press("space")
        end_s = await play_pass(pilot, link)
        await play_pass(pilot, link, start_s=end_s, turn=1)
        assert app.screen.view.drill.fade.round >= 2
        await pilot.press("space")
        await pilot.press("x", "down", "enter")
        await pilot.pause()
        assert "your choice of shell was not saved" in " ".join([on_screen(app), app.notice])
        await pilot.press("escape", "escape", "o", "v", "left", "escape")
        await pilot.pause()
    assert app.parting.startswith("2 passes could not be written to the practice log and are lost: ")
    assert is_one_sentence(app.parting)
    disk.unlock()
    assert contents(disk.home) == before


def test_commands_of_a_student_who_may_not_write(tmp_path):
    home = tmp_path / "home"
    home.mkdir(mode=0o555)
    sheet = tmp_path / "sheet.abc"
    sheet.write_text('X:1\nT:Small Sheet\nM:4/4\nL:1/4\nK:F\n"F6" A4 | "C7" G4 |]\n')
    for command, code in {
        ("songs",): 0,
        ("where",): 0,
        ("shells", "left-sock-blues"): 0,
        ("play", "--chords", "F6", "--tempo", "300", "--sound", "silent"): 0,
        ("log",): 1,
        ("import", str(sheet)): 1,
    }.items():
        done = companion(*command, home=home, preexec_fn=give_up_rights)
        assert done.returncode == code, (command, done.stderr)
        assert (not done.stderr.strip()) if code == 0 else is_one_sentence(done.stderr), (command, done.stderr)
    done = companion("today", home=home, preexec_fn=give_up_rights)
    assert done.returncode == 0 and "minutes on" in done.stdout
    assert (
        "practice log" in done.stderr and "Traceback" not in done.stderr and len(done.stderr.strip().splitlines()) == 1
    )
    assert not list(home.iterdir())
