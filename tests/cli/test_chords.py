"""`companion chords`: a song's chords in root position, for people and programs."""

from __future__ import annotations

import json

from cli.calls import companion

from companion.practice.drills.root_position import Known
from companion.session.chords.memory import KIND
from companion.store.log.practice_log import PracticeLog


def test_a_songs_chords_in_root_position() -> None:
    told = json.loads(companion("chords", "ferry-at-half-past-six", "--json").stdout)
    assert (told["hand"], told["inversion"]) == ("left", 0)
    assert [chord["symbol"] for chord in told["chords"]] == ["Bb6", "G7", "Cm7", "F7", "Dm7", "D7", "C7"]
    assert told["chords"][1] == {
        "symbol": "G7",
        "root": "G",
        "inversion": 0,
        "notes": ["G3", "B3", "D4", "F4"],
        "midi": [55, 59, 62, 65],
        "degrees": ["1", "3", "5", "b7"],
        "fingers": "5-3-2-1",
        "or_fingers": ["5-4-2-1"],
        "left_out": [],
        "bass": None,
        "shell": ["G2", "F3"],
        "times": 7,
        "find_s": None,
        "right": 0,
        "tries": 0,
    }
    text = companion("chords", "ferry-at-half-past-six").stdout
    for chord in told["chords"]:
        [line] = [line for line in text.splitlines() if line.split()[:1] == [chord["symbol"]]]
        assert line.split() == [
            chord["symbol"],
            *chord["notes"],
            *chord["degrees"],
            chord["fingers"],
            *chord["shell"],
        ]


def test_another_hand_key_and_inversion() -> None:
    wanted = ("--chords", "C13 G/B | F N.C.", "--key", "D", "--hand", "right", "--inversion", "3", "--json")
    told = json.loads(companion("chords", *wanted).stdout)["chords"]
    assert [chord["symbol"] for chord in told] == ["D13", "A/C#", "G"]
    assert told[0]["notes"] == ["C4", "D4", "F#4", "A4"] and told[0]["left_out"] == ["9", "11", "13"]
    assert (told[1]["bass"], told[1]["inversion"], told[1]["notes"]) == ("C#", 0, ["A4", "C#5", "E5"])
    text = companion("chords", *wanted[:-1]).stdout
    assert "third inversion is root position again" in text
    assert "over C#, which is left to the bass" in text and "tensions left out: 9, 11 and 13" in text


def test_what_was_found_is_told(paths) -> None:
    with PracticeLog.open(paths) as log:
        log.put_state("", "0 G 3 5 b7", KIND, Known((2.0, 1.0, 3.0), 2, 3, "2026-01-05").to_json(), "left")
    words = "Chords in root position and inversions: 1 by the left hand, 3 tries, the last on 2026-01-05."
    assert companion("log").stdout.strip() == words
    said = companion("chords", "--chords", "G7 G13 C")
    assert said.stdout.count("found in 2.0 s") == 2, "G13 is the same to play"
    told = json.loads(companion("chords", "--chords", "G7 C", "--json").stdout)["chords"]
    assert [(chord["find_s"], chord["right"], chord["tries"]) for chord in told] == [(2.0, 2, 3), (None, 0, 0)]
    assert "found" not in companion("chords", "--chords", "G7", "--hand", "right").stdout.splitlines()[-1]


def test_what_is_wider_than_the_hand_is_said(paths) -> None:
    paths.settings.parent.mkdir(parents=True, exist_ok=True)
    paths.settings.write_text("[hand]\nreach = 9\n", encoding="utf-8")
    text = companion("chords", "--chords", "Cmaj7 F").stdout
    assert text.count("wider than your reach") == 1


def test_wrong_input_is_one_sentence() -> None:
    for wrong in (("chords",), ("chords", "--chords", "Cxyz"), ("chords", "two-spoons", "--loop", "Q")):
        said = companion(*wrong, code=1).stderr
        assert said.count("\n") == 1 and "xpected" in said
    assert "expected a whole number from 0 to 3" in companion("chords", "two-spoons", "--inversion", "4", code=2).stderr
