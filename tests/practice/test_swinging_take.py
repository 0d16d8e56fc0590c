"""Swing ratio and place of whole recordings, from files that mido wrote."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from cli.calls import companion
from melody_files import write

from companion.chart.reader import read_chart
from companion.groove.swung_choice import BarVersion, SwungChoice
from companion.practice.marking.swinging_take import swing_of_take
from companion.practice.model import Press
from companion.session.stand import Stand
from companion.session.take_file import read_recording
from companion.store.own_swing import save_swing
from companion.store.paths import find_paths
from companion.store.settings import shipped_settings

SONG = "left-sock-blues"


@pytest.fixture(scope="session")
def stand() -> Stand:
    song = read_chart(Path(__file__).parents[2] / "songs" / f"{SONG}.toml")
    return Stand.put(song, shipped_settings(find_paths({}))).with_swung(SwungChoice(BarVersion(2)))


def melody(stand: Stand):
    return [(note.start_tick, note.ticks, note.pitch.midi) for note in stand.melody if note.pitch]


def shells(stand: Stand):
    """Whole notes."""
    return [
        (bar.start_tick, bar.meter.bar_ticks, key)
        for bar in stand.bars
        for key in (stand.choices_at(bar.index)[0][1].shell.midi)
    ]


def measured(stand, path, **options):
    recording = read_recording(str(write(path, melody(stand), stand.bars[-1].end_tick, **options)), None)
    return swing_of_take(stand.arrangement(), recording.presses, recording.clicks_s)


@pytest.mark.parametrize("tempo_bpm", [60, 140, 260])
@pytest.mark.parametrize("ratio", [1.0, 1.5, 2.0, 3.0])
def test_what_is_in_the_file_is_found(stand, tmp_path, ratio, tempo_bpm) -> None:
    """With a click or without; the left hand's notes below are no part of it."""
    for click in (False, True):
        found = measured(stand, tmp_path / "a.mid", ratio=ratio, tempo_bpm=tempo_bpm, click=click, below=shells(stand))
        assert found.quartiles == pytest.approx((ratio, ratio, ratio), abs=0.02)
        assert found.beat_ms == pytest.approx(0, abs=0.5) and found.clocked == click


def test_a_human_player_who_lies_back(stand, tmp_path) -> None:
    """Ten milliseconds of jitter, and every seventh note left out."""
    notes = melody(stand)
    path = write(
        tmp_path / "b.mid",
        [note for number, note in enumerate(notes) if number % 7],
        stand.bars[-1].end_tick,
        1.6,
        150,
        choruses=4,
        late_ms=30,
        jitter_ms=10,
        click=True,
    )
    recording = read_recording(str(path), None)
    found = swing_of_take(stand.arrangement(), recording.presses, recording.clicks_s)
    # The soloist's ratio from the delay d: (off - d) / (beat - off + d).
    off_ms, beat_ms = 400 * 1.6 / 2.6, 400
    assert found.quartiles is not None
    assert found.quartiles[1] == pytest.approx((off_ms - 30) / (beat_ms - off_ms + 30), abs=0.1)
    assert found.beat_ms == pytest.approx(30, abs=5)
    assert found.quartiles[0] < found.quartiles[1] < found.quartiles[2]


def test_another_octave_and_nothing_at_all(stand, tmp_path) -> None:
    up = [(start, ticks, note + 12) for start, ticks, note in melody(stand)]
    recording = read_recording(str(write(tmp_path / "c.mid", up, stand.bars[-1].end_tick, 2.0, 120)), None)
    found = swing_of_take(stand.arrangement(), recording.presses)
    assert found.quartiles is not None and found.quartiles[1] == pytest.approx(2.0, abs=0.02)
    assert swing_of_take(stand.arrangement(), []).sentence == ""
    assert swing_of_take(stand.arrangement(), [Press(float(n), 20) for n in range(9)]).sentence == ""
    assert swing_of_take(stand.arrangement(), [Press(0.0, melody(stand)[0][2])] * 20).quartiles is None


def test_companion_mark_tells_it(stand, tmp_path, paths) -> None:
    save_swing(paths, SONG, stand.swung)
    path = write(tmp_path / "d.mid", melody(stand), stand.bars[-1].end_tick, 1.7, 132, click=True)
    told = json.loads(companion("mark", SONG, path, "--hands", "right", "--json").stdout)["swing"]
    assert told["ratio"] == pytest.approx(1.7, abs=0.02) and told["beat_ms"] == pytest.approx(0, abs=0.5)
    assert (
        told["pairs"] >= 8
        and told["says"] == "Your eighths swing 1.7 to 1; your notes on the beat come with the click."
    )
    both = write(tmp_path / "e.mid", melody(stand), stand.bars[-1].end_tick, 1.7, 132, below=shells(stand))
    said = json.loads(companion("mark", SONG, both, "--json", "--pattern", "whole").stdout)
    assert said["swing"]["ratio"] == pytest.approx(1.7, abs=0.02) and said["swing"]["beat_ms"] is None
