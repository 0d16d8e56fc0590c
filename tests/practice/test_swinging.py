"""The student's own swing ratio and place against the click, recovered from MIDI files that another library wrote."""

from __future__ import annotations

import io
from dataclasses import replace

import mido
import pytest

from companion.chart.reader import parse_chart
from companion.groove.swung_choice import BarVersion, SwungChoice
from companion.groove.swung_song import played_melody
from companion.practice.marking.expected import expected_strikes, steady_starts
from companion.practice.marking.marks import judge, mark_pass
from companion.practice.marking.swinging import LEAST, Swinging, onsets_of, swinging
from companion.practice.model import Press, StrikeMark
from companion.session.stand import Stand
from companion.store.paths import find_paths
from companion.store.settings import shipped_settings

CHART = """
title = "Eighths"
key = "C"
meter = "4/4"
tempo = 150
feel = "swing"
form = "A"
[section.A]
bars = "C6 | F6 | Dm7 | G7"
melody = "{melody}"
"""
EIGHTHS = "cdef gfed | cdef gabc' | c'bag fedc | BcBA GABd"
QUARTERS = "c2d2e2f2 | g2f2e2d2 | c2B2A2c2 | d2c2B2d2"
TPQ = 480


def song(melody: str = EIGHTHS):
    return parse_chart(CHART.format(melody=melody))


@pytest.fixture(scope="session")
def stand() -> Stand:
    return Stand.put(song(), shipped_settings(find_paths({})))


def file_of(straight_ticks, ratio: float, tempo_bpm: float, late_ms: float = 0.0) -> list[float]:
    """Seconds at which notes sound in a MIDI file with those onsets (960 to the quarter) after four beats of rest, swung at the ratio, as mido
    reads it again."""
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(tempo_bpm))])
    late = late_ms / 60_000 * tempo_bpm * TPQ
    at = 0
    for tick in straight_ticks:
        beat, rest = divmod(tick + 4 * 960, 960)
        here = round(TPQ * (beat + (ratio / (ratio + 1) if rest else 0)) + (0 if rest else late))
        track.append(mido.Message("note_on", note=72, velocity=64, time=here - at))
        at = here
    data = io.BytesIO()
    mido.MidiFile(type=0, ticks_per_beat=TPQ, tracks=[track]).save(file=data)
    now, times = 0.0, []
    for message in mido.MidiFile(file=io.BytesIO(data.getvalue())):
        now += message.time
        if message.type == "note_on":
            times.append(now)
    return times


def measured(stand: Stand, ratio: float, tempo_bpm: float, late_ms: float = 0.0) -> Swinging:
    """Of a file with the stand's melody."""
    arrangement = stand.arrangement()
    expected = expected_strikes(arrangement, steady_starts(arrangement, 240.0 / tempo_bpm, tempo_bpm), parts=("right",))
    times = file_of([note.start_tick for note in stand.melody if note.pitch], ratio, tempo_bpm, late_ms)
    marks = [
        StrikeMark(due, "right", 1000 * (time_s - due.due_s), due.notes)
        for due, time_s in zip(expected, times, strict=True)
    ]
    return swinging([onsets_of(arrangement, judge(marks, ()))])


@pytest.mark.parametrize("tempo_bpm", [60, 100, 150, 200, 260])
@pytest.mark.parametrize("ratio", [1.0, 1.3, 1.67, 2.0, 2.5, 3.0])
def test_the_ratio_of_a_file_is_recovered_and_what_is_on_the_grid_is(stand, ratio, tempo_bpm) -> None:
    found = measured(stand, ratio, tempo_bpm)
    assert found.quartiles == pytest.approx((ratio, ratio, ratio), abs=0.02)
    assert found.beat_ms == pytest.approx(0, abs=0.5)


@pytest.mark.parametrize("tempo_bpm", [60, 150, 260])
@pytest.mark.parametrize("ratio", [1.0, 2.0, 3.0])
def test_it_is_recovered_from_a_swung_version_too(stand, ratio, tempo_bpm) -> None:
    """Where few beats and their halves are both struck."""
    quarters = song(QUARTERS)
    found = []
    for seed in range(4):
        melody = played_melody(quarters, SwungChoice(BarVersion(1, seed)))
        swung = replace(stand, song=quarters, original=quarters, melody=melody)
        found += [measured(swung, ratio, tempo_bpm)]
    ratios = [ratio for each in found for ratio in each.ratios]
    assert len(ratios) >= LEAST and ratios == pytest.approx([ratio] * len(ratios), abs=0.02)


def test_a_soloist_who_lies_back_has_the_ratio_of_the_paper(stand) -> None:
    """Nelias and others 2022: at 150, with a cymbal at 2:1 and downbeats 30 ms late, (off - d) / (beat - off + d) = 1.45."""
    found = measured(stand.change(swing_ratio=2.0), 2.0, 150, late_ms=30)
    assert found.quartiles is not None and found.quartiles[1] == pytest.approx(1.45, abs=0.02)
    assert found.beat_ms == pytest.approx(30, abs=1) and found.off_beat_ms == pytest.approx(0, abs=1)
    assert found.sentence.endswith("your notes on the beat come 30 ms behind the click.")


def test_it_is_read_from_the_marks_of_a_pass(stand) -> None:
    arrangement = stand.arrangement()
    expected = expected_strikes(arrangement, steady_starts(arrangement, 240.0 / 150, 150), parts=("right",))
    times = file_of([note.start_tick for note in stand.melody if note.pitch], 1.6, 150, late_ms=-12)
    presses = [Press(time_s, due.notes[0]) for due, time_s in zip(expected, times, strict=True)]
    marks = mark_pass(expected, presses, ceiling=127)
    found = swinging([onsets_of(arrangement, marks)])
    assert len(found.ratios) == 16 and found.quartiles is not None
    assert found.beat_ms == pytest.approx(-12, abs=1)
    assert "before the click" in found.sentence


def test_too_little_says_nothing_and_without_a_click_there_is_no_place(stand) -> None:
    assert Swinging((2.0,) * (LEAST - 1)).sentence == "" == swinging([]).sentence
    assert Swinging((2.0,) * LEAST).sentence == "Your eighths swing 2.0 to 1."
    assert Swinging((1.2, 1.42, 1.62, 1.8) * 2, 0.2).sentence == (
        "Your eighths swing 1.5 to 1 (half of them from 1.4 to 1.7); your notes on the beat come with the click."
    )
    assert Swinging((), 20.0, clocked=False).sentence == ""
    assert "click" not in replace(measured(stand, 2.0, 120), clocked=False).sentence


def test_triplets_and_meters_of_eighths_are_no_swing_eighths() -> None:
    for melody, meter in (("(3cde f2 (3gab c'2 | c8 | c8 | c8", "4/4"), ("cde fed | c6 | c6 | c6", "6/8")):
        other = Stand.put(
            parse_chart(CHART.replace("4/4", meter).format(melody=melody)), shipped_settings(find_paths({}))
        )
        arrangement = other.arrangement()
        expected = expected_strikes(arrangement, steady_starts(arrangement, 0.0, 100), parts=("right",))
        onsets = onsets_of(arrangement, judge([StrikeMark(due, "right", 0.0, due.notes) for due in expected], ()))
        assert not any(onset.off_beat for onset in onsets)
