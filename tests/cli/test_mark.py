"""`companion mark` on takes that are rendered from the groove's own timeline by mido, with slips put in."""

from __future__ import annotations

import contextlib
import io
import json
import random
from fractions import Fraction

import mido
import pytest
from practice.take_plans import Recipe
from practice.takes import make
from shipped import spread

from companion.cli.main import main
from companion.groove.model import HAND_PARTS
from companion.groove.timeline import timeline
from companion.practice.marking.expected import expected_strikes, steady_starts
from companion.session.stand import Stand
from companion.store.library import find_song

SONG = "ferry-at-half-past-six"
FILE_TICKS = 480


def mark(*arguments: object, code: int = 0) -> tuple[str, str]:
    """What the command prints on stdout and stderr."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        got = main(["mark", *map(str, arguments)])
    assert got == code, out.getvalue() + err.getvalue()
    return out.getvalue(), err.getvalue()


def marked(*arguments: object) -> dict:
    return json.loads(mark(*arguments, "--json")[0])


def heard(stand: Stand, turns: int, tempo_bpm: float, start_s: float) -> list[tuple[float, int, int, int]]:
    """(second, note, turn, position) of every shell note of the timeline, without a count-in."""
    arrangement = stand.change(demonstrate=True, count_in_bars=0).arrangement()
    line = timeline(arrangement, [tempo_bpm] * turns)
    events = [event for event in line.events if event.part == "left" and event.tick >= line.music_tick]
    origin_s, *times = line.seconds((line.music_tick, *(event.tick for event in events)))
    bars = [bar for bar in line.bars if bar.turn >= 0]
    places = [max((bar for bar in bars if bar.tick <= event.tick), key=lambda bar: bar.tick) for event in events]
    return [
        (start_s + time_s - origin_s, event.note, bar.turn, bar.position)
        for time_s, event, bar in zip(times, events, places)
    ]


def write_take(path, notes, tempo=500_000, tracks=1):
    """Notes as (second, number) in a file of that tempo; with two tracks the tempo map stands apart, as format 1 has
    it."""
    file = mido.MidiFile(type=0 if tracks == 1 else 1, ticks_per_beat=FILE_TICKS)
    head, body = mido.MidiTrack(), mido.MidiTrack()
    (head if tracks > 1 else body).append(mido.MetaMessage("set_tempo", tempo=tempo))
    moves = []
    for time_s, note in notes:
        moves += [
            (time_s, "note_on", note, 70),
            (time_s + 0.08, "note_on", note, 0),
        ]  # many instruments end a note with velocity 0
    last = 0
    for time_s, kind, note, velocity in sorted(moves):
        tick = round(time_s * 1e6 / tempo * FILE_TICKS)
        body.append(mido.Message(kind, note=note, velocity=velocity, time=tick - last))
        last = tick
    file.tracks += [head, body] if tracks > 1 else [body]
    file.save(path)
    return path


@pytest.fixture
def stand(paths, settings):
    return Stand.put(find_song(SONG, paths, settings), settings)


@pytest.mark.parametrize("seed", spread(range(6), 4, 1))
def test_a_perfect_take_gets_full_marks(stand, tmp_path, seed):
    rng = random.Random(seed)
    start_s, tempo_bpm, turns = rng.uniform(0.0, 12.0), rng.uniform(60.0, 200.0), rng.randint(1, 3)
    pattern = rng.choice(["four", "charleston"])
    notes = [(time_s, note) for time_s, note, *_ in heard(stand.change(pattern=pattern), turns, tempo_bpm, start_s)]
    told = marked(SONG, write_take(tmp_path / "take.mid", notes, rng.choice([500_000, 631_578]), rng.choice([1, 2])))
    assert (told["key"], told["semitones"], told["click"]) == ("Bb", 0, False)
    assert not told["events"] and not told["says"] and all(each["clean"] for each in told["passes"])
    assert (told["song"], told["pattern"], told["words"]) == (SONG, pattern, "in time")
    assert told["tempo"] == pytest.approx(tempo_bpm, rel=0.002) and told["start_s"] == pytest.approx(start_s, abs=0.01)
    assert (
        told["figures"]["passes"] == turns and told["figures"]["share_right"] == 1.0 and told["figures"]["extra"] == 0
    )
    assert {"bar", "beat", "symbol", "verdict", "offset_ms", "played", "section"} <= set(told["chords"][0])
    chorus = [
        (bar.section, bar.occurrence, bar.bar, placed.beat + 1, placed.chord.symbol, choice.shell.midi)
        for bar in stand.bars
        for placed, choice in stand.choices_at(bar.index)
    ]
    said = [
        (
            chord["section"],
            chord["occurrence"],
            chord["bar"],
            Fraction(chord["beat"]),
            chord["symbol"],
            tuple(sorted(chord["played"])),
        )
        for chord in told["chords"]
    ]
    assert said == chorus * turns


@pytest.mark.parametrize("seed", spread(range(4), 2))
def test_known_slips_are_marked_truly(stand, tmp_path, seed):
    """Whole bars late, wrong, or left out; played with 8 ms of spread."""
    rng = random.Random(seed)
    slips = {
        (0, position): rng.choice(["right"] * 6 + ["late", "wrong", "missing"]) for position in range(len(stand.bars))
    }
    slips[0, len(stand.bars) - 1] = "right"  # late to the end is a wait
    notes = []
    for time_s, note, turn, position in heard(stand, 1, 108.0, 3.7):
        slip = slips[turn, position]
        top = note > max(choice.shell.midi[0] for _, choice in stand.choices_at(position))
        if slip != "missing":
            notes.append((time_s + rng.gauss(0.0, 0.008) + 0.12 * (slip == "late"), note + (slip == "wrong" and top)))
    told = marked(SONG, write_take(tmp_path / "take.mid", notes))
    want = [slips[0, bar.index] for bar in stand.bars for _ in bar.chords]
    played = [number for number, slip in enumerate(want) if slip != "missing"]
    want = want[played[0] : played[-1] + 1]  # what lies before and after was not played
    assert [chord["verdict"] for chord in told["chords"]] == want
    assert all(95 < chord["offset_ms"] < 145 for chord in told["chords"] if chord["verdict"] == "late")
    assert told["figures"]["right"] == want.count("right") and told["figures"]["missing"] == want.count("missing")


def test_a_loop_in_another_key_with_a_known_tempo(stand, tmp_path):
    moved = stand.with_key("Eb").with_loop(stand.section_loops()[2][1], "B")
    notes = [(time_s, note) for time_s, note, *_ in heard(moved, 2, 140.0, 1.25)]
    told = marked(
        SONG,
        write_take(tmp_path / "take.mid", notes),
        "--key",
        "Eb",
        "--loop",
        "B",
        "--tempo",
        "140",
        "--pattern",
        "four",
    )
    assert {chord["section"] for chord in told["chords"]} == {"B"} and told["tempo"] == 140.0
    assert told["figures"]["share_right"] == 1.0 and told["figures"]["passes"] == 2


def test_the_files_own_tempo_map_is_kept_to(stand, tmp_path):
    """The tempo of the file doubles in the middle and its ticks with it, so the seconds stay even (Standard MIDI
    Files 1.0: a tempo holds for every track)."""
    notes = [(time_s, note) for time_s, note, *_ in heard(stand, 1, 120.0, 2.0)]
    file = mido.MidiFile(type=1, ticks_per_beat=FILE_TICKS)
    head, body = mido.MidiTrack(), mido.MidiTrack()
    head += [mido.MetaMessage("set_tempo", tempo=500_000), mido.MetaMessage("set_tempo", tempo=250_000, time=60 * 960)]
    last = 0
    for time_s, note in notes:
        tick = round(960 * time_s if time_s <= 60.0 else 60 * 960 + 1920 * (time_s - 60.0))
        body += [mido.Message("note_on", note=note, velocity=80, time=tick - last)]
        last = tick
    file.tracks += [head, body]
    file.save(tmp_path / "take.mid")
    told = marked(SONG, tmp_path / "take.mid")
    assert told["figures"]["share_right"] == 1.0 and told["tempo"] == pytest.approx(120.0, abs=0.1)


def test_running_status_and_frames_are_read(tmp_path):
    """Bytes by hand after Standard MIDI Files 1.0: running status, note-on with velocity 0, and 25 frames a second of
    40 ticks = 1 ms."""
    from companion.session.take_file import read_recording

    track = bytes.fromhex(
        "00 90 32 40  00 3c 40  83 74 32 00  00 3c 00  00 99 25 40  8f 50 90 32 40  00 ff 2f 00".replace(" ", "")
    )
    head = b"MThd" + (6).to_bytes(4, "big") + bytes([0, 0, 0, 1, 0xE7, 40])
    path = tmp_path / "frames.mid"
    path.write_bytes(head + b"MTrk" + len(track).to_bytes(4, "big") + track)
    presses = read_recording(path).presses
    assert [(round(press.time_s, 6), press.note) for press in presses] == [(0.0, 50), (0.0, 60), (2.5, 50)]


def test_a_take_in_words(stand, tmp_path):
    notes = []
    for time_s, note, _, position in heard(stand, 1, 100.0, 1.0):
        if position != 9:
            notes.append((time_s + 0.15 * (position == 12), note))
    text, _ = mark(SONG, write_take(tmp_path / "take.mid", notes))
    assert "Ferry at Half Past Six" in text and "tempo 100.0" in text and "Pass 1" in text
    assert "late by 15" in text and "missing" in text and "Costliest changes:" in text


@pytest.mark.parametrize("tempo", spread((97.0, 120.0, 126.0), 3))
def test_a_take_begins_at_nothing_before_nothing(stand, tmp_path, tempo):
    notes = [(time_s, note) for time_s, note, _, _ in heard(stand, 1, tempo, 0.0)]
    text, _ = mark(SONG, write_take(tmp_path / "take.mid", notes))
    assert "Found from 0.00 s on" in text


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (None, "no such file"),
        (b"", "is empty"),
        (b"RIFF, but no MIDI", "not a MIDI file"),
        (b"MThd", "breaks off"),
        (b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\x01\xe0MTrk\x00\x00\x01\x00\x00\x90", "breaks off"),
        (b"MThd\x00\x00\x00\x06\x00\x02\x00\x01\x01\xe0MTrk\x00\x00\x00\x04\x00\xff\x2f\x00", "format 2"),
        (b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x00MTrk\x00\x00\x00\x08\x00\x90\x32\x40\x00\xff\x2f\x00", "ticks"),
        (b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\x01\xe0MTrk\x00\x00\x00\x04\x00\xff\x2f\x00", "no notes"),
        (b"MThd" + bytes(5_000_000), "5.0 MB"),
    ],
    ids=["missing", "empty", "other", "head only", "track cut off", "format 2", "no ticks", "no notes", "too large"],
)
def test_bad_files_get_one_clear_sentence(tmp_path, content, words):
    path = tmp_path / "take.mid"
    if content is not None:
        path.write_bytes(content)
    out, err = mark(SONG, path, "--json", code=1)
    assert words in err and str(path) in err and len(err.strip().splitlines()) == 1
    assert json.loads(out)["fault"] in err


def test_a_folder_is_no_take(tmp_path):
    assert "no such file" in mark(SONG, tmp_path, code=1)[1]


@pytest.mark.parametrize("seed", spread(range(30), 6))
def test_damaged_files_never_bring_it_down(stand, tmp_path, seed):
    """A good file with bytes changed or its end cut off: marked, or refused in one sentence."""
    rng = random.Random(seed)
    notes = [(time_s, note) for time_s, note, *_ in heard(stand.with_loop(range(4), "start"), 1, 120.0, 0.5)]
    data = bytearray(write_take(tmp_path / "take.mid", notes).read_bytes())
    for _ in range(rng.randint(1, 6)):
        data[rng.randrange(4, len(data))] = rng.randrange(256)
    (tmp_path / "take.mid").write_bytes(data[: rng.choice([len(data), rng.randrange(5, len(data))])])
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()) as err:
        assert main(["mark", SONG, str(tmp_path / "take.mid"), "--loop", "1-4"]) in (0, 1)
    assert len(err.getvalue().strip().splitlines()) <= 1


def test_another_song_is_refused_by_its_name(tmp_path):
    made = make("left-sock-blues", Recipe("four"), 1)
    out, err = mark(
        SONG, write_take(tmp_path / "take.mid", [(p.time_s, p.note) for p in made.presses]), "--pattern", "four", code=1
    )
    assert "is not Ferry at Half Past Six but Left Sock Blues" in err and not out


@pytest.mark.parametrize(("semitones", "key"), spread([(2, "C"), (-5, "F"), (12, "Bb")], 3))
def test_another_key_or_octave_is_named_and_marked_in_it(stand, tmp_path, semitones, key):
    notes = [(time_s, note + semitones) for time_s, note, *_ in heard(stand, 1, 120.0, 1.0)]
    path = write_take(tmp_path / "take.mid", notes)
    told = marked(SONG, path)
    assert (told["key"], told["semitones"], told["figures"]["share_right"]) == (key, semitones, 1.0)


@pytest.mark.parametrize(
    ("semitones", "words"),
    spread(
        [
            (12, "played an octave higher than the chart"),
            (2, "played in C, a whole tone higher than the chart"),
            (-5, "played in F, a fourth lower than the chart"),
        ],
        2,
    ),
)
def test_the_key_it_was_played_in_is_told_in_words(stand, tmp_path, semitones, words):
    notes = [
        (time_s, note + semitones) for time_s, note, *_ in heard(stand.with_loop(range(8), "start"), 1, 120.0, 1.0)
    ]
    text, _ = mark(SONG, write_take(tmp_path / "take.mid", notes), "--loop", "1-8")
    assert words in text.splitlines()[0]


def test_the_click_in_the_file_is_the_clock(stand, tmp_path):
    """80 ms behind a click on channel 10 (General MIDI percussion): late, though the hand is even in itself."""
    notes = [(time_s + 0.08, note) for time_s, note, *_ in heard(stand, 1, 120.0, 1.0)]
    path = write_take(tmp_path / "take.mid", notes)
    assert marked(SONG, path)["words"] == "in time"
    file = mido.MidiFile(path)
    clicks = mido.MidiTrack()
    for beat in range(132):
        clicks.append(mido.Message("note_on", channel=9, note=37, velocity=90, time=480 if beat else 960))
        clicks.append(mido.Message("note_off", channel=9, note=37, time=0))
    file.type = 1
    file.tracks.append(clicks)
    file.save(path)
    told = marked(SONG, path)
    assert told["click"] and told["words"] == "late" and told["figures"]["offset_ms"] == pytest.approx(80.0, abs=2.0)
    for track in file.tracks:
        for message in track:
            if message.type in ("note_on", "note_off"):
                message.channel = 0
    file.save(path)
    assert marked(SONG, path, "--click-track", 2)["words"] == "late"
    assert "expected a click track from 1 to 2" in mark(SONG, path, "--click-track", 3, code=1)[1]


def test_what_happened_is_told_where_it_happened(tmp_path):
    """A wait, a bar begun again, bars left out, a smash: in the words and in the JSON."""
    made = make(SONG, Recipe("four", slips=0, waits=1, restarts=1, skips=1, smashes=1), 4)
    path = write_take(tmp_path / "take.mid", [(p.time_s, p.note) for p in made.presses])
    told = marked(SONG, path)
    kinds = {"waited": "waited", "again": "began again", "left out": "left out"}
    want = sorted((kinds[event.kind], event.index) for event in made.events)
    bars = {(bar.section, bar.occurrence, bar.bar): bar.index for bar in made.stand.bars}
    said = [(e["kind"], bars[e["section"], e["occurrence"], e["bar"]]) for e in told["events"]]
    assert sorted(said) == want
    text = mark(SONG, path)[0]
    assert "Waited " in text and "Began again from " in text and "Left out " in text and "a smash" in text


def test_noise_is_no_take(tmp_path):
    rng = random.Random(1)
    notes = [(0.37 * number + rng.random() * 0.2, rng.randint(70, 90)) for number in range(200)]
    assert "is not to be heard" in mark(SONG, write_take(tmp_path / "take.mid", notes), code=1)[1]


def test_help_says_what_the_answer_means():
    out = io.StringIO()
    with contextlib.redirect_stdout(out), pytest.raises(SystemExit):
        main(["mark", "--help"])
    for word in ("start_s", "offset_ms", "played", "--pattern", "--loop", "TAKE"):
        assert word in out.getvalue()


def test_a_file_of_one_hand_only_is_marked_and_the_other_named(tmp_path, paths, settings):
    song = "kettle-on-the-sill"
    arrangement = Stand.put(find_song(song, paths, settings), settings).change(pattern="four").arrangement()
    due = expected_strikes(arrangement, steady_starts(arrangement, 2.0, 96.0), parts=HAND_PARTS)
    for part, other in (("left", "right"), ("right", "left")):
        notes = [(strike.due_s, note) for strike in due if strike.part == part for note in strike.notes]
        path = write_take(tmp_path / f"{part}.mid", notes)
        assert f"The {other} hand is missing" in mark(song, path, "--hands", "both")[0]
        (told,) = marked(song, path, "--hands", "both")["passes"]
        assert told["hands"]["absent_hand"] == other and part in told["hands"] and other not in told["hands"]
        error = mark(song, path, "--hands", other, code=1)[1]
        assert f"the {part} hand alone" in error and f"--hands {part}" in error
