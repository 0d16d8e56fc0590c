"""The hands the student plays with: what sounds, what is asked and logged, and a drill for each of them."""

from __future__ import annotations

import pytest
from desk import Conducted, nothing, play, put, right, verdicts
from session_songs import FOUR, SUNG, SUNG_FOUR

from companion.errors import HandsError
from companion.groove.model import BAND, HAND_PARTS


@pytest.mark.parametrize(
    ("hands", "rest", "changes", "sounds"),
    [
        ("left", False, {}, ()),
        ("left", True, {}, ("right",)),
        ("right", True, {}, ("left",)),
        ("right", False, {"demonstrate": True}, ("left",)),
        ("left", True, {"demonstrate": True}, ("left", "right")),
        ("both", True, {}, ()),
    ],
)
def test_the_companion_plays_what_is_left_to_the_other_hand_where_it_is_wanted(settings, hands, rest, changes, sounds):
    stand = put(SUNG, settings, **changes).with_hands(hands, rest)
    assert stand.arrangement().parts == (*BAND, *sounds)
    assert stand.to_listen().arrangement().parts == (*BAND, *HAND_PARTS)


@pytest.mark.parametrize("hands", ["right", "both"])
def test_a_song_without_melody_has_nothing_for_the_right_hand(settings, hands):
    with pytest.raises(HandsError, match="Eight Bars has no melody, so there is nothing for the right hand: expected"):
        put(FOUR, settings).with_hands(hands)
    assert put(FOUR, settings).with_hands("left").hands == "left"


@pytest.mark.parametrize("hands", ["left", "right", "both"])
@pytest.mark.parametrize("kind", ["play", "fade", "climb", "dark"])
def test_each_way_of_practising_asks_the_chosen_hands_and_logs_them(practise, settings, log, hands, kind):
    stand = put(SUNG_FOUR, settings, pattern="four").with_hands(hands)
    play(practise(kind=kind, stand=stand, keyboard=True), 1)
    record = log.passes()[0]
    assert (record.hands, record.share_right, record.extra) == (hands, 1.0, 0)
    assert len(record.chords) == {"left": 4, "right": 10, "both": 14}[hands]  # of the melody each note


def test_another_hand_takes_up_its_own_drill(settings, log):
    table = Conducted(put(SUNG_FOUR, settings), log, settings)
    conductor = table.conductor
    conductor.sources.key_heard = True
    table.do(conductor.practise("fade"))
    table.do(conductor.start())
    table.desk.run(until=lambda: table.desk.turns > 1)
    table.do(conductor.change_stand(lambda stand: stand.with_hands("right")))
    assert (conductor.kind, conductor.stand.hands, conductor.playing) == ("fade", "right", False)
    assert conductor.practice.drill.round == 1
    table.do(conductor.change_stand(lambda stand: stand.with_hands("left")))
    assert conductor.practice.drill.round == 2, "the left hand's goes on where it was left"


def test_hands_changed_while_one_plays_along_hold_from_the_next_pass(settings, log):
    table = Conducted(put(SUNG_FOUR, settings), log, settings)
    table.conductor.sources.key_heard = True
    table.do(table.conductor.start())
    table.desk.run(until=lambda: table.desk.turns > 1)
    table.do(table.conductor.change_stand(lambda stand: stand.with_hands("right", True)))
    table.desk.run(until=lambda: table.desk.turns > 3)
    assert [record.hands for record in log.passes()] == ["left", "right"]
    assert log.passes()[1].share_right == 1.0
    assert "left" in table.desk.sound._arrangement.parts


def test_one_hand_is_never_marked_by_the_keys_of_the_other(practise, settings, log):
    """Who practises the right hand alone may play the left along, and the other way round."""
    for hands in ("left", "right"):
        stand = put(SUNG_FOUR, settings, pattern="four").with_hands(hands)
        desk = practise(right, stand=stand, keyboard=True)
        desk.plays = HAND_PARTS
        play(desk, 1)
    assert [(record.hands, record.share_right, record.extra) for record in log.passes()] == [
        ("left", 1.0, 0),
        ("right", 1.0, 0),
    ]


def test_a_missing_hand_is_missing_and_the_other_right(practise, settings, log):
    stand = put(SUNG_FOUR, settings, pattern="four").with_hands("both")
    hands = lambda moment: right(moment) if moment.expected.part == "left" else nothing(moment)
    play(practise(hands, stand=stand, keyboard=True), 1)
    (record,) = log.passes()
    assert verdicts(record) == {"right": 4, "missing": 10}
