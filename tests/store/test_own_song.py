"""The student's own file of a song: kept whole, read by rules, its faults in a sentence."""

from __future__ import annotations

import tomllib

import pytest

from companion.base.rules import Rule, whole
from companion.errors import SettingsError
from companion.groove.swung_choice import BarVersion, SwungChoice
from companion.store.own_song import BAR, Lines, own_path, read_table, write_table
from companion.store.own_swing import load_swing, save_swing

SONG = "two-spoons"
CHOICES = [
    SwungChoice(),
    SwungChoice(BarVersion(2)),
    SwungChoice(BarVersion(3, 17), 17, {("A", 5): None, ("B", 12): BarVersion(1, 4)}),
    SwungChoice(None, 0, {("Intro", 1): BarVersion(2)}),
    SwungChoice(None, 9, {}),
]
TYPED = """\
# how I play it
[swing]
version = 1   # the lazy one
later = "of a newer companion"

[swing.bars]
"A.3" = "straight"  # too fast for me
"A.4" = {version = 2, seed = 0}

[voices]   # of a newer companion
many = 3
"""


def write(paths, text: str) -> None:
    paths.own.mkdir(parents=True, exist_ok=True)
    own_path(paths, SONG).write_text(text, encoding="utf-8")


@pytest.mark.parametrize("choice", CHOICES)
def test_what_is_kept_is_read_again(paths, choice) -> None:
    save_swing(paths, SONG, CHOICES[2])
    save_swing(paths, SONG, choice)
    assert load_swing(paths, SONG) == choice
    save_swing(paths, SONG, SwungChoice())
    assert not own_path(paths, SONG).exists()  # nothing is left to keep


def test_without_a_file_nothing_is_chosen_and_none_is_made(paths) -> None:
    assert load_swing(paths, SONG) == SwungChoice() == load_swing(paths, "")
    assert not paths.own.exists()


def test_comments_and_what_a_newer_companion_wrote_stay(paths) -> None:
    write(paths, TYPED)
    choice = load_swing(paths, SONG)
    assert choice == SwungChoice(BarVersion(1), 0, {("A", 3): None, ("A", 4): BarVersion(2)})
    save_swing(paths, SONG, SwungChoice(BarVersion(3), 0, {("A", 3): None}))
    text = own_path(paths, SONG).read_text(encoding="utf-8")
    assert text == TYPED.replace("version = 1 ", "version = 3 ").replace('"A.4" = {version = 2, seed = 0}\n', "")
    save_swing(paths, SONG, SwungChoice())
    assert tomllib.loads(own_path(paths, SONG).read_text(encoding="utf-8")) == {
        "swing": {"later": "of a newer companion"},
        "voices": {"many": 3},
    }


def test_two_tables_keep_out_of_each_others_way(paths) -> None:
    rules = {"octave": whole(0, 1), "fingers": Lines(BAR, whole(1, 5))}
    write_table(paths, SONG, "melody", {"octave": 1, "fingers": {"A.2": 3}})
    save_swing(paths, SONG, CHOICES[2])
    assert read_table(paths, SONG, "melody", rules) == {"octave": 1, "fingers": {("A", 2): 3}}
    write_table(paths, SONG, "melody", {"octave": None, "fingers": {}})
    assert read_table(paths, SONG, "melody", rules) == {} and load_swing(paths, SONG) == CHOICES[2]


@pytest.mark.parametrize(
    ("text", "line", "expected"),
    [
        ("[swing]\nversion = 4\n", 2, '1, 2, 3 or "straight"'),
        ("[swing]\nversion = true\n", 2, '1, 2, 3 or "straight"'),
        ("\n[swing]\nseed = -1\n", 3, "a whole number from 0"),
        ("[swing]\nversion = 1\nbars = 3\n", 3, "a table [swing.bars]"),
        ("swing = 1\n", 1, "a table [swing]"),
        ('[swing.bars]\n"A.5" = "Straight"\n', 2, "version from 1 to 3"),
        ('[swing.bars]\n"A.5" = {seed = 3}\n', 2, "version from 1 to 3"),
        ('[swing.bars]\n"A.0" = "straight"\n', 2, 'a bar such as "A.5"'),
        ('[swing.bars]\nA = "straight"\n', 2, 'a bar such as "A.5"'),
    ],
)
def test_a_fault_is_one_sentence_with_its_line(paths, text, line, expected) -> None:
    write(paths, text)
    with pytest.raises(SettingsError) as raised:
        load_swing(paths, SONG)
    message = str(raised.value)
    assert message.startswith(f"{own_path(paths, SONG)}:{line}: ") and expected in message and "\n" not in message
    assert own_path(paths, SONG).read_text(encoding="utf-8") == text


@pytest.mark.parametrize("data", [b"[swing\n", b"\xff\xfe", b"a = 1\na = 2\n", b"x = " + b"9" * 5000])
def test_what_is_no_toml_is_said_and_never_written_over(paths, data) -> None:
    write(paths, "")
    own_path(paths, SONG).write_bytes(data)
    for ask in (load_swing, lambda *of: save_swing(*of, CHOICES[1])):
        with pytest.raises(SettingsError, match="cannot be read"):
            ask(paths, SONG)
    assert own_path(paths, SONG).read_bytes() == data


def test_what_cannot_be_kept_is_said(paths) -> None:
    write(paths, "swing = 5\n")
    for song_id in (SONG, ""):
        with pytest.raises(SettingsError, match="not saved"):
            save_swing(paths, song_id, CHOICES[1])


def test_a_rule_that_overflows_is_a_fault_too(paths) -> None:
    write(paths, "[melody]\nat = inf\n")
    with pytest.raises(SettingsError, match="expected a bar"):
        read_table(paths, SONG, "melody", {"at": Rule(int, "a bar")})
