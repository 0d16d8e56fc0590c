"""The ride in files that the commands write: read by pretty_midi, and marked again as a take that was played to it."""

from __future__ import annotations

import contextlib
import io
import json
import math
import random
import wave
from itertools import product

import mido
import numpy as np
import pretty_midi
import pytest
from shipped import spread

from companion.cli.main import main
from companion.practice.marking.clock import beats_of_ride

RIDE, HI_HAT = 51, 44  # General MIDI 1, percussion key map
SWUNG, WALTZ, STRAIGHT = "ferry-at-half-past-six", "a-borrowed-umbrella", "coat-by-the-door"


def run(*arguments: object) -> str:
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        assert main([*map(str, arguments)]) == 0
    return out.getvalue()


def exported(path, song: str, *more: object) -> object:
    run("export", song, path, "--parts", "left,click", "--click", "ride", "--tempo", 120, *more)
    return path


def behind(path, offset_s: float, jitter_s: float = 0.0, seed: int = 0):
    """The hand comes so much later than it was, each strike by itself; 120 quarters a minute."""
    chance = random.Random(seed)
    file = mido.MidiFile(path)
    for track in file.tracks:
        if track.name != "left hand":
            continue
        at, late, moved = 0, {}, []
        for message in track:
            at += message.time
            if message.type in ("note_on", "note_off"):
                place = (at, message.type)
                late.setdefault(place, chance.gauss(offset_s, jitter_s))
                moved.append((at + round(late[place] * 2 * file.ticks_per_beat), message))
            else:
                moved.append((at, message))
        moved.sort(key=lambda pair: pair[0])
        track[:] = [message.copy(time=tick - last) for (last, _), (tick, message) in zip([(0, None), *moved], moved)]
    file.save(path)
    return path


@pytest.mark.parametrize(("song", "a_bar"), [(SWUNG, 6), (WALTZ, 4), (STRAIGHT, None)])
def test_pretty_midi_reads_a_ride_and_a_hi_hat_on_the_drums(tmp_path, song, a_bar):
    read = pretty_midi.PrettyMIDI(str(exported(tmp_path / "song.mid", song, "--count-in", 0)))
    (drums,) = [instrument for instrument in read.instruments if instrument.is_drum]
    names = {pretty_midi.note_number_to_drum_name(note.pitch) for note in drums.notes}
    assert names == {"Ride Cymbal 1", "Pedal Hi Hat"}
    bars = len(read.get_downbeats())
    if a_bar is not None:
        assert len([note for note in drums.notes if note.pitch == RIDE]) == a_bar * bars
    else:
        ride = sorted(note.start for note in drums.notes if note.pitch == RIDE)
        assert np.diff(ride) == pytest.approx(0.25, abs=1e-3)  # even eighths at 120


@pytest.mark.parametrize(("late_ms", "song"), spread([*product((0, 70), (SWUNG, WALTZ, STRAIGHT))], 2))
def test_a_take_with_the_ride_in_its_file_is_marked_against_its_beats(tmp_path, song, late_ms):
    path = behind(exported(tmp_path / "take.mid", song, "--choruses", 1), late_ms / 1000)
    told = json.loads(run("mark", song, path, "--json"))
    assert told["click"] and told["figures"]["offset_ms"] == pytest.approx(late_ms, abs=2.0)
    assert told["figures"]["share_right"] == 1.0


@pytest.mark.parametrize("seed", spread(range(3), 3))
def test_a_hand_with_a_spread_is_marked_as_without_the_ride(tmp_path, seed):
    path = behind(exported(tmp_path / "take.mid", SWUNG, "--choruses", 1), 0.02, 0.015, seed)
    told = json.loads(run("mark", SWUNG, path, "--json"))
    assert told["click"] and told["figures"]["offset_ms"] == pytest.approx(20, abs=6)
    assert told["figures"]["share_right"] == 1.0


def drummed(ratio: float, beats: int, spread_s: float, seed: int) -> tuple[list[float], list[float]]:
    """(all strokes, those on the beat) of a ride pattern at 150 by a hand that spreads."""
    chance, step = random.Random(seed), 60 / 150
    at = [(beat + (ratio / (ratio + 1) if skip else 0)) * step for beat in range(beats) for skip in range(1 + beat % 2)]
    on = [not (at_s / step) % 1 > 0.01 or math.isclose(at_s / step % 1, 1) for at_s in at]
    played = [at_s + chance.gauss(0, spread_s) for at_s in at]
    return played, [at_s for at_s, is_on in zip(played, on) if is_on]


@pytest.mark.parametrize("ratio", [1.0, 1.4, 2.0, 3.0, 3.5])
def test_beats_are_found_in_a_ride_played_by_hand(ratio):
    """Jitter of 8 ms, as drummers have (Hove, Keller & Krumhansl 2007 and others: 5 to 15 ms; from memory)."""
    for seed in range(20):
        played, beats = drummed(ratio, 64, 0.008, seed)
        found = beats_of_ride(played)
        assert set(beats) - set(found) <= {played[-1], played[0]} and len(found) <= len(beats) + 1, (ratio, seed)


def test_clicks_alone_stay_as_they_are():
    for step in (0.3, 0.5, 1.2):
        clicks = [number * step for number in range(40)]
        assert beats_of_ride(clicks) == clicks
    assert beats_of_ride([]) == [] and beats_of_ride([1.0, 2.0]) == [1.0, 2.0]


def test_a_track_has_the_ride_on_every_beat(tmp_path):
    """Far above the piano and the wood each beat of the ride has an onset."""
    high = {}
    for mode in ("every", "ride"):
        path = tmp_path / f"{mode}.wav"
        run(
            "export",
            SWUNG,
            path,
            "--parts",
            "left,click",
            "--click",
            mode,
            "--tempo",
            120,
            "--choruses",
            1,
            "--loop",
            "1-4",
        )
        with wave.open(str(path)) as file:
            rate = file.getframerate()
            data = np.frombuffer(file.readframes(file.getnframes()), "<i2").reshape(-1, 2).mean(axis=1) / 32768
        spectrum = np.fft.rfft(data)
        hz = np.fft.rfftfreq(len(data), 1 / rate)
        high[mode] = np.fft.irfft(spectrum * (hz > 5000), len(data))  # far above the piano and the wood
    beats = [0.5 + 2.0 + number * 0.5 for number in range(16)]  # half a second of silence, a bar counted
    for at_s in beats:
        at = round(at_s * rate)
        before, after = (
            np.sqrt(np.mean(part**2)) for part in (high["ride"][at - 882 : at], high["ride"][at : at + 882])
        )
        assert after > 1.5 * before
        assert after > 3 * np.sqrt(np.mean(high["every"][at + 441 : at + 1323] ** 2))
