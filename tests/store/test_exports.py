"""Where exports land, and that the folder opens where the system can."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

from companion.base.opening import open_folder
from companion.store.exports import export_folder
from companion.store.paths import find_paths
from companion.store.settings import load_settings, save_settings

needs_rights = pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere")


@pytest.fixture
def paths(tmp_path):
    return find_paths({"COMPANION_HOME": str(tmp_path / "home")})


def test_the_folder_one_started_in(paths, tmp_path):
    here = tmp_path / "lessons"
    here.mkdir()
    assert export_folder(paths, load_settings(paths), here) == here


@pytest.mark.parametrize("where", ["home", "top", "data", "gone", "none"])
def test_no_place_where_one_looks(paths, tmp_path, monkeypatch, where):
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))
    paths.data.mkdir(parents=True)
    started = {
        "home": tmp_path,
        "top": Path(tmp_path.anchor),
        "data": paths.data,
        "gone": tmp_path / "gone",
        "none": None,
    }[where]
    assert export_folder(paths, load_settings(paths), started) == paths.exports == tmp_path / "home" / "exports"


@needs_rights
def test_a_folder_that_may_not_be_written_into(paths, tmp_path):
    (tmp_path / "closed").mkdir(mode=0o500)
    assert export_folder(paths, load_settings(paths), tmp_path / "closed") == paths.exports


def test_set_by_the_student(paths, tmp_path):
    save_settings(paths, {"folders.exports": str(tmp_path / "sheets")})
    assert export_folder(paths, load_settings(paths), tmp_path) == tmp_path / "sheets"


@pytest.mark.skipif(sys.platform != "linux", reason="other systems have folders of other kinds")
def test_the_systems_music_folder_else_its_documents_else_home(tmp_path, monkeypatch):
    """XDG user directories (freedesktop.org, xdg-user-dirs), as platformdirs reads them from the environment."""
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_MUSIC_DIR", str(tmp_path / "Klang"))
    monkeypatch.setenv("XDG_DOCUMENTS_DIR", str(tmp_path / "Texte"))
    assert find_paths({}).exports == tmp_path
    (tmp_path / "Texte").mkdir()
    assert find_paths({}).exports == tmp_path / "Texte"
    (tmp_path / "Klang").mkdir()
    assert find_paths({}).exports == tmp_path / "Klang"


@pytest.fixture
def opener(tmp_path):
    """Makes a program called xdg-open; it leaves what it was given in a file."""

    def make(ending: int) -> dict[str, str]:
        program = tmp_path / "bin" / "xdg-open"
        program.parent.mkdir()
        program.write_text(f'#!/bin/sh\nprintf %s "$1" > "{tmp_path}/given"\nexit {ending}\n')
        program.chmod(0o755)
        return dict(os.environ) | {"PATH": f"{program.parent}:{os.environ['PATH']}", "DISPLAY": ":7"}

    return make


@pytest.mark.skipif(os.name == "nt", reason="a shell script")
@pytest.mark.parametrize("ending", [0, 4])
def test_the_folder_opens_or_a_sentence_says_where_it_is(opener, tmp_path, monkeypatch, ending):
    environ = opener(ending)
    monkeypatch.setenv("PATH", environ["PATH"])
    said = open_folder(tmp_path, environ, "linux")
    assert (tmp_path / "given").read_text() == str(tmp_path)
    assert said == ("" if ending == 0 else f"No file manager opens here. The folder is {tmp_path}")


@pytest.mark.skipif(os.name == "nt", reason="a shell script")
def test_without_a_desktop_nothing_is_started(opener, tmp_path, monkeypatch):
    """xdg-open starts a browser for the terminal where there is no desktop (xdg-open(1), xdg-utils)."""
    environ = opener(0)
    monkeypatch.setenv("PATH", environ["PATH"])
    without = {name: value for name, value in environ.items() if name not in ("DISPLAY", "WAYLAND_DISPLAY")}
    assert open_folder(tmp_path, without, "linux").startswith("No file manager opens here.")
    assert not (tmp_path / "given").exists()
    monkeypatch.setenv("PATH", str(tmp_path))
    assert open_folder(tmp_path, environ | {"PATH": str(tmp_path)}, "linux").startswith("No file manager opens here.")
    assert "not there yet" in open_folder(tmp_path / "none", environ, "linux")
