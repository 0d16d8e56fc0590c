"""`companion import` as a student calls it: a lead sheet comes in and can be practised at once."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from cli.calls import companion
from musicxml_made import DIVISIONS, Measure, Score, attributes, harmony, note

TUNE = 'X:1\nT:A Lamp in the Boathouse\nM:4/4\nL:1/8\nQ:1/4=132\nK:F\n|:"F6"F2A2 c2A2|"D7"d4 ^F4|"Gm7"G2B2 "C7"c2B2|"F6"{c}A8:|\n'


@pytest.fixture
def tune(tmp_path) -> Path:
    path = tmp_path / "lamp.abc"
    path.write_text(TUNE, encoding="utf-8")
    return path


def test_a_tune_comes_into_the_students_folder_and_can_be_practised_at_once(tune, companion_home):
    lines = companion("import", tune).stdout.splitlines()
    path = companion_home / "songs" / "a-lamp-in-the-boathouse.toml"
    assert lines[:2] == [str(path), "  bar 4: grace notes are left out of the melody"]
    assert "good: A Lamp in the Boathouse, F, 4/4, A A, 8 bars" in companion("check", path).stdout
    assert any(row["id"] == "a-lamp-in-the-boathouse" for row in json.loads(companion("songs", "--json").stdout))
    assert companion("shells", "a-lamp-in-the-boathouse").stdout


def test_a_file_that_is_there_is_never_replaced(tune, tmp_path):
    folder = tmp_path / "new" / "songs"
    names = [companion("import", tune, "--to", folder).stdout.splitlines()[0] for _ in range(3)]
    stem = "a-lamp-in-the-boathouse"
    assert names == [str(folder / name) for name in (f"{stem}.toml", f"{stem}-2.toml", f"{stem}-3.toml")]
    (folder / f"{stem}.toml").write_text("mine")
    companion("import", tune, "--to", folder)
    assert (folder / f"{stem}.toml").read_text() == "mine"
    assert len(list(folder.iterdir())) == 4


def test_musicxml_and_several_files_at_once(tune, tmp_path):
    pytest.importorskip("music21")
    bars = [Measure(harmony(root, "dominant") + note("C5", 4 * DIVISIONS)) for root in ("C", "F", "Bb")]
    bars[0].attributes = attributes()
    bars[1].body = harmony("F", "Tristan") + bars[1].body
    sheet = tmp_path / "sheet.musicxml"
    sheet.write_text(Score(bars).xml(), encoding="utf-8")
    done = companion("import", tune, sheet, tmp_path / "none.mxl", "--to", tmp_path / "out", code=1)
    assert f"{tmp_path}/none.mxl: there is no such file" in done.stderr
    assert str(tmp_path / "out" / "a-sheet-of-ours.toml") in done.stdout
    assert "  bar 2: the chord on F of the kind 'Tristan' has no symbol" in done.stdout
    text = (tmp_path / "out" / "a-sheet-of-ours.toml").read_text()
    assert "C7 | F7 | Bb7 |" in text and "c8 | c8 | c8 |" in text


def test_a_place_that_cannot_be_written(tune):
    done = companion("import", tune, "--to", "/proc/none", code=1)
    assert "the chart cannot be written there" in done.stderr and len(done.stderr.splitlines()) == 1


def test_it_says_what_it_takes():
    words = companion("import", "--help").stdout
    assert "MusicXML" in words and "ABC" in words and "--to" in words


def test_the_home_of_nobody_is_no_traceback() -> None:
    """`~x` is the home of a user x; where there is none it is an ordinary name (POSIX shell, "Tilde Expansion")."""
    for command in (("import", "~nobody-of-that-name/song.abc"), ("shells", "~nobody-of-that-name/song.toml")):
        assert f"{command[1]}: " in companion(*command, code=1).stderr


BOOK = 'X:7\nT:Kettle on the Hob\nR:reel\nM:4/4\nL:1/8\nK:C\n"C"c8|\n\nX:9\nT:Spoon in the Jar\nM:6/8\nL:1/8\nK:D\n"D"d6|\n'


@pytest.mark.parametrize("wanted", ["9", "spoon in the jar"])
def test_a_tune_of_a_book_is_named_by_number_or_title(wanted, tmp_path):
    book = tmp_path / "book.abc"
    book.write_text(BOOK)
    assert "spoon-in-the-jar.toml" in companion("import", book, "--tune", wanted).stdout
    done = companion("import", book)
    assert "kettle-on-the-hob.toml" in done.stdout and "9 Spoon in the Jar" in done.stdout
    done = companion("import", book, "--tune", "Spoons in Jar", code=1)
    assert "did you mean Spoon in the Jar?" in done.stderr


def test_no_song_hides_another_and_the_same_twice_can_be_told_apart(tmp_path, companion_home):
    """songs/two-spoons.toml comes with the companion."""
    sheet = tmp_path / "x.abc"
    sheet.write_text('X:1\nT:Two Spoons\nM:4/4\nL:1/8\nK:C\n"C"c8|\n')
    for _ in range(2):
        companion("import", sheet)
    assert {path.stem for path in (companion_home / "songs").glob("*")} == {"two-spoons-2", "two-spoons-3"}
    titles = [row["title"] for row in json.loads(companion("songs", "--json").stdout)]
    assert {"Two Spoons", "Two Spoons (2)", "Two Spoons (3)"} <= set(titles)


def test_accents_are_letters_in_an_id(tmp_path, companion_home):
    sheet = tmp_path / "x.abc"
    sheet.write_text('X:1\nT:Café Straße\nM:4/4\nL:1/8\nK:C\n"C"c8|\n', encoding="utf-8")
    assert "cafe-strasse.toml" in companion("import", sheet).stdout


# (ending, a word of what to do instead)
ELSEWHERE = (
    (".mid", "MusicXML"),
    (".pdf", "by hand"),
    (".png", "by hand"),
    (".toml", "companion where"),
    (".doc", "expected a file"),
)


@pytest.mark.parametrize(("ending", "words"), ELSEWHERE)
def test_other_files_get_a_sentence_that_helps(ending, words, tmp_path):
    path = tmp_path / f"x{ending}"
    path.write_bytes(b"x")
    done = companion("import", path, code=1)
    assert words in done.stderr and len(done.stderr.splitlines()) == 1
