"""The songs a beginner starts with, practised on the way that the app takes: played right they are marked right, and the climb goes up
to the target; the bar that is made to slip is the one that is told."""

from __future__ import annotations

from pathlib import Path

import pytest
from desk import Conducted, nothing, right, slips
from shipped import spread

from companion.chart.reader import read_chart
from companion.session.stand import Stand

SONGS = Path(__file__).parents[2] / "songs"
FOR_BEGINNERS = (
    "kettle-on-the-sill",
    "coat-by-the-door",
    "lullaby-for-a-bicycle",
    "paper-boat-on-brown-water",
    "shoelaces-first",
    "stairs-two-at-a-time",
)


def seated(name, settings, log, hands) -> Conducted:
    table = Conducted(Stand.put(read_chart(SONGS / f"{name}.toml"), settings), log, settings)
    table.conductor.sources.key_heard = True
    table.desk.hands = hands
    return table


@pytest.mark.parametrize("name", spread(FOR_BEGINNERS, 6, 1))
def test_right_hands_climb_to_the_target(name, settings, log) -> None:
    table = seated(name, settings, log, right)
    table.do(table.conductor.practise("climb"))
    table.do(table.conductor.start())
    table.desk.run(until=lambda: table.conductor.practice.drill.finished)
    records = log.passes()
    assert records and all(record.clean and record.share_right == 1.0 for record in records)
    tempos = [record.tempo_bpm for record in records if "probe" not in record.kind]
    assert tempos == sorted(tempos) and records[-1].tempo_bpm == table.conductor.stand.song.tempo_bpm


@pytest.mark.parametrize("name", spread(FOR_BEGINNERS, 3))
def test_the_bar_that_slips_is_told_and_no_other(name, settings, log) -> None:
    table = seated(name, settings, log, slips((0, 2), how=nothing))
    table.do(table.conductor.start(passes=1))
    table.desk.run(until=lambda: bool(log.passes()))
    (record,) = log.passes()
    assert record.slipped == (2,)


def test_two_of_them_have_bars_of_four_chords_of_a_beat_and_one_has_phrases_that_differ_in_their_last_bar() -> None:
    songs = {name: read_chart(SONGS / f"{name}.toml") for name in FOR_BEGINNERS}
    full = [n for n, song in songs.items() if any(len(bar.chords) == 4 == bar.meter.pulses for bar in song.unroll())]
    assert full == ["shoelaces-first", "stairs-two-at-a-time"]
    for section in songs["paper-boat-on-brown-water"].sections.values():
        chords = [bar.chords for bar in section.bars]
        assert chords[:3] == chords[4:7] and chords[3] != chords[7]
    for song in songs.values():
        assert len({placed.chord for bar in song.unroll() for placed in bar.chords}) <= 7 and song.tempo_bpm <= 84
