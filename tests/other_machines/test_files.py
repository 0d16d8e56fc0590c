"""Names, places and line ends of files on macOS and Windows, with the system faked.

This proves our own branches only; what Windows keeps for itself is checked against Python's own knowledge of it.
"""

from __future__ import annotations

import ast
import ntpath
import os
import sqlite3
import subprocess
import sys
from dataclasses import replace
from pathlib import Path, PureWindowsPath
from types import SimpleNamespace

import pytest
from platformdirs.macos import MacOS
from platformdirs.windows import Windows

from companion.authoring import journal
from companion.authoring.draft import Draft
from companion.base import files
from companion.base.files import check_target, write_target, write_text
from companion.base.ids import song_id
from companion.chart.reader import song_from_line
from companion.chart.writer import create_chart
from companion.errors import LogError, WriteError
from companion.importing import child
from companion.store.log.practice_log import PracticeLog
from companion.store.paths import find_paths
from companion.store.song_file import save_song

DEVICES = [
    "con",
    "PRN.mid",
    "aux.pdf",
    "NUL.tar.gz",
    "com1.mid",
    "COM9",
    "lpt1.txt",
    "LPT¹.svg",
    "conin$",
    "CONOUT$.wav",
    "nul .mid",
]
ORDINARY = ["concerto.mid", "com.mid", "com10.mid", "nullify.pdf", "lpt.txt", "my con.mid", "aux-one.wav", "con-2.toml"]


def _is_reserved(name: str) -> bool:
    """The library's own word. Python 3.13 knows the signs ¹²³ and CONIN$, too."""
    return ntpath.isreserved(name) if hasattr(ntpath, "isreserved") else PureWindowsPath(name).is_reserved()


@pytest.fixture
def windows(monkeypatch):
    monkeypatch.setattr(sys, "platform", "win32")


@pytest.mark.parametrize("name", DEVICES + ORDINARY)
def test_names_of_devices_are_those_python_knows(name):
    assert files.is_device_name(name) == _is_reserved(name) == (name in DEVICES)


@pytest.mark.parametrize(
    "name", [*DEVICES, "what?.mid", "take: one.mid", 'a "b".pdf', "a<b.txt", "tab\tname.wav", "song.mid.", "song.mid "]
)
def test_windows_refuses_a_name_before_any_work_is_done(windows, tmp_path, name):
    if hasattr(ntpath, "isreserved"):
        assert ntpath.isreserved(name)
    with pytest.raises(WriteError, match="Windows"):
        check_target(tmp_path / name, force=False)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ORDINARY)
def test_windows_takes_ordinary_names(windows, tmp_path, name):
    write_target(tmp_path / name, b"x", force=False)
    assert (tmp_path / name).read_bytes() == b"x"


def test_elsewhere_such_names_are_nobodys_business(tmp_path):
    write_target(tmp_path / "con.mid", b"x", force=False)
    assert [path.name for path in tmp_path.iterdir()] == ["con.mid"]


@pytest.mark.parametrize("title", ["Con", "NUL!", "com1", "Aux"])
def test_no_song_gets_the_name_of_a_device(title):
    """Also elsewhere: song files travel."""
    assert song_id(title, set()) == f"{song_id(title + ' x', set())[:-2]}-2"
    assert not files.is_device_name(song_id(title, set()))


def test_an_imported_song_gets_none_either(tmp_path):
    song = replace(song_from_line("C | F"), id="con")
    assert [create_chart(song, tmp_path).name for _ in range(2)] == ["con-2.toml", "con-3.toml"]


def test_a_song_in_capitals_is_not_written_over(paths, settings):
    """On macOS and Windows Lantern.toml and lantern.toml are one file, which a new song named Lantern would replace."""
    paths.songs.mkdir(parents=True)
    (paths.songs / "Lantern.toml").write_text("precious", encoding="utf-8")
    song = replace(song_from_line("C | F"), id="", title="Lantern")
    assert save_song(song, paths, settings).name == "lantern-2.toml"


# --- writing while another program looks


def _refusing(times: int):
    """os.replace as on Windows while another program has the target open: [WinError 5] Access is denied."""
    tries = []

    def refuse(beside, target) -> None:
        tries.append(target)
        if len(tries) <= times:
            raise PermissionError(13, "Access is denied", str(target))
        os.rename(beside, target)

    return SimpleNamespace(replace=refuse, tries=tries)


WRITERS = {
    "text": lambda folder: write_text(folder / "file", "x\n"),
    "export": lambda folder: write_target(folder / "file", b"x\n", force=False),
    "chart": lambda folder: create_chart(song_from_line("C | F"), folder),
    "draft": lambda folder: journal.Journal(SimpleNamespace(drafts=folder), "file").keep(Draft()),
}


@pytest.mark.parametrize("write", WRITERS.values(), ids=WRITERS)
def test_a_file_that_is_looked_at_for_a_moment_is_written_all_the_same(windows, monkeypatch, tmp_path, write):
    fake = _refusing(3)
    waits: list[float] = []
    monkeypatch.setattr(os, "replace", fake.replace)
    monkeypatch.setattr(files, "time", SimpleNamespace(sleep=waits.append))
    write(tmp_path)
    assert len(fake.tries) == 4 and len(waits) == 3
    assert len(list(tmp_path.iterdir())) == 1


def test_a_file_that_stays_open_elsewhere_is_said_and_nothing_is_left_beside_it(windows, monkeypatch, tmp_path):
    (tmp_path / "file").write_text("old", encoding="utf-8")
    waits: list[float] = []
    monkeypatch.setattr(os, "replace", _refusing(10_000).replace)
    monkeypatch.setattr(files, "time", SimpleNamespace(sleep=waits.append))
    with pytest.raises(PermissionError):
        write_text(tmp_path / "file", "new")
    with pytest.raises(WriteError, match="denied"):
        write_target(tmp_path / "file", b"new", force=True)
    assert 0.2 < sum(waits) / 2 < 2
    assert [(path.name, path.read_text(encoding="utf-8")) for path in tmp_path.iterdir()] == [("file", "old")]


def test_elsewhere_a_refusal_is_final(monkeypatch, tmp_path):
    fake = _refusing(1)
    monkeypatch.setattr(os, "replace", fake.replace)
    with pytest.raises(PermissionError):
        write_text(tmp_path / "file", "new")
    assert len(fake.tries) == 1


def test_a_file_that_another_program_looks_at_does_not_hide_why_it_failed(windows, monkeypatch, tmp_path):
    """Windows does not remove an open file."""

    def unlink(path: Path, missing_ok: bool = False) -> None:
        raise PermissionError(13, "The process cannot access the file because it is being used by another process")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "unlink", unlink)
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(WriteError, match="No space left"):
        write_target(tmp_path / "file.mp3", b"x", force=False)


def test_a_damaged_log_that_another_companion_has_open_is_left_and_said(paths, monkeypatch):
    """Windows does not rename it then; practice goes on without."""
    paths.data.mkdir(parents=True)
    paths.log.write_bytes(b"no log at all" * 100)

    def refuse(source, target) -> None:
        raise PermissionError(13, "The process cannot access the file because it is being used by another process")

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(LogError, match="used by another process"):
        PracticeLog.open(paths)
    assert paths.log.read_bytes().startswith(b"no log at all")
    assert list(paths.data.iterdir()) == [paths.log]


def test_two_companions_share_a_log_by_what_sqlite_has_on_every_system(paths):
    """WAL needs shared memory, which SQLite's own builds for Linux, macOS and Windows have (sqlite.org/wal.html)."""
    with PracticeLog.open(paths) as one, PracticeLog.open(paths) as other:
        one.put_state("song", "loop", "fade", {"round": 2})
        assert other.state("song", "loop", "fade") == {"round": 2}
    with sqlite3.connect(paths.log) as connection:
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    connection.close()


# --- line ends, folders, limits


SOURCES = sorted(Path(files.__file__).parent.parent.rglob("*.py"))


def _mode(call: ast.Call) -> str | None:
    """How a call opens a file by its path or descriptor, "r" or "w" and the like; None where it opens none."""
    owner, _, name = ast.unparse(call.func).rpartition(".")
    if name in ("read_text", "write_text"):
        return (
            {"read_text": "r", "write_text": "w"}[name] if owner else None
        )  # without one it is our own, of base/files.py
    if (owner, name) not in (("", "open"), ("os", "fdopen")) and (name != "open" or owner == "os"):
        return None
    rest = call.args[0 if owner not in ("", "os") else 1 :]
    if rest and not (isinstance(rest[0], ast.Constant) and set(str(rest[0].value)) <= set("rwxabt+")):
        return None  # another thing's own open: the log's, a MIDI port's, a screen's
    is_standard_stream = owner == "" and ast.unparse(call.args[0]) in ("0", "1", "2")
    return None if is_standard_stream else rest[0].value if rest else "r"


def test_every_text_says_its_encoding_and_its_line_ends():
    """Else Windows writes the encoding of its country (cp1252) and line ends of its own, and reads UTF-8 wrongly."""
    checked = 0
    for source in SOURCES:
        text = source.read_text(encoding="utf-8")
        if not any(name in text for name in ("open", "read_text", "write_text")):
            continue  # nothing that _mode could tell, and to parse all takes seconds
        for call in ast.walk(ast.parse(text)):
            mode = _mode(call) if isinstance(call, ast.Call) else None
            if mode is None or "b" in mode:
                continue
            words = f"{source.name}:{call.lineno}: {ast.unparse(call)}"
            if words.endswith("path.open('x')"):
                continue  # only takes the name
            given = {keyword.arg for keyword in call.keywords}
            assert "encoding" in given, words
            assert mode == "r" or "newline" in given, words
            checked += 1
    assert checked >= 5


@pytest.mark.parametrize(
    "arguments", [["songs"], ["shells", "two-spoons"], ["export", "two-spoons", "sheet.txt"], ["log"], ["where"]]
)
def test_no_command_leaves_an_encoding_to_the_system(tmp_path, arguments):
    """Python's own word on that (PEP 597)."""
    command = [sys.executable, "-X", "warn_default_encoding", "-W", "error::EncodingWarning", "-c"]
    code = "from companion.cli.main import main; raise SystemExit(main())"
    environ = os.environ | {"PYTHONPATH": str(Path(files.__file__).parents[2])}
    done = subprocess.run(
        [*command, code, *arguments],
        cwd=tmp_path,
        env=environ,
        capture_output=True,
        encoding="utf-8",
        timeout=300,
        check=False,
    )
    assert done.returncode == 0 and not done.stderr, done.stderr


@pytest.mark.parametrize(
    ("system", "environ", "config", "data"),
    [
        (MacOS, {"HOME": "/Users/kim"}, "/Users/kim/Library/Application Support/shell-companion", None),
        (Windows, {"LOCALAPPDATA": "C:/Users/kim/AppData/Local"}, "C:/Users/kim/AppData/Local/shell-companion", None),
    ],
)
def test_folders_are_the_systems_own_and_nothing_in_them_clashes(monkeypatch, system, environ, config, data):
    """Apple, "File System Programming Guide"; Microsoft, "KNOWNFOLDERID". Settings and data share one folder there."""
    import platformdirs

    for name, text in environ.items():
        monkeypatch.setenv(name, text)
    monkeypatch.setattr(
        "platformdirs.windows.get_win_folder",
        lambda name: os.environ[name.removeprefix("CSIDL_").replace("LOCAL_APPDATA", "LOCALAPPDATA")],
    )
    monkeypatch.setattr(
        platformdirs, "user_config_dir", lambda name, appauthor: system(name, appauthor).user_config_dir
    )
    monkeypatch.setattr(platformdirs, "user_data_dir", lambda name, appauthor: system(name, appauthor).user_data_dir)
    paths = find_paths({})
    assert paths.settings == Path(config) / "settings.toml"
    assert paths.data == Path(data or config)
    places = [paths.settings, paths.pins, paths.songs, paths.log, paths.drafts, paths.cautions_shown]
    assert len({str(place).casefold() for place in places}) == len(places)
    assert all(place.parent == Path(config) for place in places)


def test_importing_goes_on_where_the_system_limits_nothing(monkeypatch):
    """Python has no module `resource` on Windows; the time-out of the parent holds there too."""
    monkeypatch.setitem(sys.modules, "resource", None)
    with pytest.raises(ImportError):
        import resource  # noqa: F401
    assert child._limit() is None


def test_importing_goes_on_where_a_limit_may_not_be_set(monkeypatch):
    """macOS knows limits that it does not let a program set: ValueError or OSError (Python's library reference,
    "resource")."""
    tried = []

    def refuse(what, limits) -> None:
        tried.append(what)
        raise (ValueError, OSError)[len(tried) % 2]("refused")

    fake = SimpleNamespace(
        RLIMIT_DATA=2, RLIMIT_CPU=0, RLIM_INFINITY=-1, getrlimit=lambda what: (-1, -1), setrlimit=refuse
    )
    monkeypatch.setitem(sys.modules, "resource", fake)
    child._limit()
    assert tried == [2, 0]
