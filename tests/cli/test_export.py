"""`companion export` as a student calls it."""

from __future__ import annotations

from xml.etree import ElementTree

import mido
import pytest
from cli.calls import companion
from sound.soundfonts_made import needs_fluidsynth, sine, soundfont


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
    assert seconds == pytest.approx((14 * 4) * 0.3 + 48 * 60 / 240 + 48 * 60 / 288 + 0.5 + 1.5, abs=0.01)


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


def test_a_track_leaves_out_the_hands_that_the_student_plays(tmp_path) -> None:
    """Which tracks a MIDI file has: the other hand's too, unless the rest is off."""
    ways = {
        ("left",): {"bass", "click", "melody"},
        ("right",): {"bass", "click", "left hand"},
        ("both",): {"bass", "click"},
        ("right", "--rest", "off"): {"bass", "click"},
    }
    for number, (way, names) in enumerate(ways.items()):
        path = tmp_path / f"{number}.mid"
        companion("export", "two-spoons", path, "--loop", "1-4", "--hands", *way)
        assert {track.name for track in mido.MidiFile(path).tracks[1:]} == names


def test_a_sheet_holds_what_the_chosen_hands_play(tmp_path) -> None:
    """Staves and clefs: treble for the right hand alone, bass for the left alone, both for both."""
    for hands, clefs in (("left", ["F"]), ("right", ["G"]), ("both", ["G", "F"])):
        path = tmp_path / f"{hands}.musicxml"
        companion("export", "two-spoons", path, "--loop", "1-4", "--hands", hands)
        score = ElementTree.parse(path)
        assert [sign.text for sign in score.iterfind(".//clef/sign")] == clefs
        voices = {voice.text for voice in score.iterfind(".//note/voice")}
        assert voices == {{"G": "1", "F": "5"}[clef] for clef in clefs}


@pytest.mark.parametrize("command", ["play", "mark", "export"])
def test_a_song_without_melody_has_nothing_for_the_right_hand(tmp_path, command) -> None:
    chart = tmp_path / "bare.toml"
    chart.write_text(
        'title = "Bare"\nkey = "C"\nmeter = "4/4"\ntempo = 100\nform = "A"\n[section.A]\nbars = "C6 | G7"\n'
    )
    take = tmp_path / "take.mid"
    mido.MidiFile(
        tracks=[mido.MidiTrack([mido.Message("note_on", note=60), mido.Message("note_off", note=60, time=99)])]
    ).save(take)
    target = {"play": [], "mark": [take], "export": [tmp_path / "x.mid"]}[command]
    said = companion(command, chart, *target, "--hands", "both", code=1).stderr
    assert "Bare has no melody, so there is nothing for the right hand" in said and len(said.splitlines()) == 1


def test_parts_and_hands_do_not_both_say_what_sounds(tmp_path) -> None:
    said = companion("export", "two-spoons", tmp_path / "x.mid", "--parts", "left", "--hands", "left", code=1).stderr
    assert "--parts and --hands both say what sounds" in said


@needs_fluidsynth
def test_a_soundfont_that_cannot_be_read_is_said_and_nothing_is_written(tmp_path, monkeypatch) -> None:
    """In the settings by a path from their own folder; the devices tell it too, and go on."""
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path / "home"))
    config = tmp_path / "home" / "config"
    config.mkdir(parents=True)
    (config / "settings.toml").write_text('[sound]\nsoundfont = "grand.sf2"\n', encoding="utf-8")
    done = companion("export", "two-spoons", str(tmp_path / "x.wav"), code=1)
    assert done.stderr.count("\n") == 1 and "The SoundFont grand.sf2 is not there." in done.stderr
    assert "sound.soundfont" in done.stderr and not list(tmp_path.glob("x.*"))
    (config / "grand.sf2").write_bytes(soundfont([{54: 1}], [sine(440)]))
    companion("export", "two-spoons", str(tmp_path / "x.wav"))
    assert (tmp_path / "x.wav").stat().st_size > 100_000
