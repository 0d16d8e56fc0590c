"""Where a file goes: refused with one sentence, or written whole."""

from __future__ import annotations

import os

import pytest

from companion.errors import CompanionError, WriteError
from companion.export.formats import FORMATS, export, format_of
from companion.export.options import ExportError, ExportOptions


def test_every_ending_writes_a_file_and_leaves_nothing_beside_it(on_stand, settings, tmp_path) -> None:
    stand = on_stand("two-spoons").with_loop(range(2), "bars 1 to 2")
    for target in FORMATS:
        (path,) = export(stand, tmp_path / f"out{target.ending.upper()}", ExportOptions(), settings)
        assert path.stat().st_size > 100
    assert {path.name for path in tmp_path.glob("*") if path.is_file()} == {f"out{t.ending.upper()}" for t in FORMATS}


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("song.doc", "'.doc' is no ending we write: expected .mid, .musicxml"),
        ("song", "has no ending: expected .mid"),
        ("nowhere/song.mid", "the folder .*nowhere is not there"),
        ("here.txt", "here.txt is there already; give another name, or --force"),
        ("folder.txt", "folder.txt is a folder"),
        ("pipe.txt", "pipe.txt is not an ordinary file"),
        ("nul\0l.txt", "cannot be written|null"),
        ("x" * 300 + ".txt", "cannot be written"),
    ],
)
def test_bad_targets_are_refused(on_stand, settings, tmp_path, name: str, said: str) -> None:
    (tmp_path / "here.txt").write_text("mine")
    (tmp_path / "folder.txt").mkdir()
    os.mkfifo(tmp_path / "pipe.txt")
    before = sorted(tmp_path.iterdir())
    with pytest.raises(CompanionError, match=said) as caught:
        export(on_stand("two-spoons"), f"{tmp_path}/{name}", ExportOptions(), settings)
    assert "\n" not in str(caught.value)
    assert (tmp_path / "here.txt").read_text() == "mine"
    assert sorted(tmp_path.iterdir()) == before


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_may_not_be_written_to(on_stand, settings, tmp_path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(WriteError, match="may not be written to"):
        export(on_stand("two-spoons"), tmp_path / "song.txt", ExportOptions(), settings)


def test_force_replaces_and_a_failed_write_leaves_the_old_file(on_stand, settings, tmp_path, monkeypatch) -> None:
    path = tmp_path / "song.txt"
    path.write_text("old")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as disk:
        disk.setattr(os, "fsync", full)
        with pytest.raises(WriteError, match="No space left on device"):
            export(on_stand("two-spoons"), path, ExportOptions(force=True), settings)
    assert path.read_text() == "old" and list(tmp_path.glob(".*")) == []
    export(on_stand("two-spoons"), path, ExportOptions(force=True), settings)
    assert path.read_text(encoding="utf-8").startswith("Two Spoons")


def test_a_link_is_followed_and_one_to_nothing_is_refused(on_stand, settings, tmp_path) -> None:
    dangling, link, real = tmp_path / "dangling.txt", tmp_path / "link.txt", tmp_path / "real.txt"
    dangling.symlink_to(tmp_path / "elsewhere.txt")
    real.write_text("old")
    link.symlink_to(real)
    for force in (False, True):
        with pytest.raises(WriteError, match="dangling.txt is a link to .*elsewhere.txt, which is not there"):
            export(on_stand("two-spoons"), dangling, ExportOptions(force=force), settings)
    with pytest.raises(WriteError, match="is there already"):
        export(on_stand("two-spoons"), link, ExportOptions(), settings)
    assert real.read_text() == "old" and not (tmp_path / "elsewhere.txt").exists()
    export(on_stand("two-spoons"), link, ExportOptions(force=True), settings)
    assert link.is_symlink() and real.read_text(encoding="utf-8").startswith("Two Spoons")


def test_wishes_that_do_not_fit_the_target(on_stand, settings, tmp_path) -> None:
    stand = on_stand("two-spoons")
    for options in (ExportOptions(choruses=2), ExportOptions(parts=("bass",)), ExportOptions(from_tempo_bpm=60)):
        with pytest.raises(ExportError, match="holds the song once"):
            export(stand, tmp_path / "song.pdf", options, settings)
    with pytest.raises(ExportError, match="expected a target ending in .svg, .pdf or .txt"):
        export(stand, tmp_path / "song.mid", ExportOptions(round=2), settings)
    assert not list(tmp_path.glob("song*"))


def test_target_of_any_case(tmp_path) -> None:
    assert format_of(tmp_path / "Song.MusicXML").ending == ".musicxml"
