"""The songs that come with the companion."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from shipped import PATHS, SONGS

from companion.chart.reader import parse_chart, read_chart
from companion.chart.writer import write_chart


@pytest.fixture(scope="session")
def all_songs():
    return SONGS


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_every_song_is_read_and_its_id_is_its_title_in_small_letters(path):
    song = read_chart(path)
    assert song.id == path.stem == song.title.lower().replace(" ", "-").replace("'", "")
    assert path.read_text(encoding="utf-8").startswith("# "), "a song starts by saying what it teaches"
    assert set(song.form) == set(song.sections), "every section is played"
    assert len(song.unroll()) in (12, 16, 24, 32)


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_bars_know_the_line_they_stand_on(path):
    lines = path.read_text(encoding="utf-8").splitlines()
    for section in read_chart(path).sections.values():
        for bar in section.bars:
            shown = lines[bar.line - 1]
            first = bar.chords[0].chord
            assert "%" in shown or (first.symbol if first else "N.C.") in shown


def test_the_set_holds_the_forms_and_keys_a_student_meets(all_songs):
    assert len(all_songs) >= 14
    assert {song.meter.name for song in all_songs} >= {"4/4", "3/4", "5/4", "6/8", "12/8"}
    fifths = [section.key.fifths for song in all_songs for section in song.sections.values()]
    assert min(fifths) == -4 and max(fifths) == 3
    assert {song.key.mode for song in all_songs} == {"major", "minor"}
    assert {song.feel for song in all_songs} == {"swing", "straight"}
    forms = {tuple(song.form) for song in all_songs}
    assert {("A",), ("A", "A", "B", "A"), ("A", "B", "A", "C"), ("A", "B", "A")} <= forms
    assert any("End1" in song.form for song in all_songs)
    assert any(song.pickup for song in all_songs) and any(song.pins for song in all_songs)
    assert any(section.key != song.key for song in all_songs for section in song.sections.values())
    assert any(section.meter != song.meter for song in all_songs for section in song.sections.values())
    chords = Counter(
        "none" if placed.chord is None else "slash" if placed.chord.bass else placed.chord.family
        for song in all_songs
        for bar in song.unroll()
        for placed in bar.chords
    )
    assert set(chords) >= {"none", "slash", "seventh", "sixth", "sus", "triad", "diminished"}


def test_the_ferry_is_the_song_of_the_design(all_songs):
    ferry = next(song for song in all_songs if song.id == "ferry-at-half-past-six")
    assert (ferry.key.name, ferry.tempo_bpm, ferry.form) == ("Bb", 126, ("A", "A", "B", "A"))
    symbols = [[placed.chord.symbol for placed in bar.chords] for bar in ferry.sections["A"].bars]
    assert symbols == [["Bb6"], ["G7"], ["Cm7"], ["F7"], ["Dm7", "G7"], ["Cm7", "F7"], ["Bb6"], ["Cm7", "F7"]]
    # Common practice: the bridge of this form is the circle of dominants III7 VI7 II7 V7, two bars each.
    assert [bar.chords[0].chord.symbol for bar in ferry.sections["B"].bars[::2]] == ["D7", "G7", "C7", "F7"]


def test_a_pin_of_a_song_names_its_place_and_the_reason(all_songs):
    stairs = next(song for song in all_songs if song.id == "down-the-coal-stairs")
    pin = stairs.pins["B", 6, 1]
    assert pin.asked == "bass-root G#2" and pin.reason


def test_a_written_song_has_the_same_chorus(all_songs):
    for song in all_songs:
        again = parse_chart(write_chart(song), id=song.id, path=song.path)
        assert again.unroll() == song.unroll()
        assert replace(again, sections={}) == replace(song, sections={})
