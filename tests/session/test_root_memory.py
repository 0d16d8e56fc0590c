"""What is remembered of chords in root position, over days and songs."""

from __future__ import annotations

import pytest
from desk import put
from root_table import Table
from session_songs import EIGHT, FOUR

from companion.practice.planning.whole_chords import new_chords
from companion.session.chords.memory import (
    KIND,
    SETUP_KIND,
    keep_setup,
    known_chords,
    known_of_song,
    known_sentences,
    last_setup,
    tries_words,
)
from companion.session.chords.rounds import Setup
from companion.store.log.patient_log import PatientLog
from companion.store.log.practice_log import PracticeLog


@pytest.fixture
def stand(settings):
    return put(FOUR, settings)  # F6 D7 Gm7 C7


def test_how_many_of_a_songs_chords_are_new(stand, settings, log) -> None:
    assert new_chords(stand.song, known_chords(log)) == (4, 4)
    table = Table(stand, Setup(hand="right"), log)
    table.roots.start()
    table.find()
    table.find()
    assert new_chords(stand.song, known_chords(log)) == (2, 4)
    assert new_chords(stand.with_key("G").song, known_chords(log)) == (3, 4), (
        "F6 D7 Gm7 C7 in G: G6 E7 Am7 D7, of which D7 is known"
    )


def test_a_memory_of_a_newer_shape_is_left_alone(stand, log) -> None:
    log.put_state("", "0 F 3 5 6", KIND, {"else": 1}, "left")
    assert known_chords(log) == {}
    table = Table(stand, Setup(), log)
    table.roots.start()
    assert table.find() == "F6" and known_chords(log)["0 F 3 5 6"].tries == 1


def test_what_is_known_of_each_chord_by_hand(stand, log) -> None:
    table = Table(stand, Setup(hand="right"), log)
    table.roots.start()
    table.find(1.5)
    lines = known_of_song(log, stand.song)
    assert [each.symbol for each in lines] == ["F6", "D7", "Gm7", "C7"]
    assert set(lines[0].by_hand) == {"right"} and lines[0].by_hand["right"].find_s == 1.5
    assert all(not each.by_hand for each in lines[1:])
    table.find(3.9)  # and the 0.2 since the chord before
    assert known_sentences(known_of_song(log, stand.song)) == (
        "Right hand: 2 of 4 chords played, 0 of them sure; found in 2.8 s as a rule, D7 in 4.1 s.",
    )
    assert known_sentences(lines[1:]) == ()


def test_how_one_practised_last_is_how_one_begins(stand, log) -> None:
    assert last_setup(log, "left", 50.0) == Setup(tempo_bpm=50.0)
    keep_setup(log, Setup("right", 2, "broken", "fourths", True, 90.0, "Gm7", True))
    # Hand, tempo and quality are of the song and what one comes from.
    assert last_setup(log, "left", 50.0) == Setup("left", 2, "broken", "fourths", True, 50.0, "", True)


@pytest.mark.parametrize("damaged", [3, None, "x", {"way": "sideways", "inversion": 9, "in_time": "yes"}, {"way": []}])
def test_a_damaged_setup_is_the_usual_one(log, damaged) -> None:
    log.put_state("", "", SETUP_KIND, damaged)
    assert last_setup(log, "left", 60.0) == Setup()


def test_it_is_remembered_over_days_in_every_song_until_all_is_forgotten(stand, settings, paths) -> None:
    log = PatientLog.begin(paths)
    table = Table(stand, Setup(), log)
    table.roots.start()
    table.find()
    assert set(known_chords(log)) == {"0 F 3 5 6"}, "also while it waits to be written"
    log.close()
    with PracticeLog.open(paths) as log:
        other = put(EIGHT, settings).with_loop((7,), "8")
        assert not known_chords(log)["0 F 3 5 6"].is_known
        table = Table(other, Setup(), log)
        table.roots.start()
        table.find()
        assert known_chords(log)["0 F 3 5 6"].is_known, "right at once in two songs on two days"
        log.delete_all("a-song")
        assert known_chords(log)
        log.delete_all()
        assert known_chords(log) == {} and tries_words(log) == ""
