"""A section's own pickup: beats in the bar before it, each time it comes (common practice: a strain is repeated from its upbeat)."""

from __future__ import annotations

import pytest

from companion.chart.melody import chorus_melody
from companion.chart.reader import parse_chart
from companion.chart.transpose import transpose
from companion.errors import ChartError

REEL = """
title = "Kettle on the Hob"
key = "G"
meter = "4/4"
form = "A A B"
[section.A]
pickup = 1
pickup_chords = "D7"
bars = "G | C | G"
melody = "D2 |\\nG8 | c8 | G6 z2 |"
[section.B]
pickup = 1
pickup_chords = "Am:1/2 D7:1/2"
bars = "D | G"
melody = "AB |\\nd8 | G8 |"
"""


def beats(song):
    return [(note.start_tick / 960, note.pitch.name) for note in chorus_melody(song) if note.pitch]


def test_each_strain_is_led_to_by_its_own_pickup():
    song = parse_chart(REEL)
    assert song.pickup == 1
    first = [(-1, "D4"), (0, "G4"), (4, "C5"), (8, "G4")]
    second = [(11, "D4"), (12, "G4"), (16, "C5"), (20, "G4")]
    assert beats(song) == [*first, *second, (23, "A4"), (23.5, "B4"), (24, "D5"), (28, "G4")]
    chords = [[(placed.chord.symbol, placed.beats) for placed in bar.chords] for bar in song.unroll()]
    assert chords[2] == [("G", 3), ("D7", 1)] and chords[5] == [("G", 3), ("Am", 0.5), ("D7", 0.5)]
    assert chords[-1] == [("G", 4)]


def test_a_pickup_takes_the_place_of_what_the_bar_before_holds():
    song = parse_chart(REEL.replace("G6 z2", "G8"))
    assert beats(song) == beats(parse_chart(REEL))
    assert [note.ticks for note in chorus_melody(song) if note.start_tick == 8 * 960] == [3 * 960]


def test_the_chords_of_a_pickup_move_with_their_song():
    moved = transpose(parse_chart(REEL), "A")
    assert [placed.chord.symbol for placed in moved.sections["B"].pickup_chords] == ["Bm", "E7"]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("pickup = 1\npickup_chords = \"D7\"", 'pickup = 5', "expected less than the 4"),
        ('"Am:1/2 D7:1/2"', '"Am D7:2"', "pickup_chords make 3 beats, but the pickup has 1"),
        ('"Am:1/2 D7:1/2"', '"H7"', "pickup_chords: 'H7'"),
        ("[section.B]\npickup = 1\n", "[section.B]\n", "pickup_chords stand without a pickup"),
        ('form = "A A B"', 'form = "A A B"\npickup = 2', "expected it once"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_pickup_is_told(old, new, words):
    with pytest.raises(ChartError, match=words):
        parse_chart(REEL.replace(old, new))
