"""`companion melody`: the melody of a song, for people and programs."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from chart.melody_reader import form, strains
from cli.calls import companion

from companion.theory.pitch import degree_interval

SONGS = Path(__file__).parents[2] / "songs"
# One of each meter, one with a pickup, one with a key of its own in the bridge.
READ = ("kettle-on-the-sill", "rowing-home-the-long-way", "goose-weather", "half-a-word-before", "next-landing-but-one")


@pytest.mark.parametrize("song", READ)
def test_it_is_what_another_reader_reads(song):
    told = json.loads(companion("melody", song, "--json").stdout)
    assert set(told) == {"notes"}
    path = SONGS / f"{song}.toml"
    read, at = [], 0
    sections = strains(path)
    for number, name in enumerate(form(path)):
        strain = sections[name]
        for note in strain.notes:
            if note.pitch is not None and (note.start >= 0 or number == 0):
                read.append((at + note.start, note.length, note.pitch, strain.bar_length, strain.chord_at(note.start)))
        at += strain.bars * strain.bar_length
    lines = {}  # first eighth of each bar
    at = 0
    for number, name in enumerate(form(path)):
        seen = form(path)[: number + 1].count(name)
        for bar in range(1, sections[name].bars + 1):
            lines[name, seen, bar] = at
            at += sections[name].bar_length
    unit = 2 if "/4" in path.read_text() else 1  # eighths a beat
    assert len(told["notes"]) == len(read)
    for note, (start, length, midi, bar_length, tones) in zip(told["notes"], read, strict=True):
        assert list(note) == ["section", "occurrence", "bar", "beat", "beats", "note", "midi", "finger", "degree"]
        line = lines[note["section"], note["occurrence"], note["bar"]] if note["bar"] else -bar_length
        assert (line + (note["beat"] - 1) * unit, note["beats"] * unit, note["midi"]) == (start, length, midi)
        assert 1 <= note["finger"] <= 5
        if note["bar"]:
            above = degree_interval(note["degree"])[1]
            is_tone = midi % 12 in tones
            root = (midi - above) % 12
            assert root in tones and (is_tone or note["degree"] not in ("1", "3", "5"))


def test_the_page_says_the_same(song="half-a-word-before"):
    told = json.loads(companion("melody", song, "--key", "Eb", "--json").stdout)["notes"]
    text = companion("melody", song, "--key", "Eb").stdout
    lines = text.splitlines()
    assert lines[0] == "Half a Word Before   Eb   4/4   A B A C"
    assert "another shell" in lines[1]
    rows = [line for line in lines if line[5:6].isdigit()]
    assert len(rows) == len(told)
    for row, note in zip(rows, told, strict=True):
        words = row[5:].split()
        assert (words[1], int(words[3])) == (note["note"], note["finger"])
        assert words[4:5] == ([note["degree"]] if note["degree"] else [])
    assert [line for line in lines if line[:1] in ("A", "B", "C") and len(line) < 6] == ["A (1)", "B", "A (2)", "C"]


def test_a_song_without_a_melody_is_one_sentence(tmp_path):
    chart = tmp_path / "bare.toml"
    chart.write_text(
        'title = "Bare"\nkey = "C"\nmeter = "4/4"\ntempo = 100\nfeel = "swing"\nform = "A"\n[section.A]\nbars = "C6 | G7"\n'
    )
    sentence = "Bare has no melody to print: expected one in its chart"
    for more, told in (((), ""), (("--json",), json.dumps({"fault": sentence}) + "\n")):
        said = companion("melody", chart, *more, code=1)
        assert said.stdout == told and said.stderr == f"{sentence}\n"


def fingers(*more: str) -> list[int]:
    told = json.loads(companion("melody", "half-a-word-before", *more, "--json").stdout)["notes"]
    return [note["finger"] for note in told if (note["section"], note["bar"], note["beat"]) == ("A", 1, 3)]


def test_own_fingers_are_kept_and_taken_back() -> None:
    assert fingers() == [2, 2]
    assert fingers("--finger", "A.1.3=3") == [3, 3] == fingers()
    assert fingers("--finger", "A.1.3=free", "--finger", "A.0.1=2") == [2, 2]
    for wrong in ("A.1.3=6", "A.1.9=2", "Q.1.1=2", "A=2"):
        said = companion("melody", "half-a-word-before", "--finger", wrong, code=1).stderr
        assert said.startswith(f"--finger {wrong}: ") and said.count("\n") == 1 and "expected" in said


def test_what_gives_way_is_chosen_and_kept() -> None:
    def lowest(*more: str) -> int:
        told = json.loads(companion("melody", "half-a-word-before", "--key", "Eb", *more, "--json").stdout)
        return min(note["midi"] for note in told["notes"])

    low = lowest()
    assert lowest("--room", "octave") == low + 12 == lowest()
    assert lowest("--room", "shells") == low == lowest("--room", "free") == lowest()
