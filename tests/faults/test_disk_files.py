"""The student's other files on a full disk: settings, choices of shells, drafts, songs, exports."""

from __future__ import annotations

import pytest
from desk import put
from faults.disk_desk import companion, contents, is_one_sentence
from session_songs import FOUR

from companion.authoring.draft import Draft, Page
from companion.authoring.journal import Journal, kept_drafts
from companion.chart.reader import parse_chart
from companion.errors import CompanionError
from companion.export.formats import FORMATS, export
from companion.export.options import ExportOptions
from companion.store.pins import load_pins, save_pins
from companion.store.settings import load_settings, save_settings
from companion.store.song_file import save_song
from companion.theory.shell_kinds import Pin

# --- the student's other files


DRAFT = Draft(Page(title="Half Written", key="F"))


def test_every_file_of_the_students_is_whole_on_a_full_disk(disk):
    paths = disk.paths
    settings = load_settings(paths)
    save_settings(paths, {"playing.bass": "walking"})
    save_pins(paths, "a", {("A", 1, 1): Pin("root-third")})
    Journal(paths, "new-1").keep(DRAFT)
    song = parse_chart(FOUR, id="mine")
    save_song(song, paths, settings)
    disk.fill()
    before = contents(disk.home)
    big = "x" * 20_000
    with pytest.raises(CompanionError, match="playing.bass was not saved.*No space left"):
        save_settings(paths, {"playing.bass": "roots"})
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
    save_settings(paths, {"playing.bass": "roots"})
    assert load_settings(paths).playing.bass == "roots"


@pytest.mark.parametrize("target", FORMATS, ids=lambda target: target.ending)
def test_an_export_to_a_full_disk_leaves_nothing_half(roomy_disk, settings, target):
    disk, stand = roomy_disk, put(FOUR.replace("120", "240"), settings)
    old = disk.home / f"old{target.ending}"
    old.write_bytes(b"of last week")
    disk.fill()
    before = contents(disk.home)
    short = 1 if target.plays else None
    for path, force in ((disk.home / f"new{target.ending}", False), (old, True)):
        with pytest.raises(CompanionError) as caught:
            export(stand, path, ExportOptions(force=force, choruses=short), settings)
        assert str(caught.value) == f"{path} cannot be written: No space left on device"
    assert contents(disk.home) == before
    disk.make_room()
    assert export(stand, old, ExportOptions(force=True, choruses=short), settings)


@pytest.mark.parametrize("ending", [".wav", ".flac"])
def test_a_disk_that_is_full_before_the_tags_are_written(roomy_disk, settings, ending):
    disk, stand = roomy_disk, put(FOUR.replace("120", "240"), settings)
    path = disk.home / f"track{ending}"
    options = ExportOptions(force=True, choruses=1)
    export(stand, path, options, settings)
    pages = path.stat().st_size // 4096
    path.unlink()
    came = []
    for but_pages in range(pages - 1, pages + 3):
        disk.fill(but_pages)
        try:
            export(stand, path, options, settings)
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
