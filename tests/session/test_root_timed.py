"""Chords in root position with simulated keys, in time with the click."""

from __future__ import annotations

import itertools
import random
from collections import Counter

import pytest
from desk import put
from root_table import WALTZ, Table
from session_songs import EIGHT, FOUR

from companion.practice.drills.root_position import Known
from companion.session.chords.memory import (
    KIND,
    known_chords,
)
from companion.session.chords.rounds import Setup, items_of, timed_round
from companion.sound.messages import Load, SetTempo, Stop


@pytest.fixture
def stand(settings):
    return put(FOUR, settings)  # F6 D7 Gm7 C7


def test_in_time_each_chord_is_due_where_the_chart_has_it(settings, log) -> None:
    timed = timed_round(put(EIGHT, settings), Setup(in_time=True), {}, random.Random(1).random)
    places = [(item.place, pulse) for item, pulse in timed.items]
    for (index, number), pulse in places:
        assert pulse == 4 * index + put(EIGHT, settings).bars[index].chords[number].beat
    waltz = timed_round(put(WALTZ, settings), Setup(in_time=True), {}, random.Random(1).random)
    assert [(item.symbol, pulse) for item, pulse in waltz.items] == [("F6", 0), ("Gm7", 3), ("C7", 5), ("F6", 6)]
    assert [meter.name for meter in waltz.meters] == ["3/4"] * 3
    broken = timed_round(put(WALTZ, settings), Setup(in_time=True, way="broken"), {}, random.Random(1).random)
    assert [pulse for _, pulse in broken.items] == [0, 6, 12, 18], "four notes need two bars of three"


def test_at_random_with_the_click_a_chord_has_a_bar_and_none_comes_twice_running(stand, log) -> None:
    slow = {"0 G b3 5 b7": Known((9.0,), 0, 1, "")} | {
        name: Known((1.0,), 1, 1, "") for name in ("0 F 3 5 6", "0 D 3 5 b7", "0 C 3 5 b7")
    }
    counts = Counter()
    for seed in range(40):
        timed = timed_round(stand, Setup(in_time=True, order="random"), slow, random.Random(seed).random)
        symbols = [item.symbol for item, _ in timed.items]
        assert len(symbols) == 8 and all(a != b for a, b in itertools.pairwise(symbols))
        assert [pulse for _, pulse in timed.items] == [4 * number for number in range(8)]
        counts.update(symbols)
    assert counts["Gm7"] > 1.3 * max(counts[symbol] for symbol in ("F6", "D7", "C7"))


def test_a_round_with_the_click_is_marked_chord_by_chord(stand, log) -> None:
    table = Table(stand, Setup(in_time=True, tempo_bpm=60.0), log)
    table.roots.start()
    notes = [item.close.midi for item in items_of(stand, Setup())]
    first = table.first_due()
    table.press(first + 0.02, *notes[0])
    table.press(first + 4.0 + 0.2, *notes[1])
    for late, note in zip((0.0, 0.05, 0.1, 0.15), notes[2], strict=True):
        table.press(first + 8.0 + late, note)
    table.press(first + 12.0, *notes[3][:3], notes[3][3] + 1)
    table.run()
    assert table.roots.shown.lines == (
        "1 of 4 chords right and in time.",
        "Wrong: C7.",
        "Not together: Gm7.",
        "Late: D7.",
    )
    kept = known_chords(log)
    assert {name: known.right for name, known in kept.items()} == {
        "0 F 3 5 6": 1,
        "0 D 3 5 b7": 1,
        "0 G b3 5 b7": 0,
        "0 C 3 5 b7": 0,
    }
    assert all(load.arrangement.parts == ("click", "bass") for load in table.asked(Load))


def test_a_look_at_the_keys_with_the_click_is_not_at_once(stand, log) -> None:
    for each in items_of(stand, Setup()):
        log.put_state("", each.memory_key, KIND, Known((1.0, 1.0), 2, 2).to_json(), "left")
    table = Table(stand, Setup(in_time=True, tempo_bpm=60.0), log)
    table.roots.start()
    assert not table.roots.shown.keys
    table.roots.look()
    assert table.roots.shown.keys
    first = table.first_due()
    for number, item in enumerate(items_of(stand, Setup())):
        table.press(first + 4.0 * number, *item.close.midi)
    table.run()
    assert table.roots.shown.lines == ("4 of 4 chords right and in time.",)
    assert [known_chords(log)[each.memory_key].right for each in items_of(stand, Setup())] == [2, 3, 3, 3]


def test_with_the_click_and_no_keyboard_only_what_the_student_says_is_kept(stand, log) -> None:
    table = Table(stand, Setup(in_time=True, tempo_bpm=240.0), log)
    table.roots.start()
    original = table.roots.tick

    def tick(now_s: float) -> None:
        original(now_s)
        if table.roots.shown.number == 3:
            table.roots.was_wrong()

    table.roots.tick = tick
    table.run()
    assert table.roots.shown.lines == ("1 of 4 chords slipped, you say: Gm7.",)
    assert set(known_chords(log)) == {"0 G b3 5 b7"}


def test_a_click_that_is_stopped_is_silent_and_late_reports_change_nothing(stand, log) -> None:
    table = Table(stand, Setup(in_time=True), log)
    table.roots.start()
    table.roots.stop()
    assert isinstance(table.sent[-1], Stop) and not table.roots.playing
    for report in list(table.sound.take_reports()):
        table.roots.hear(report)
    table.roots.start()
    assert table.roots.playing and table.roots.shown.beat is None


def test_the_tempo_is_held_within_bounds_and_changes_from_the_next_beat(stand, log) -> None:
    table = Table(stand, Setup(in_time=True), log)
    table.roots.start()
    table.roots.change_tempo(1000.0)
    assert table.roots.setup.tempo_bpm == 400.0 and isinstance(table.sent[-1], SetTempo)
