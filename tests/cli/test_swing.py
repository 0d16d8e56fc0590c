"""`companion swing`: chosen, kept, put back, for people and programs."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from cli.calls import companion

from companion.store.own_song import own_path

SONG = "walnut-street-laundry"


def told(*arguments: object) -> dict:
    return json.loads(companion("swing", SONG, *arguments, "--json").stdout)


def test_a_version_is_kept_and_written_under_the_straight_one(paths) -> None:
    assert told()["changed"] == 0 and not own_path(paths, SONG).exists()
    chosen = told("--version", 2)
    assert (chosen["version"], chosen["seed"], chosen["bars"]) == (2, 0, 24)
    assert chosen["changed"] * 2 >= chosen["bars"]
    assert told() == chosen  # kept
    bars = [bar for section in chosen["sections"] for bar in section["bars"]]
    assert all(bar["straight"] != bar["swung"] for bar in bars if bar["changes"])
    text = companion("swing", SONG).stdout.splitlines()
    above = next(number for number, line in enumerate(text) if line.startswith("B2 d2 c2 B2"))
    for line, key in ((above, "straight"), (above + 1, "swung")):
        assert [cell.strip() for cell in text[line].split("|")][:4] == [bar[key] for bar in bars[:4]]
    assert max(map(len, text)) <= 80


def test_bars_are_put_back_kept_and_let_go() -> None:
    whole = told("--version", 1)["sections"][0]["bars"]
    one, two = (told("--version", n)["sections"][0]["bars"] for n in (1, 2))
    swung = next(n for n, (a, b) in enumerate(zip(one, two), 1) if a["changes"] and a["changes"] != b["changes"])
    back = told("--version", 1, "--bar", f"{swung}=straight")["sections"][0]["bars"][swung - 1]
    assert back["kept"] and back["version"] == "straight" and back["swung"] == back["straight"]
    kept = told("--version", 2, "--bar", f"A.{swung}=1")["sections"][0]["bars"][swung - 1]
    assert (kept["kept"], kept["version"], kept["changes"]) == (True, 1, whole[swung - 1]["changes"])
    free = told("--bar", f"{swung}=free")["sections"][0]["bars"]
    assert free == two
    assert told("--version", "straight")["changed"] == 0


def test_three_others_and_another_key() -> None:
    first = told("--version", 3)
    other = told("--seed", 12)
    assert other["seed"] == 12 and other["sections"] != first["sections"]
    moved = told("--key", "Eb")
    assert moved["key"] == "Eb" and moved["changed"] == other["changed"] and moved["sections"] != other["sections"]
    assert "Version 3 of seed 12" in companion("swing", SONG).stdout


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("goose-weather", "--version", "1"), "is in 12/8, where the eighths swing as they are written"),
        ((SONG, "--bar", "33=1"), "the chorus has 32 bars"),
        ((SONG, "--bar", "A.9=1"), "expected one of A.1 to A.8"),
        ((SONG, "--bar", "5=4"), "expected such as 5=straight, A.5=2 or 5=free"),
    ],
)
def test_what_cannot_be_done_is_said_in_a_sentence(paths, arguments, said) -> None:
    error = companion("swing", *arguments, code=1).stderr
    assert said in error and error.count("\n") == 1 and not paths.own.exists()


def test_a_song_without_a_melody_and_one_whose_file_is_damaged(paths, tmp_path) -> None:
    bare = tmp_path / "bare.toml"
    bare.write_text('title = "Bare"\nkey = "C"\nmeter = "4/4"\ntempo = 99\nform = "A"\n[section.A]\nbars = "C6"\n')
    assert "has no melody" in companion("swing", bare, code=1).stderr
    paths.own.mkdir(parents=True)
    own_path(paths, SONG).write_text("[swing]\nversion = 9\n")
    assert f"{own_path(paths, SONG)}:2: [swing] version is 9" in companion("swing", SONG, code=1).stderr


def test_a_straight_song_stays_even() -> None:
    text = companion("swing", "kettle-on-the-sill", "--version", "1").stdout
    assert "its eighths stay even" in text


def test_what_readme_shows_is_what_is_printed() -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    shown = readme.split("## Making a melody swing")[1].split("## ")[0]
    lines = [line.strip() for line in shown.splitlines() if line.startswith("    ")]
    printed = [line.strip() for line in companion("swing", "two-spoons", "--version", "2").stdout.splitlines()]
    assert len(lines) == 4 and lines == printed[printed.index("A") :][:4]


def test_a_track_may_lie_back_and_a_sheet_may_not(tmp_path) -> None:
    for name, options in (("on.mid", ()), ("back.mid", ("--laid-back",))):
        companion("export", SONG, tmp_path / name, "--parts", "melody", *options)
    assert (tmp_path / "on.mid").read_bytes() != (tmp_path / "back.mid").read_bytes()
    said = companion("export", SONG, tmp_path / "a.txt", "--laid-back", code=1).stderr
    assert "--laid-back is for MIDI files and tracks" in said
