"""`companion export` as a student calls it."""

from __future__ import annotations

import mido
import pytest
from cli.calls import companion


def test_a_file_of_every_cheap_kind(tmp_path) -> None:
    for ending in ("mid", "musicxml", "txt", "svg", "pdf"):
        if ending in ("svg", "pdf"):
            pytest.importorskip("verovio")
        done = companion("export", "two-spoons", str(tmp_path / f"two.{ending}"))
        assert done.stdout.strip() == str(tmp_path / f"two.{ending}") and done.stderr == ""
    assert len(list(tmp_path.glob("two.*"))) == 5


def test_options_reach_the_file(tmp_path) -> None:
    path = str(tmp_path / "x.mid")
    options = [
        "--key",
        "Eb",
        "--tempo",
        "90",
        "--loop",
        "B",
        "--choruses",
        "2",
        "--parts",
        "left,click",
        "--pattern",
        "whole",
    ]
    companion("export", "Ferry at Half Past Six", path, *options, "--count-in", "2")
    file = mido.MidiFile(path)
    assert [track.name for track in file.tracks] == ["Ferry at Half Past Six", "left hand", "click"]
    lasting = (2 + 2 * 8) * 4 * 60 / 90
    assert file.length == pytest.approx(lasting, abs=0.01)
    lefts = [message for message in file.tracks[1] if message.type == "note_on"]
    assert len(lefts) == 2 * 8 * 2


def test_a_practice_track_that_climbs(tmp_path) -> None:
    soundfile = pytest.importorskip("soundfile")
    path = str(tmp_path / "x.flac")
    companion("export", "left-sock-blues", path, "--from-tempo", "200", "--tempo", "288", "--bass", "walking")
    seconds = soundfile.info(path).duration
    assert seconds == pytest.approx((13 * 4) * 0.3 + 48 * 60 / 240 + 48 * 60 / 288 + 1.5, abs=0.01)


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (("two-spoons", "{}/x.doc"), 1, "'.doc' is no ending we write"),
        (("two-spoons", "{}/none/x.mid"), 1, "is not there; make it first"),
        (("no-such-song-at-all", "{}/x.mid"), 1, "There is no song"),
        (("two-spoons", "{}/x.mid", "--parts", "drums"), 1, "'drums' is not a part"),
        (("two-spoons", "{}/x.pdf", "--bass", "walking"), 1, "--bass is for MIDI files and tracks"),
        (("two-spoons", "{}/x.mid", "--tempo", "9"), 2, "expected a number from 20 to 400"),
        (("two-spoons", "{}/x.txt", "--round", "900"), 1, "expected a round from 1 to"),
    ],
)
def test_what_is_wrong_is_said_in_one_sentence(tmp_path, arguments, code: int, said: str) -> None:
    done = companion("export", *(argument.format(tmp_path) for argument in arguments), code=code)
    assert said in done.stderr and done.stdout == ""
    assert code == 2 or done.stderr.count("\n") == 1
    assert not list(tmp_path.glob("x.*"))


def test_an_existing_file_is_kept_unless_forced(tmp_path) -> None:
    path = tmp_path / "two.txt"
    companion("export", "two-spoons", str(path), "--round", "2")
    assert "is there already" in companion("export", "two-spoons", str(path), code=1).stderr
    assert "\f" in path.read_text(encoding="utf-8")
    companion("export", "two-spoons", str(path), "--force")
    assert "\f" not in path.read_text(encoding="utf-8")
