"""What commands print where signs such as ♭ and the bars of the charts are not to be had: a Windows console of old, a
file, a pipe."""

from __future__ import annotations

import io
import json
import sys

import pytest
from shipped import spread

from companion.cli.main import main

# Windows' own encodings of Western, Central European, Greek and Japanese systems and of their consoles; and plain
# ASCII.
ENCODINGS = ["cp1252", "cp1250", "cp1253", "cp932", "cp437", "cp850", "ascii", "latin-1"]
COMMANDS = [
    ["songs"],
    ["shells", "two-spoons"],
    ["shells", "strange"],
    ["shells", "--chords", "Dbm7 | F#7 | Bmaj7"],
    ["where"],
    ["today"],
    ["log"],
    ["report", "two-spoons"],
]


class Stream(io.TextIOWrapper):
    """Standard output in an encoding of the system's, strict as Python opens it."""

    def __init__(self, encoding: str, is_terminal: bool) -> None:
        self.bytes = io.BytesIO()
        self.is_terminal = is_terminal
        super().__init__(self.bytes, encoding=encoding, errors="strict", write_through=True)

    def isatty(self) -> bool:
        return self.is_terminal


def _print(monkeypatch, encoding: str, is_terminal: bool, arguments: list[str]) -> Stream:
    out, said = Stream(encoding, is_terminal), Stream(encoding, is_terminal)
    with monkeypatch.context() as patch:
        patch.delenv("PYTHONIOENCODING", raising=False)
        patch.setattr(sys, "stdout", out)
        patch.setattr(sys, "stderr", said)
        code = main(arguments)
    assert code == 0, said.bytes.getvalue()
    return out


@pytest.fixture
def strange_song(paths):
    """A title with signs that no Windows encoding of the West has."""
    paths.songs.mkdir(parents=True)
    text = 'title = "Straße ♭ 雨 ║▶"\nkey = "Db"\nmeter = "4/4"\nform = "A"\n[section.A]\nbars = "Dbmaj7 | Ebm7"\n'
    (paths.songs / "strange.toml").write_text(text, encoding="utf-8", newline="\n")


@pytest.mark.parametrize("encoding", spread(ENCODINGS, 3))
def test_a_terminal_without_our_signs_shows_others(monkeypatch, strange_song, encoding):
    for arguments in COMMANDS:
        out = _print(monkeypatch, encoding, True, arguments)
        assert out.encoding == encoding and out.bytes.getvalue().decode(encoding).strip()


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_what_goes_into_a_file_or_another_program_is_utf_8_to_the_last_sign(monkeypatch, strange_song, encoding):
    out = _print(monkeypatch, encoding, False, ["songs", "--json"])
    rows = json.loads(out.bytes.getvalue().decode("utf-8"))  # RFC 8259: JSON between programs is UTF-8
    assert "Straße ♭ 雨 ║▶" in [row["title"] for row in rows]


def test_an_encoding_that_the_student_chose_is_kept(monkeypatch, strange_song):
    out = Stream("cp1252", False)
    monkeypatch.setenv("PYTHONIOENCODING", "cp1252")
    monkeypatch.setattr(sys, "stdout", out)
    assert main(["songs"]) == 0
    assert "Straße ? ? ??" in out.bytes.getvalue().decode("cp1252")


def test_no_streams_at_all_are_no_fault(monkeypatch):
    """pythonw.exe gives none (Python's library reference, "sys.__stdout__")."""
    monkeypatch.setattr(sys, "stdout", None)
    monkeypatch.setattr(sys, "stderr", None)
    assert main(["where"]) == 0


def test_without_a_terminal_the_app_says_what_else_there_is(monkeypatch, capsys):
    monkeypatch.setattr(sys, "stdin", None)
    assert main(["stand", "two-spoons"]) != 0
    assert "needs a terminal" in capsys.readouterr().err


def _writing_fails(monkeypatch, error: OSError) -> int:
    """Print into a stream that fails so; the exit code."""
    out = Stream("utf-8", False)
    monkeypatch.setattr(out, "write", lambda text: (_ for _ in ()).throw(error), raising=False)
    with monkeypatch.context() as patch:
        patch.setattr(sys, "stdout", out)
        patch.setattr(sys, "stderr", Stream("utf-8", False))
        return main(["where"])


def test_a_reader_that_has_gone_is_no_fault(monkeypatch):
    """Python on Windows raises EINVAL for a pipe whose reader ended, others EPIPE (from memory)."""
    assert _writing_fails(monkeypatch, BrokenPipeError(32, "Broken pipe")) == 0
    monkeypatch.setattr(sys, "platform", "win32")
    assert _writing_fails(monkeypatch, OSError(22, "Invalid argument")) == 0
    assert _writing_fails(monkeypatch, OSError(28, "No space left on device")) != 0


def test_elsewhere_an_invalid_argument_is_a_fault(monkeypatch):
    assert _writing_fails(monkeypatch, OSError(22, "Invalid argument")) != 0
