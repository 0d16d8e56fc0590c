"""Chords in root position with simulated keys, while the companion waits."""

from __future__ import annotations

import pytest
from desk import put
from root_table import WALTZ, Table
from session_songs import FOUR

from companion.errors import LogError
from companion.practice.drills.root_position import Known
from companion.session.chords.memory import (
    known_chords,
)
from companion.session.chords.practice import NO_CHORD
from companion.session.chords.rounds import Setup, items_of
from companion.session.chords.waiting import REVEAL_S
from companion.session.minutes import Minutes
from companion.sound.messages import KeyboardGone, Load, Play, Sample


@pytest.fixture
def stand(settings):
    return put(FOUR, settings)  # F6 D7 Gm7 C7


def test_the_songs_own_chords_come_in_order_and_what_each_took_is_kept(stand, log) -> None:
    table = Table(stand, Setup(), log)
    table.roots.start()
    assert (table.roots.shown.total, table.roots.shown.after.symbol) == (4, "D7")
    assert [table.find(after_s) for after_s in (1.0, 1.2, 0.8, 1.1)] == ["F6", "D7", "Gm7", "C7"]
    assert not table.roots.playing
    assert table.roots.shown.lines[0].startswith("4 of 4 chords right at once, 1.")
    kept = known_chords(log)
    assert set(kept) == {"0 F 3 5 6", "0 D 3 5 b7", "0 G b3 5 b7", "0 C 3 5 b7"}
    assert kept["0 F 3 5 6"] == Known((1.0,), 1, 1, "2026-01-05")
    assert log.passes() == [] and log.count() == 0, "it is no pass of the song"


def test_the_slow_and_the_wrong_come_again_at_the_end(stand, log) -> None:
    table = Table(stand, Setup(), log)
    table.roots.start()
    for after_s, wrong in ((1.0, ()), (9.0, ()), (1.0, (48,)), (1.0, ())):
        table.find(after_s, *wrong)
    assert table.roots.playing and table.roots.shown.once_more
    assert (table.roots.shown.number, table.roots.shown.total) == (1, 2)
    assert [table.find(), table.find()] == ["D7", "Gm7"] and not table.roots.playing
    lines = table.roots.shown.lines
    assert lines[0].startswith("5 of 6 chords right at once") and lines[1].startswith("Slowest: D7 9.2 s")


def test_at_random_the_slow_come_more_often_and_none_twice_running(stand, log) -> None:
    table = Table(stand, Setup(order="random"), log)
    seen = []
    for _ in range(12):
        table.roots.start()
        while table.roots.playing:
            symbol = table.roots.shown.now.symbol
            after = table.roots.shown.after
            seen.append(table.find(8.0 if symbol == "Gm7" else 0.9))
            if table.roots.playing and after is not None:
                assert table.roots.shown.now.symbol == after.symbol, "what is said to come next comes"
    counts = {symbol: seen.count(symbol) for symbol in ("F6", "D7", "Gm7", "C7")}
    assert counts["Gm7"] > 1.4 * max(counts[symbol] for symbol in ("F6", "D7", "C7")), counts


def test_round_the_fourths_with_one_quality(stand, log) -> None:
    table = Table(stand, Setup(order="fourths", quality="Gm7", hand="right", way="broken"), log)
    table.roots.start()
    seen = [table.find() for _ in range(12)]
    assert seen[:4] == ["Gm7", "Cm7", "Fm7", "Bbm7"] and len(set(seen)) == 12 and not table.roots.playing
    assert set(known_chords(log, ("left",))) == set()
    assert len(known_chords(log, ("right",))) == 12


def test_what_is_left_is_the_shell_that_the_stand_plays(stand, log) -> None:
    items = items_of(stand, Setup(way="left"))
    shells = [stand.choices_at(index)[0][1].shell.midi for index in range(4)]
    assert [item.steps[1] for item in items] == shells
    right = items_of(stand, Setup(way="left", hand="right"))
    assert [item.steps[1][0] % 12 for item in right] == [shell[0] % 12 for shell in shells]
    assert all(60 <= item.steps[1][0] < 72 for item in right), "where that hand's chords lie"
    table = Table(stand, Setup(way="left"), log)
    table.roots.start()
    assert table.find() == "F6" and table.roots.shown.number == 2
    cycle = items_of(stand, Setup(way="left", order="tones", quality="C7"))
    assert all(len(item.steps) == 2 and len(item.steps[1]) == 2 for item in cycle)


def test_a_wrong_key_is_answered_at_once_by_a_sentence(stand, log) -> None:
    table = Table(stand, Setup(), log)
    table.roots.start()  # F6 in the left hand: F3 A3 C4 D4
    said = []
    for keys in ((58,), (57, 60, 62, 65), (53, 57, 60)):
        table.down(*keys)
        said.append(table.roots.shown.answer)
        table.up(*keys)
    assert said == [
        "Bb: the third is A.",
        "The right notes with A lowest, the first inversion: here F is lowest.",
        "",
    ]
    table.down(53, 57, 60, 62, apart_s=0.2)
    assert table.roots.shown.answer == "Those are the keys. Now strike them all at once."
    table.up(53, 57, 60, 62)
    table.find()
    assert table.roots.shown.answer.endswith("s, not at once")


def test_broken_says_what_comes_next(stand, log) -> None:
    table = Table(stand, Setup(way="broken"), log)
    table.roots.start()
    table.down(53)
    table.down(60)
    assert table.roots.shown.answer == "Not C yet: the third, A comes next."
    assert table.roots.shown.step == 1


def test_a_key_brushed_along_a_moment_later_takes_the_at_once_away(stand, log) -> None:
    table = Table(stand, Setup(), log)
    table.roots.start()
    table.wait(1.0)
    table.down(53, 57, 60, 62)
    table.now_s += 0.03
    table.down(61)
    assert table.roots.shown.answer == "F6: 1.0 s, not at once" and table.roots.shown.number == 2
    kept = known_chords(log)["0 F 3 5 6"]
    assert (kept.right, kept.tries, kept.times) == (0, 1, (6.0,))


def test_the_keys_of_a_known_chord_are_hidden_till_it_takes_long(stand, log) -> None:
    for _ in range(2):
        table = Table(stand, Setup(), log)
        table.roots.start()
        assert table.roots.shown.keys
        for _ in range(4):
            table.find()
    table = Table(stand, Setup(), log)
    table.roots.start()
    assert not table.roots.shown.keys and table.roots.wake_s == 100.0 + REVEAL_S
    assert table.find() == "F6" and not table.roots.shown.keys
    table.wait(REVEAL_S + 0.01)
    assert table.roots.shown.keys and table.roots.wake_s is None
    table.find(0.1)
    assert known_chords(log)["0 D 3 5 b7"].right == 2, "found with the keys shown is not at once"
    table.roots.look()
    assert table.roots.shown.keys
    assert Table(stand, Setup(hand="right"), log).roots.shown.keys, "the other hand does not know them"


def test_without_a_keyboard_one_key_says_it(stand, log) -> None:
    table = Table(stand, Setup(), log)
    table.roots.start()
    table.wait(2.0)
    table.roots.word()
    assert table.roots.shown.answer == "F6: 2.0 s, you say"
    table.roots.was_wrong()
    assert table.roots.shown.answer == "F6 was wrong: it comes again."
    assert known_chords(log)["0 F 3 5 6"].right == 0
    for _ in range(3):
        table.wait(1.0)
        table.roots.word()
    assert table.roots.shown.now.symbol == "F6" and table.roots.shown.once_more


def test_stopping_tells_what_was_found_and_counts_the_minutes(stand, log) -> None:
    minutes = Minutes()
    table = Table(stand, Setup(), log, minutes=minutes)
    table.roots.start()
    table.find(1.0)
    table.find(26 * 60.0)  # away from the keyboard
    table.roots.stop()
    assert table.roots.shown.lines[0].startswith("2 of 2 chords right at once")
    assert not minutes.rest_is_due and len(known_chords(log)) == 2
    assert max(known_chords(log)["0 D 3 5 b7"].times) <= 60.0


def test_a_cable_that_is_pulled_holds_no_key(stand, log) -> None:
    table = Table(stand, Setup(), log)
    table.roots.start()
    table.down(53, 57)
    table.roots.hear(KeyboardGone("keys"))
    assert table.roots.shown.down == frozenset() and table.roots.playing
    assert table.find() == "F6"


def test_a_log_that_cannot_be_written_is_said_and_it_goes_on(stand) -> None:
    class Broken:
        def states(self, kind=None, song_id=None):
            raise LogError("The log cannot be read.")

        def write(self, entry) -> None:
            raise LogError("The log cannot be written.")

    table = Table(stand, Setup(), Broken())
    assert table.roots.say() == "The log cannot be read." and table.roots.say() == ""
    table.roots.start()
    table.find()
    assert table.roots.say() == "The log cannot be written." and table.roots.shown.number == 2


def test_a_loop_without_chords_is_said(settings, log) -> None:
    table = Table(put(WALTZ, settings).with_loop((3,), "4"), Setup(), log)
    for in_time in (False, True):
        table.roots.change(Setup(in_time=in_time))
        table.roots.start()
        assert not table.roots.playing and table.roots.say() == NO_CHORD and table.roots.shown.now is None


def test_it_can_be_heard_before_it_is_played(stand, log) -> None:
    table = Table(stand, Setup(hear_first=True), log)
    table.roots.start()
    assert table.asked(Sample)[-1].notes == (53, 57, 60, 62)
    table.find()
    assert table.asked(Sample)[-1].notes == table.roots.shown.now.close.midi
    broken = Table(stand, Setup(way="broken"), log)
    broken.roots.listen()
    [load] = broken.asked(Load)
    assert [(strike.tick, strike.notes) for strike in load.arrangement.bars[0].written] == [
        (960 * number, (note,)) for number, note in enumerate((53, 57, 60, 62))
    ]
    assert broken.asked(Play)
