"""`companion send` and `companion receive`: a song with all that belongs to it goes to the teacher in one file, and back."""

from __future__ import annotations

import io
import os
import zipfile
from pathlib import Path

import pytest
from cli.calls import companion

from companion.reports import envelope
from companion.store.own_melody import load_melody
from companion.store.own_song import own_path
from companion.store.own_swing import load_swing
from companion.store.paths import Paths, find_paths
from companion.store.pins import load_pins, load_rest, save_pins, save_rest
from companion.theory.shell_kinds import Pin

SONG = "two-spoons"
PINS = {("A", 1, 1): Pin.parse("root-third"), ("A", 2, 1): Pin.parse("root-seventh")}
CHART = 'title = "Two Spoons"\nkey = "C"\nmeter = "4/4"\n[section.A]\nbars = "C6 | G7"\n'


@pytest.fixture
def student(companion_home) -> Paths:
    """One with shells, a rest, a swung version and a melody an octave up of their own."""
    paths = find_paths()
    save_pins(paths, SONG, PINS)
    save_rest(paths, SONG, "endings")
    companion("swing", SONG, "--version", "2")
    return paths


@pytest.fixture
def sent(student, tmp_path) -> Path:
    target = tmp_path / "for-my-teacher.zip"
    assert companion("send", SONG, target).stdout == f"{target}\n"
    return target


@pytest.fixture
def teacher(sent, tmp_path, monkeypatch) -> Paths:
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path / "teacher"))
    return find_paths()


def zipped(path: Path, files: dict[str, str | bytes]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return path


def everything(home: Path) -> dict[str, bytes]:
    return {str(path.relative_to(home)): path.read_bytes() for path in home.rglob("*") if path.is_file()}


def test_the_file_holds_plain_files(sent):
    with zipfile.ZipFile(sent) as archive:
        texts = {name: archive.read(name).decode() for name in archive.namelist()}
    assert set(texts) == {"song.toml", "pins.toml", "own.toml", "shells.txt", "report.html"}
    assert '"A.1.1" = "root-third"' in texts["pins.toml"] and "version = 2" in texts["own.toml"]
    assert "[[lesson.step]]" in texts["song.toml"] and "This song was not played yet." in texts["report.html"]
    assert texts["shells.txt"].rstrip("\n") == companion("shells", SONG).stdout.rstrip("\n"), "with the reasons"


def test_all_of_it_comes_to_the_teacher_and_back_again(student, sent, teacher, tmp_path, monkeypatch):
    said = companion("receive", sent).stdout.splitlines()
    assert said[0] == str(teacher.songs / f"{SONG}-2.toml"), "a shipped song has the id"
    assert "8 steps of a lesson, 2 shells of their own choice, their swing" in said[1]
    assert load_pins(teacher, f"{SONG}-2") == PINS and load_rest(teacher, f"{SONG}-2") == "endings"
    assert load_swing(teacher, f"{SONG}-2") == load_swing(student, SONG)
    assert load_melody(teacher, f"{SONG}-2") == load_melody(student, SONG)
    assert "Two Spoons (2)" in companion("shells", f"{SONG}-2").stdout
    chart = Path(said[0])
    chart.write_text(chart.read_text(encoding="utf-8") + '[[lesson.step]]\nnote = "Slower."\n', encoding="utf-8")
    back = tmp_path / "back.zip"
    companion("send", f"{SONG}-2", back)
    monkeypatch.setenv("COMPANION_HOME", str(student.data.parent))
    before = everything(student.data.parent)
    path, words = companion("receive", back).stdout.splitlines()
    assert "9 steps of a lesson" in words
    after = everything(student.data.parent)
    assert {name: after[name] for name in before if name != "config/pins.toml"} == {
        name: data for name, data in before.items() if name != "config/pins.toml"
    }, "nothing of the student's is replaced"
    assert load_pins(student, SONG) == load_pins(student, Path(path).stem) == PINS


def test_how_the_song_was_left_is_not_told_as_a_choice_of_theirs(tmp_path, companion_home):
    """The loop on the stand is kept in the same file as swing and fingers, and comes along; of these there are none."""
    left = zipped(tmp_path / "left.zip", {"song.toml": CHART, "own.toml": '[stand]\nloop = "1-2"\n'})
    path, *words = companion("receive", left).stdout.splitlines()
    assert not words and own_path(find_paths(), Path(path).stem).read_text() == '[stand]\nloop = "1-2"\n'


def test_what_is_kept_of_a_song_that_is_gone_is_not_replaced(sent, teacher):
    save_pins(teacher, f"{SONG}-2", {("A", 3, 1): Pin.parse("root-third")})
    own_path(teacher, f"{SONG}-3").parent.mkdir(parents=True)
    own_path(teacher, f"{SONG}-3").write_text("# mine\n")
    assert companion("receive", sent).stdout.splitlines()[0].endswith(f"{SONG}-4.toml")
    assert own_path(teacher, f"{SONG}-3").read_text() == "# mine\n" and len(load_pins(teacher, f"{SONG}-2")) == 1


def test_nothing_is_written_over(sent, student):
    before = sent.read_bytes()
    assert "is there already" in companion("send", SONG, sent, code=1).stderr and sent.read_bytes() == before
    companion("send", SONG, sent, "--force")
    assert "ends in .zip" in companion("send", SONG, sent.with_suffix(".txt"), code=1).stderr


BAD = {
    "a path out": ({"song.toml": CHART, "../../evil.toml": "x"}, "folders are not taken in"),
    "a path of Windows": ({"song.toml": CHART, "..\\evil.toml": "x"}, "folders are not taken in"),
    "an absolute path": ({"song.toml": CHART, "/tmp/evil": "x"}, "folders are not taken in"),
    "a drive": ({"song.toml": CHART, "C:evil": "x"}, "folders are not taken in"),
    "no chart": ({"pins.toml": ""}, "there is no song.toml in it"),
    "many": ({"song.toml": CHART} | {f"{n}.txt": "" for n in range(20)}, "more than 20 files"),
    "a bomb": ({"song.toml": b" " * 60_000_000}, "song.toml in it is longer than 5 MB"),
    "no text": ({"song.toml": b"\xff\xfe\x00"}, "not plain text"),
    "a bad chart": ({"song.toml": CHART.replace("G7", "Hx")}, "song.toml:5"),
    "bad pins": ({"song.toml": CHART, "pins.toml": '[song]\n"A.1.1" = "root-ninth"\n'}, "pins.toml: [song]"),
    "bad own": ({"song.toml": CHART, "own.toml": "[swing]\nversion = 9\n"}, "own.toml:2: [swing] version is 9"),
    "bad ending": ({"song.toml": CHART, "own.toml": "[arrangement]\nintro = 9\n"}, "own.toml:2: [arrangement] intro is 9"),
    "bad stand": ({"song.toml": CHART, "own.toml": "[stand]\ntempo = 'fast'\n"}, "own.toml:2: [stand] tempo is 'fast'"),
    "own no TOML": ({"song.toml": CHART, "own.toml": "= ="}, "own.toml"),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_a_bad_file_is_one_sentence_and_changes_nothing(name, tmp_path, companion_home):
    files, words = BAD[name]
    bad = zipped(tmp_path / "bad.zip", files)
    before = everything(tmp_path)
    said = companion("receive", bad, code=1)
    assert said.stderr.startswith(str(bad)) and words in said.stderr and len(said.stderr.splitlines()) == 1
    assert not said.stdout and everything(tmp_path) == before


def test_what_is_no_zip_file(tmp_path, sent):
    whole = sent.read_bytes()
    for data in (b"", b"PK", b"no zip at all", whole[:300], whole[: len(whole) // 2]):
        (tmp_path / "bad.zip").write_bytes(data)
        assert "it is no zip file, or a damaged one" in companion("receive", tmp_path / "bad.zip", code=1).stderr
    assert "there is no such file" in companion("receive", tmp_path / "none.zip", code=1).stderr
    assert "it is not a file" in companion("receive", tmp_path, code=1).stderr
    (tmp_path / "bad.zip").write_bytes(bytes(envelope.MOST_BYTES + 1))
    assert "longer than 5 MB" in companion("receive", tmp_path / "bad.zip", code=1).stderr


def test_any_damaged_byte_is_told_in_a_sentence_or_does_no_harm(tmp_path, companion_home):
    """A chart of one bar, every byte of its zip file turned over in turn: nothing but the project's own errors."""
    whole = zipped(tmp_path / "good.zip", {"song.toml": CHART}).read_bytes()
    bad = tmp_path / "bad.zip"
    for place in range(len(whole)):
        bad.write_bytes(whole[:place] + bytes([whole[place] ^ 0xFF]) + whole[place + 1 :])
        try:
            envelope.unpack(bad)
        except envelope.SheetError as error:
            assert str(error).startswith(str(bad))


def test_two_files_of_one_name(tmp_path, companion_home):
    bad = tmp_path / "bad.zip"
    with pytest.warns(UserWarning), zipfile.ZipFile(bad, "w") as archive:
        archive.writestr("song.toml", CHART)
        archive.writestr("song.toml", CHART)
    assert "two files in it have one name" in companion("receive", bad, code=1).stderr


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_may_not_be_written_to(sent, teacher):
    teacher.songs.mkdir(parents=True)
    teacher.songs.chmod(0o500)
    assert "cannot be written" in companion("receive", sent, code=1).stderr


def test_what_cannot_all_be_kept_is_not_kept_at_all(sent, teacher, monkeypatch):
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(envelope, "save_rest", full)
    said = companion("receive", sent, code=1).stderr
    assert "nothing was taken in" in said and "No space left" in said
    assert not list(teacher.songs.glob("*.toml")) and not list(teacher.own.glob("*"))
    assert load_pins(teacher, f"{SONG}-2") == {}


def test_the_same_song_gives_the_same_bytes(student):
    from companion.store.library import find_song
    from companion.store.settings import load_settings

    song = find_song(SONG, student, load_settings(student))
    assert envelope.pack(song, student, "a", "b") == envelope.pack(song, student, "a", "b")
    assert zipfile.ZipFile(io.BytesIO(envelope.pack(song, student, "a", "b"))).testzip() is None
