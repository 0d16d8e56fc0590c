"""The version of the melody on the stand: taken by all that plays, asks, marks and writes."""

from __future__ import annotations

from dataclasses import replace

import pytest
from both_hands_checker import too_close

from companion.chart.melody import chorus_melody
from companion.errors import SettingsError
from companion.groove.swung_choice import VERSIONS, BarVersion, SwungChoice
from companion.groove.swung_song import played_melody
from companion.practice.marking.expected import expected_strikes, steady_starts
from companion.session.own import own_stand
from companion.session.stand import Stand
from companion.session.swung_sheet import check_can_swing, sheet_text, swung_bars
from companion.store.library import find_song
from companion.store.own_song import own_path
from companion.store.own_swing import save_swing
from companion.store.pins import save_pins
from companion.theory.shell_kinds import Pin

SONG = "walnut-street-laundry"
CHOICE = SwungChoice(BarVersion(2), 0, {("A", 2): None})


@pytest.fixture
def song(paths, settings):
    return find_song(SONG, paths, settings)


def rhythm(melody):
    return [(note.start_tick, note.ticks) for note in melody if note.pitch is not None]


def test_the_version_kept_is_on_the_stand_in_every_key(paths, settings, song) -> None:
    assert own_stand(song, settings, paths).melody == chorus_melody(song)
    save_swing(paths, SONG, CHOICE)
    stand = own_stand(song, settings, paths)
    assert stand.swung == CHOICE and stand.melody == played_melody(song, CHOICE)
    assert stand.written == chorus_melody(song) != stand.melody
    moved = stand.with_key("Db")
    assert rhythm(moved.melody) == rhythm(stand.melody) and moved.melody != stand.melody
    assert stand.with_swung(SwungChoice()).melody == stand.written


def test_a_damaged_file_is_a_sentence(paths, settings, song) -> None:
    own_path(paths, SONG).parent.mkdir(parents=True)
    own_path(paths, SONG).write_text("[swing]\nversion = 7")
    with pytest.raises(SettingsError, match=r"\.toml:2: \[swing\] version is 7; expected 1, 2, 3"):
        own_stand(song, settings, paths)
    # In the app one file that is damaged takes nothing away that stands in another.
    faults: list[str] = []
    save_pins(paths, SONG, {("A", 1, 1): Pin.parse("root-third")})
    stand = own_stand(song, settings, paths, faults=faults)
    assert stand.own_pins and stand.swung == SwungChoice() and len(faults) == 1
    own_path(paths, SONG).write_text("[swing")
    own_stand(song, settings, paths, faults=(again := []))
    assert len(again) == 1


@pytest.mark.parametrize("song_id", ["half-a-word-before", "a-borrowed-umbrella", SONG])
def test_it_keeps_clear_of_the_left_hand(paths, settings, song_id) -> None:
    """Held notes may meet another shell than the straight ones do."""
    stand = Stand.put(find_song(song_id, paths, settings), settings)
    for number, key in zip(VERSIONS, ("C", "Eb", "F#")):
        moved = stand.with_key(key).with_swung(SwungChoice(BarVersion(number)))
        assert too_close(moved) == []


def test_what_is_asked_of_the_right_hand_is_the_version(settings, song) -> None:
    """At 120 with triplets an off-beat is due two thirds into its beat."""
    stand = Stand.put(song, settings, swung=CHOICE).change(swing_ratio=2.0)
    arrangement = stand.arrangement()
    expected = expected_strikes(arrangement, steady_starts(arrangement, 0.0, 120), parts=("right",))
    due = [(start // 960 + (2 / 3 if start % 960 else 0)) / 2 for start, _ in rhythm(stand.melody)]
    assert [strike.due_s for strike in expected] == pytest.approx(due, abs=0.001)


def test_lying_back_is_a_choice_and_off_where_the_hand_is_marked(settings, song) -> None:
    stand = Stand.put(song, settings)
    assert not stand.arrangement().laid_back
    wanted = replace(settings, playing=replace(settings.playing, laid_back=True))
    stand = Stand.put(song, wanted)
    assert stand.arrangement().laid_back
    for hands in ("right", "both"):
        played = stand.with_hands(hands, rest_sounds=True)
        assert not played.arrangement().laid_back and played.to_listen().arrangement().laid_back
        starts = steady_starts(played.arrangement(), 0.0, 120)
        lying = expected_strikes(played.to_listen().arrangement(), starts, parts=("right",))
        assert lying == expected_strikes(played.arrangement(), starts, parts=("right",))  # asked on the beat


def test_it_is_written_under_the_straight_one(song) -> None:
    rows = swung_bars(song, CHOICE)
    assert list(rows) == ["A", "B", "C"] and [len(section) for section in rows.values()] == [8, 8, 8]
    assert not rows["A"][1].is_changed and rows["A"][1].is_kept
    for width in (40, 80, 120):
        text = sheet_text(song, CHOICE, width)
        assert max(map(len, text.splitlines())) <= max(width, 76)
        assert "2 straight, kept" in text and "Version 2: " in text
    assert sheet_text(song, SwungChoice()).count("B2 d2 c2 B2") == 1
    check_can_swing(song)
