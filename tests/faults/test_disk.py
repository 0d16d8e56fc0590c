"""A full disk, a log that another program holds, a read-only home: practising goes on, it is said, and every pass is kept that can be."""

from __future__ import annotations

import sqlite3

import pytest
from desk import put
from faults.disk_desk import Disk, break_off, companion, contents, give_up_rights, go_on, is_one_sentence, practise
from session_songs import FOUR
from store.passes import PASS, numbered
from tui.conftest import RecordingLink, make_paths
from tui.test_practising import MILL, choose, play_pass, put_mill

from companion.authoring.draft import Draft, Page
from companion.authoring.journal import Journal, kept_drafts
from companion.chart.reader import parse_chart, read_chart
from companion.errors import CompanionError
from companion.export.formats import FORMATS, export
from companion.export.options import ExportOptions
from companion.sound.messages import Stop
from companion.store.log.entry import Entry
from companion.store.log.patient_log import NOT_REMEMBERED, PatientLog
from companion.store.log.practice_log import PracticeLog
from companion.store.pins import load_pins, save_pins
from companion.store.settings import load_settings, save_setting
from companion.store.song_file import save_song
from companion.theory.shell_kinds import Pin
from companion.tui.app import CompanionApp
from companion.tui.screens.read import ReadScreen
from companion.tui.screens.writing import WritingScreen


@pytest.fixture
def disk(tmp_path):
    yield from mounted(tmp_path, 512)


def mounted(tmp_path, size_kb):
    disk = Disk(tmp_path / "small", size_kb)
    if not disk.is_there:
        disk.home.rmdir()
        pytest.skip("no small file system can be made here: that needs mount and its rights")
    yield disk
    disk.close()


def ids(log) -> list[str]:
    return [record.id for record in log.each_pass()]


# --- the practice log


@pytest.mark.parametrize("kind", ["play", "fade", "climb", "fade+climb"])
def test_what_is_played_on_a_full_disk_is_kept_once_there_is_room(disk, settings, kind):
    log = PatientLog.begin(disk.paths)
    desk = practise(log, settings, kind)
    played = []
    desk.practice._log = Watched(log, played)
    go_on(desk, 2)
    assert ids(log) == played and log.messages == []
    disk.fill()
    go_on(desk, 6)
    assert len(played) == 6 and log.passes_waiting >= 3, "all but what found a last corner"
    assert log.messages[-1] == f"{log.passes_waiting} passes not in the practice log yet: the disk is full."
    assert [record.id for record in PracticeLog.each_pass(log)] == played[: 6 - log.passes_waiting], "in the file"
    assert ids(log) == played == [record.id for record in log.passes()], "Today and Progress see what waits"
    assert log.count() == 6 == sum(tally.passes for tally in log.tallies("a-song"))
    assert sum(day.passes for day in log.day_totals("a-song", hands="left")) == 6
    waiting = {state: desk.practice._log.state(*state) for state in desk.practice._log.states}
    disk.make_room()
    go_on(desk, 7)
    assert ids(log) == played and len(played) == 7 and log.passes_waiting == 0
    assert "can be written again" in log.messages[-1]
    break_off(desk)
    log.close()
    with PracticeLog.open(disk.paths) as log:
        assert log.messages == [] and ids(log) == played
        assert log.count() == 7 == sum(tally.passes for tally in log.tallies("a-song"))
        assert bool(waiting) == (kind != "play")
        assert all(log.state(*state) is not None for state in waiting)


class Watched:
    """A log that notes what it was given."""

    def __init__(self, log, played: list[str]) -> None:
        self._log, self._played, self.states = log, played, set()

    def add_pass(self, record) -> None:
        self.write(Entry(record))

    def write(self, entry) -> None:
        self._played.append(entry.record.id)
        self.states |= {state.place for state in entry.states if state.value is not None}
        self._log.write(entry)

    def settle(self) -> None:
        self._log.settle()

    def state(self, *state):
        return self._log.state(*state)


def test_a_drill_goes_on_where_it_stood_while_nothing_can_be_written(disk, settings):
    """What is kept between stretches is read back from what waits, not from what the disk had before."""
    log = PatientLog.begin(disk.paths)
    desk = practise(log, settings, "fade")
    go_on(desk, 1)
    disk.fill()
    for number in range(40):  # until not even a few bytes find a place
        log.put_state("another", "", "filler", "x" * number)
        log.settle()
    go_on(desk, 4)
    waiting = log.state("a-song", "0-3", "fade", "left")
    with PracticeLog.open(disk.paths) as on_disk:
        assert waiting is not None and waiting != on_disk.state("a-song", "0-3", "fade", "left")
    assert waiting in [state.value for state in log.states("fade", "a-song")]
    break_off(desk)
    disk.make_room()
    log.close()
    with PracticeLog.open(disk.paths) as on_disk:
        assert waiting == on_disk.state("a-song", "0-3", "fade", "left")


def test_what_can_never_be_written_is_said_at_the_end(disk, settings):
    log = PatientLog.begin(disk.paths)
    desk = practise(log, settings)
    go_on(desk, 1)
    disk.fill()
    go_on(desk, 4)
    break_off(desk)
    lost = log.passes_waiting
    log.close()
    assert log.messages[-1] == f"{lost} passes could not be written to the practice log and are lost: the disk is full."
    disk.make_room()
    with PracticeLog.open(disk.paths) as log:
        assert log.messages == [] and log.count() == 4 - lost


def test_a_disk_that_is_full_at_the_start_is_no_end_of_the_log(disk, settings):
    disk.fill()
    log = PatientLog.begin(disk.paths)
    assert len(log.messages) == 1 and "the disk is full" in log.messages[0] and log.messages[0].endswith(NOT_REMEMBERED)
    desk = practise(log, settings)
    go_on(desk, 3)
    assert log.count() == 3 and log.path is None, "Today and Progress show the evening all the same"
    disk.make_room()
    go_on(desk, 4)
    assert log.path and "can be written again: 4 passes" in log.messages[-1]
    break_off(desk)
    log.close()
    with PracticeLog.open(disk.paths) as log:
        assert log.count() == 4


def test_a_log_held_by_another_program_for_long(paths, settings):
    log = PatientLog.begin(paths)
    log.wait(0.01)  # for another program
    desk = practise(log, settings, "fade")
    go_on(desk, 1)
    holder = sqlite3.connect(paths.log, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    go_on(desk, 5)
    assert (
        log.passes_waiting == 4
        and log.messages[-1] == "4 passes not in the practice log yet: another program holds it."
    )
    assert PracticeLog.count(log) == 1 and log.count() == 5
    holder.execute("ROLLBACK")
    go_on(desk, 6)
    assert log.count() == 6 and log.passes_waiting == 0
    started = [record.started_at for record in log.each_pass()]
    assert started == sorted(started), "in the order in which they were played"
    break_off(desk)
    log.close()
    holder.close()


def test_a_log_held_when_the_app_starts_takes_over_what_was_played_meanwhile(paths, settings, monkeypatch):
    from companion.store.log import patient_log

    monkeypatch.setattr(patient_log, "BRIEFLY_S", 0.01)
    with PracticeLog.open(paths) as log:
        log.put_state("a-song", "0-3", "fade", {"of": "a year ago"}, "left")
        log.put_state("a-song", "A", "recall", "of months", "left")
    holder = sqlite3.connect(paths.log, isolation_level=None)
    holder.execute("PRAGMA locking_mode = EXCLUSIVE")
    holder.execute("BEGIN EXCLUSIVE")
    holder.execute("INSERT INTO state VALUES ('x', '', '', '', 'x', '1')")
    holder.execute("COMMIT")
    log = PatientLog.begin(paths)
    assert "another program holds it" in log.messages[0] and NOT_REMEMBERED in log.messages[0]
    log.put_state("a-song", "0-3", "fade", {"of": "this evening"}, "left")
    for section in "AB":
        log.put_state("a-song", section, "recall", "new", "left")
    desk = practise(log, settings)
    go_on(desk, 2)
    holder.close()
    go_on(desk, 3)
    break_off(desk)
    log.close()
    with PracticeLog.open(paths) as log:
        assert log.count() == 3
        assert log.state("a-song", "0-3", "fade", "left") == {"of": "this evening"}, "where the drill stands"
        assert log.state("a-song", "A", "recall", "left") == "of months", "is worth more than one evening's"
        assert log.state("a-song", "B", "recall", "left") == "new"


# --- a log that was cut off


def test_a_long_log_cut_off_at_every_thousandth_byte(paths, deep):
    """The log begins anew, says so, keeps the pieces and takes the next pass; only an empty file was no log yet."""
    with PracticeLog.open(paths) as log:
        log._connection.execute("PRAGMA synchronous = OFF")
        for number in range(3000 if deep else 120):
            log.add_pass(numbered(number))
    whole = paths.log.read_bytes()
    assert len(whole) > (1_000_000 if deep else 60_000)
    for cut in range(0, len(whole), 1000):
        paths.log.write_bytes(whole[:cut])
        log = PatientLog.begin(paths)
        log.add_pass(PASS)
        log.close()
        if cut:
            assert len(log.messages) == 1 and "was damaged: it was set aside as" in log.messages[0], cut
            (kept,) = log.damaged_copies()
            assert kept.read_bytes() == whole[:cut]
        else:
            assert log.messages == []
        with PracticeLog.open(paths) as again:
            assert ids(again) == [PASS.id] and again.messages == []
        for path in paths.data.iterdir():
            path.unlink()


def test_what_a_sudden_end_left_beside_the_log_cut_off_at_every_thousandth_byte(paths, deep):
    """SQLite writes a pass beside the log first (https://www.sqlite.org/wal.html): every pass before the cut is still there."""
    log = PracticeLog.open(paths)
    log._connection.execute("PRAGMA synchronous = OFF")
    count = 40 if deep else 9
    for number in range(count):
        log.add_pass(numbered(number))
    beside = paths.log.with_name(paths.log.name + "-wal")
    whole, wal = paths.log.read_bytes(), beside.read_bytes()
    log.close()
    found = []
    for cut in [*range(0, len(wal), 1000), len(wal)]:
        for path in paths.data.iterdir():
            path.unlink()
        paths.log.write_bytes(whole)
        beside.write_bytes(wal[:cut])
        with PracticeLog.open(paths) as log:
            found.append(len(ids(log)))
            assert ids(log) == [str(number) for number in range(found[-1])] and log.count() == found[-1]
            assert log.messages == [] or found[-1] == 0
    assert found == sorted(found) and found[-1] == count and len(set(found)) == count + 1


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


# --- the student's other files


DRAFT = Draft(Page(title="Half Written", key="F"))


def test_every_file_of_the_students_is_whole_on_a_full_disk(disk):
    paths = disk.paths
    settings = load_settings(paths)
    save_setting(paths, "playing.bass", "walking")
    save_pins(paths, "a", {("A", 1, 1): Pin("root-third")})
    Journal(paths, "new-1").keep(DRAFT)
    song = parse_chart(FOUR, id="mine")
    save_song(song, paths, settings)
    disk.fill()
    before = contents(disk.home)
    big = "x" * 20_000
    with pytest.raises(CompanionError, match="playing.bass was not saved.*No space left"):
        save_setting(paths, "playing.bass", "roots")
    with pytest.raises(CompanionError, match="your choice of shell was not saved.*No space left"):
        save_pins(paths, "a", {("A", 1, number): Pin("root-seventh") for number in range(1, 9)})
    for firmly in (False, True):
        with pytest.raises(OSError, match="No space left"):
            Journal(paths, "new-1").keep(Draft(Page(title=big)), firmly=firmly)
    with pytest.raises(CompanionError, match=r"the song was not saved \(No space left on device\)"):
        save_song(parse_chart(FOUR.replace("Eight Bars", "Nine Bars"), id="mine"), paths, settings)
    assert contents(disk.home) == before, "each old file as it was, and no half of a new one beside it"
    disk.make_room()
    assert load_settings(paths).playing.bass == "walking" and load_pins(paths, "a")
    assert [kept.draft.page.title for kept in kept_drafts(paths)] == ["Half Written"]
    save_setting(paths, "playing.bass", "roots")
    assert load_settings(paths).playing.bass == "roots"


@pytest.fixture
def roomy_disk(tmp_path):
    yield from mounted(tmp_path, 4096)


@pytest.mark.parametrize("target", FORMATS, ids=lambda target: target.ending)
def test_an_export_to_a_full_disk_leaves_nothing_half(roomy_disk, settings, target):
    disk, stand = roomy_disk, put(FOUR.replace("120", "240"), settings)
    old = disk.home / f"old{target.ending}"
    old.write_bytes(b"of last week")
    disk.fill()
    before = contents(disk.home)
    for path, options in ((disk.home / f"new{target.ending}", ExportOptions()), (old, ExportOptions(force=True))):
        with pytest.raises(CompanionError) as caught:
            export(stand, path, options, settings)
        assert str(caught.value) == f"{path} cannot be written: No space left on device"
    assert contents(disk.home) == before
    disk.make_room()
    assert export(stand, old, ExportOptions(force=True), settings)


@pytest.mark.parametrize("ending", [".wav", ".flac"])
def test_a_disk_that_is_full_before_the_tags_are_written(roomy_disk, settings, ending):
    disk, stand = roomy_disk, put(FOUR.replace("120", "240"), settings)
    path = disk.home / f"track{ending}"
    export(stand, path, ExportOptions(), settings)
    pages = path.stat().st_size // 4096
    path.unlink()
    came = []
    for but_pages in range(pages - 1, pages + 3):
        disk.fill(but_pages)
        try:
            export(stand, path, ExportOptions(force=True), settings)
        except CompanionError as error:
            assert str(error) == f"{path} cannot be written: No space left on device"
        came.append(path.exists())
        path.unlink(missing_ok=True)
        disk.make_room()
    assert came[0] is False and came[-1] is True, "some disks were too small, some were not"


def test_no_traceback_on_a_full_disk(roomy_disk):
    roomy_disk.fill()
    for ending in (".wav", ".txt"):
        done = companion("export", "left-sock-blues", f"tune{ending}", home=roomy_disk.home / "none")
        assert done.returncode == 1 and is_one_sentence(done.stderr), done.stderr


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
        await pilot.press("escape", "escape", "v", "left", "escape")
        await pilot.pause()
    assert app.parting.startswith("2 passes could not be written to the practice log and are lost: ")
    assert is_one_sentence(app.parting)
    disk.unlock()
    assert contents(disk.home) == before


def test_the_log_of_a_home_that_can_only_be_read(disk):
    with PracticeLog.open(disk.paths) as log:
        log.add_pass(PASS)
    disk.lock()
    for command in (["log"], ["report", "left-sock-blues"]):
        done = companion(*command, home=disk.home)
        assert done.returncode == 1 and is_one_sentence(done.stderr)
    disk.unlock()
    assert companion("log", home=disk.home).stdout.startswith("1 pass,")


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
