"""The wheel in a clean virtual environment, with nothing that could compile: `pytest --deep`, as it asks the package
index.

Run it with each Python there is; what it proves holds for that one and for this system.
"""

from __future__ import annotations

import contextlib
import os
import select
import shutil
import signal
import struct
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import pytest

fcntl, pty, termios = (pytest.importorskip(name, reason="a terminal of Unix") for name in ("fcntl", "pty", "termios"))

pytestmark = pytest.mark.timeout(1500)
REPOSITORY = Path(__file__).parent.parent.parent
COMPILERS = ("cc", "c++", "gcc", "g++", "clang", "clang++", "cargo", "rustc", "ld", "make", "cmake", "ninja")


@pytest.fixture(scope="module")
def wheel(tmp_path_factory, deep) -> Path:
    if not deep:
        pytest.skip("builds and installs with the package index: pytest --deep")
    folder = tmp_path_factory.mktemp("wheel")
    _run(
        [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", str(folder), str(REPOSITORY)],
        os.environ,
    )
    [path] = folder.glob("*.whl")
    return path


@pytest.fixture(scope="module")
def bare(tmp_path_factory) -> dict[str, str]:
    """An environment whose PATH holds a shell's few programs and no compiler, should a build look for one all the
    same."""
    folder = tmp_path_factory.mktemp("bin")
    for name in ("sh", "env", "uname", "tty", "stty"):
        if found := shutil.which(name):
            (folder / name).symlink_to(found)
    assert not any(shutil.which(name, path=str(folder)) for name in COMPILERS)
    kept = {name: text for name, text in os.environ.items() if not name.startswith(("PYTHON", "COMPANION"))}
    return {
        **kept,
        "PATH": str(folder),
        "CC": "/bin/false",
        "CXX": "/bin/false",
        "COMPANION_HOME": str(folder / "home"),
    }


@pytest.fixture(scope="module")
def installed(wheel, bare, tmp_path_factory) -> Path:
    """The folder of commands of a clean environment with the wheel and its sheets in it."""
    folder = tmp_path_factory.mktemp("venv")
    _run([sys.executable, "-m", "venv", str(folder)], bare)
    pip = [str(folder / "bin" / "python"), "-m", "pip", "install", "--quiet"]
    _run([*pip, "--only-binary=:all:", f"{wheel}[sheets]"], bare)
    return folder / "bin"


def _run(command: list[str], environ, **more) -> str:
    done = subprocess.run(
        command, env=environ, capture_output=True, encoding="utf-8", timeout=1200, check=False, **more
    )
    assert done.returncode == 0, f"{command}: {done.stdout[-2000:]}{done.stderr[-2000:]}"
    return done.stdout


def test_the_wheel_holds_the_songs_and_the_settings_and_no_tests(wheel):
    names = zipfile.ZipFile(wheel).namelist()
    assert wheel.name.endswith("-py3-none-any.whl")  # nothing compiled of ours
    shipped = {name.removeprefix("companion/_shipped/") for name in names if name.startswith("companion/_shipped/")}
    assert shipped == {
        path.relative_to(REPOSITORY).as_posix()
        for kind in ("songs", "config")
        for path in (REPOSITORY / kind).rglob("*")
        if path.is_file()
    }
    ours = {name.removeprefix("companion/") for name in names if name.startswith("companion/") and name.endswith(".py")}
    assert ours == {
        path.relative_to(REPOSITORY / "companion").as_posix() for path in (REPOSITORY / "companion").rglob("*.py")
    }
    assert {name.partition("/")[0].partition("-")[0] for name in names} == {"companion", "shell_companion"}
    assert not [name for name in names if "test" in name or name.endswith(".pyc")]


def test_its_commands_run_from_anywhere(installed, bare, tmp_path):
    companion = str(installed / "companion")
    assert _run([companion, "--version"], bare, cwd=tmp_path).startswith("companion 0.")
    songs = _run([companion, "songs"], bare, cwd=tmp_path)
    assert len(songs.splitlines()) == len(list((REPOSITORY / "songs").glob("*.toml"))) and "two-spoons" in songs
    assert "root-third" in _run([companion, "shells", "two-spoons"], bare, cwd=tmp_path)
    assert "settings" in _run([companion, "where"], bare, cwd=tmp_path)
    assert "Sound device" in _run([companion, "devices"], bare, cwd=tmp_path)
    played = _run([companion, "play", "two-spoons", "--loop", "1-2", "--sound", "silent"], bare, cwd=tmp_path)
    assert "chorus 1  A bar 2" in played


@pytest.mark.parametrize("ending", [".mid", ".musicxml", ".wav", ".flac", ".mp3", ".svg", ".pdf", ".txt"])
def test_it_writes_every_kind_of_file(installed, bare, tmp_path, ending):
    target = tmp_path / f"out{ending}"
    _run([str(installed / "companion"), "export", "two-spoons", str(target)], bare, cwd=tmp_path)
    assert target.stat().st_size > 100


def test_it_reads_a_lead_sheet_of_another_program(installed, bare, tmp_path):
    """With the library that `sheets` brings: what it wrote itself."""
    companion = str(installed / "companion")
    _run([companion, "export", "two-spoons", "sheet.musicxml"], bare, cwd=tmp_path)
    written = _run([companion, "import", "sheet.musicxml", "--to", "charts"], bare, cwd=tmp_path).splitlines()[0]
    assert "good" in _run([companion, "check", written], bare, cwd=tmp_path)


class App:
    """A command in a pseudo-terminal of 80 by 24."""

    def __init__(self, command: list[str], env: dict[str, str]) -> None:
        self.pid, self._end = pty.fork()
        if self.pid == 0:
            os.execve(command[0], command, env)
        fcntl.ioctl(self._end, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))

    def wait_for(self, text: bytes, seconds: float = 60) -> None:
        """Read until the text is drawn."""
        drawn, end_s = b"", time.monotonic() + seconds
        while text not in drawn:
            assert time.monotonic() < end_s, f"{text!r} was not drawn; at last {drawn[-2000:]!r}"
            if select.select([self._end], [], [], 0.5)[0]:
                drawn += os.read(self._end, 1 << 16)

    def press(self, keys: bytes) -> None:
        os.write(self._end, keys)

    def ended(self, seconds: float = 60) -> int:
        """Its exit code."""
        end_s = time.monotonic() + seconds
        while time.monotonic() < end_s:
            with contextlib.suppress(OSError):  # the terminal is closed with the program
                if select.select([self._end], [], [], 0.1)[0]:
                    os.read(self._end, 1 << 16)
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                self.pid = 0
                return os.waitstatus_to_exitcode(status)
        raise AssertionError("it does not end")

    def close(self) -> None:
        if self.pid:
            os.kill(self.pid, signal.SIGKILL)
            os.waitpid(self.pid, 0)
        os.close(self._end)


def test_the_app_starts_plays_and_leaves(installed, bare, tmp_path):
    """In a real pseudo-terminal, from its cautions to its end."""
    env = {**bare, "COMPANION_HOME": str(tmp_path / "home"), "TERM": "xterm-256color"}
    app = App([str(installed / "companion"), "stand", "two-spoons"], env)
    try:
        app.wait_for(b"Stop when it hurts")
        app.press(b"\r")
        app.wait_for(b"Two Spoons")
        app.press(b" ")
        app.wait_for(b"bar 2 of")
        app.press(b" q")
        assert app.ended() == 0
    finally:
        app.close()
