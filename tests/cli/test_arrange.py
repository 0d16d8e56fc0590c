"""`companion arrange`: printed and as JSON, kept with the song, and taken by the other commands."""

from __future__ import annotations

import json

import mido
import pytest
from cli.calls import companion

from companion.errors import ExitCode

BAR = {"section", "occurrence", "bar", "tempo", "symbol", "left", "right"}
LEFT = {"beat", "beats", "midi", "fingers", "why"}


def bars(*words):
    return json.loads(companion("arrange", "two-spoons", *words, "--json").stdout)["bars"]


def test_json_has_what_the_help_says():
    found = bars("--voices", "3", "--once")
    assert len(found) >= 16 and all(bar.keys() == BAR for bar in found)
    assert all(stroke.keys() == LEFT for bar in found for stroke in bar["left"])
    right = [stroke for bar in found for stroke in bar["right"]]
    assert all(
        stroke.keys() == LEFT | {"melody", "ornament"} and stroke["melody"] == stroke["midi"][-1] for stroke in right
    )
    assert {len(stroke["midi"]) for stroke in right} == {1, 2, 3} or {len(stroke["midi"]) for stroke in right} == {2, 3}


def test_what_is_chosen_is_kept_and_exported(tmp_path):
    alone = [stroke["midi"] for bar in bars("--voices", "1", "--once") for stroke in bar["right"]]
    assert all(len(keys) == 1 for keys in alone)
    kept = [stroke["midi"] for bar in bars("--voices", "3", "--note", "A.1.1=alone") for stroke in bar["right"]]
    assert len(kept[0]) == 1 and kept == [stroke["midi"] for bar in bars() for stroke in bar["right"]]
    assert len(bars("--note", "A.1.1=free")[0]["right"][0]["midi"]) > 1
    file = tmp_path / "tune.mid"
    companion("export", "two-spoons", file, "--hands", "left")
    melody = next(track for track in mido.MidiFile(file).tracks if track.name == "melody")
    played = sum(message.type == "note_on" and message.velocity > 0 for message in melody)
    assert played > len(alone), "the company is in the file"


def test_choruses_are_told_one_by_one_and_the_file_has_as_many(tmp_path):
    wanted = ("--voices", "1", "--intro", "vamp", "--ending", "tag", "--ornaments", "walk")
    once, twice = bars(*wanted), bars(*wanted, "--choruses", "2")
    form = [bar for bar in once if bar["section"] not in ("Intro", "Ending")]
    assert len(twice) == len(once) + len(form)
    first = [(bar["section"], bar["occurrence"]) for bar in twice if bar["bar"] == 1][1:-1]
    assert len(set(first)) == len(first), "sections are counted on through the choruses"
    length, ending = len(form), [bar["section"] for bar in once].index("Ending")
    last_of = twice[ending - 1], twice[ending - 1 + length]
    assert last_of[1]["left"] == once[ending - 1]["left"] != last_of[0]["left"], "back to bar 1, on into the ending"
    file = tmp_path / "tune.mid"
    companion("export", "two-spoons", file, "--hands", "left")
    track = next(track for track in mido.MidiFile(file).tracks if track.name == "melody")
    struck = sum(message.type == "note_on" and message.velocity > 0 for message in track)
    assert struck == sum(len(stroke["midi"]) for bar in twice for stroke in bar["right"])


@pytest.mark.parametrize(
    ("words", "expected", "code"),
    [
        (("--note", "A.1=3"), "expected such as", ExitCode.FAULT),
        (("--note", "A.1.1=third"), "expected such as", ExitCode.FAULT),
        (("--note", "Z.1.1=3"), "no note of the melody is there", ExitCode.FAULT),
        (("--voices", "5"), "1 to 4", ExitCode.USAGE),
    ],
)
def test_what_cannot_be_is_said_in_a_sentence(words, expected, code):
    said = companion("arrange", "two-spoons", *words, code=code)
    assert expected in said.stderr and "Traceback" not in said.stderr
