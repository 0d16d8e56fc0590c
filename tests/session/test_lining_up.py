"""Hands together over the real player: the loop, hand and rhythm of each pass, counted in anew where they change."""

from __future__ import annotations

import pytest
from desk import nothing, put, right
from session_songs import SUNG

from companion.session.drill import DrillSettings, take_up
from companion.sound.messages import Play


@pytest.fixture
def stand(settings):
    return put(SUNG, settings, pattern="four").with_tempo(160.0).with_hands("both")


def ways(log):
    return [(record.loop, record.hands, record.pattern) for record in log.passes()]


def run(desk, passes, log):
    desk.send(desk.practice.begin())
    desk.run(until=lambda: len(log.passes()) >= passes)
    return desk


def test_clean_hands_climb_to_longer_loops(practise, log, stand) -> None:
    desk = run(practise(kind="together", stand=stand, keyboard=True), 10, log)
    loops = [loop for loop, _, _ in ways(log)]
    assert [len(loop) for loop in loops] == [1, 1, 2, 2, 4, 4, 8, 8] and desk.practice.drill.finished
    assert all(record.clean and record.kind == "together" and record.extra == 0 for record in log.passes())
    assert len(desk.asked(Play)) == 4, "counted in anew for each loop, and not between two passes of one"


def test_the_hand_that_slips_plays_alone_twice(practise, log, stand) -> None:
    def hands(moment):
        first = moment.turn == 0 and moment.expected.part == "left"
        return nothing(moment) if first else right(moment)

    run(practise(hands, kind="together", stand=stand, keyboard=True), 5, log)
    assert [hands for _, hands, _ in ways(log)] == ["both", "left", "left", "both", "both"]
    assert [record.share_right for record in log.passes()][1:] == [1.0] * 4


def test_hands_apart_send_the_late_one_alone(practise, log, stand) -> None:
    """By 120 ms at 160 a minute, over two bars and more, as one bar has too few strokes that are due together."""

    def hands(moment):
        late = 0.12 if moment.expected.part == "right" and moment.turn == 4 else 0.0
        return [(late, note) for note in moment.expected.notes]

    run(practise(hands, kind="together", stand=stand, keyboard=True), 7, log)
    assert [hands for _, hands, _ in ways(log)][4:7] == ["both", "right", "right"]


def test_it_is_taken_up_where_it_was_left(practise, log, stand) -> None:
    desk = run(practise(kind="together", stand=stand, keyboard=True), 3, log)
    state = desk.practice.drill.lining_up
    drill, fault = take_up(stand, "together", DrillSettings(), log)
    assert drill.lining_up == state and not fault and len(state.bars) == 2
    assert take_up(stand.change(pattern="two"), "together", DrillSettings(), log)[0].lining_up.size == 0
