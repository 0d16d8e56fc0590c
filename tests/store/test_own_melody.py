"""The table [melody] of the student's own file of a song."""

from __future__ import annotations

import pytest

from companion.errors import SettingsError
from companion.store.own_melody import OwnMelody, add_other_shells, load_melody, save_fingers, save_room
from companion.store.own_song import own_path
from companion.theory.pitch import Tone

SONG = "two-spoons"


def write(paths, text: str) -> None:
    paths.own.mkdir(parents=True, exist_ok=True)
    own_path(paths, SONG).write_text(text, encoding="utf-8")


def test_what_is_kept_is_read_again(paths):
    assert load_melody(paths, SONG) == OwnMelody()
    fingers = {("A", 3, 2): 4, ("A", 0, 1): 1, ("Verse'2", 12, 10): 5}
    save_fingers(paths, SONG, fingers)
    save_room(paths, SONG, "octave")
    add_other_shells(paths, SONG, Tone.parse("Db"))
    add_other_shells(paths, SONG, Tone.parse("C#"))  # the same key
    add_other_shells(paths, SONG, Tone.parse("E"))
    assert load_melody(paths, SONG) == OwnMelody("octave", (Tone.parse("Db"), Tone.parse("E")), fingers)
    save_fingers(paths, SONG, {})
    assert load_melody(paths, SONG).fingers == {}


def test_what_was_typed_stays(paths):
    write(
        paths, '# mine\n[melody]\nroom = "shells" # I like it low\n[melody.fingers]\n"A.1.1" = 2 # as my teacher says\n'
    )
    save_fingers(paths, SONG, {("A", 1, 1): 2, ("A", 1, 2): 3})
    text = own_path(paths, SONG).read_text()
    assert "# mine" in text and "# I like it low" in text and "# as my teacher says" in text and '"A.1.2" = 3' in text


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ('room = "up"', 'expected one of "shells", "octave"'),
        ("other_shells = 3", "expected a list of keynotes"),
        ('other_shells = ["H"]', "expected a list of keynotes"),
        ('[melody.fingers]\n"A.1" = 2', "expected a note such as"),
        ('[melody.fingers]\n"A.1.0" = 2', "expected a note such as"),
        ('[melody.fingers]\n"A.1.1" = 6', "expected a whole number from 1 to 5"),
        ('[melody.fingers]\n"A.1.1" = "thumb"', "expected a whole number from 1 to 5"),
    ],
)
def test_faults_are_named_with_their_line(paths, line, expected):
    write(paths, f"[melody]\n{line}\n")
    with pytest.raises(SettingsError) as caught:
        load_melody(paths, SONG)
    assert expected in str(caught.value) and f"{SONG}.toml:" in str(caught.value)
