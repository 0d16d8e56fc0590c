"""The drill of names: a chord's name for a moment, and its shell is struck."""

from __future__ import annotations

import pytest
from desk import put
from root_table import Table
from session_songs import FOUR

from companion.practice.drills.root_position import NAMES, SLIP_S
from companion.session.chords.memory import SHELL_KIND, known_chords, known_of_song, known_sentences
from companion.session.chords.rounds import Setup, items_of
from companion.session.chords.waiting import REVEAL_S, SEEN_S

SETUP = Setup(way=NAMES, order="random")


@pytest.fixture
def stand(settings):
    return put(FOUR, settings)  # F6 D7 Gm7 C7


def test_the_shell_is_that_of_the_song(stand):
    shells = {choice.shell.midi for index in stand.loop for _, choice in stand.choices_at(index)}
    items = items_of(stand, SETUP)
    assert {item.symbol for item in items} == {"F6", "D7", "Gm7", "C7"}
    assert {item.steps[0] for item in items} == shells and all(len(item.steps) == 1 for item in items)


def test_a_name_goes_after_a_moment_and_comes_back_with_the_keys(stand, log):
    table = Table(stand, SETUP, log)
    table.roots.start()
    shown = table.roots.shown
    assert shown.name and not shown.keys and shown.after is None, "the next name is not seen before its turn"
    table.wait(SEEN_S)
    assert not table.roots.shown.name and not table.roots.shown.keys
    table.wait(REVEAL_S - SEEN_S)
    assert table.roots.shown.name and table.roots.shown.keys
    symbol = table.find(0.5)
    (known,) = known_chords(log, kind=SHELL_KIND).values()
    assert (known.right, known.tries, known.times) == (0, 1, (SLIP_S,)), symbol
    assert table.roots.shown.name, "the next one is seen for its own moment"


def test_the_slow_come_more_often_and_the_times_are_kept_apart_from_whole_chords(stand, log):
    table = Table(stand, SETUP, log)
    seen = []
    for _ in range(12):
        table.roots.start()
        while table.roots.playing:
            seen.append(table.find(3.9 if table.roots.shown.now.symbol == "Gm7" else 0.8))
    counts = {symbol: seen.count(symbol) for symbol in ("F6", "D7", "Gm7", "C7")}
    assert counts["Gm7"] > 1.4 * max(counts[symbol] for symbol in ("F6", "D7", "C7")), counts
    assert known_chords(log) == {} and len(known_chords(log, kind=SHELL_KIND)) == 4
    (told,) = known_sentences(known_of_song(log, stand.song, SHELL_KIND), SHELL_KIND)
    assert told.startswith("Left hand: 4 of 4 names seen, ") and "Gm7 in " in told, (
        "the slow one, for Progress and report"
    )


def test_said_aloud_and_answered_by_a_key(stand, log):
    table = Table(stand, SETUP, log)
    table.roots.start()
    for _ in range(2):
        table.wait(1.2)
        table.roots.word()
    table.roots.was_wrong()
    kept = known_chords(log, kind=SHELL_KIND).values()
    assert sorted((known.right, known.tries) for known in kept) == [(0, 1), (1, 1)]
