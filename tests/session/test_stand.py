from __future__ import annotations

import pytest

from companion.chart.loops import WHOLE_FORM
from companion.chart.reader import parse_chart
from companion.errors import ShellError
from companion.session.stand import TEMPO_LIMITS, Stand
from companion.theory.key import Key
from companion.theory.shell_kinds import Pin

CHART = """
title = "Lantern Street"
key = "F"
meter = "4/4"
tempo = 100
feel = "swing"
form = "A A B A"
pickup = 1
[section.A]
bars = "F6 | D7 | Gm7 C7 | N.C."
[section.B]
meter = "3/4"
bars = "A7 | D7 | G7 | C7"
[shells]
"A.1.1" = "root-third"
"""


@pytest.fixture
def stand(settings) -> Stand:
    return Stand.put(parse_chart(CHART, id="lantern-street"), settings)


def test_every_bar_knows_its_chords_and_shells(stand) -> None:
    symbols = [[choice.slot.chord and choice.slot.chord.symbol for _, choice in stand.choices_at(i)] for i in range(16)]
    assert symbols == [[placed.chord and placed.chord.symbol for placed in bar.chords] for bar in stand.bars]
    assert stand.choices_at(3)[0][1].shell is None


def test_the_loop_goes_round(stand) -> None:
    assert stand.next_index(15) == 0
    bridge = dict(stand.section_loops())["B"]
    looped = stand.with_loop(bridge, "B")
    assert bridge == (8, 9, 10, 11)
    assert looped.next_index(11) == 8 and looped.next_index(2) == 8
    assert [name for name, _ in stand.section_loops()] == [WHOLE_FORM, "A", "B"]
    for nonsense in ((), (16,), (-1,)):
        with pytest.raises(ValueError, match="1 to 16"):
            stand.with_loop(nonsense, "x")


def test_a_song_rests_where_the_student_chose(settings) -> None:
    """A phrase ends with its section, or where equal bars end with the fourth, eighth ... bar of it."""
    text = """title = "Rests"
key = "C"
meter = "4/4"
tempo = 120
form = "A"
[section.A]
bars = "C6 | Am7 | Dm7 G7 | C6 | C6 | Am7 | Dm7 G7 | C6 | F6 | Fm6 | Em7 A7 | Dm7 G7 | C6 | F | C6 | F"
"""

    def rests(of: Stand) -> list[int]:
        return [bar.bar for bar in of.bars if of.choices_at(bar.index)[-1][1].shell.kind == "root-fifth"]

    stand = Stand.put(parse_chart(text), settings)
    assert not stand.hand.rests_on(stand.bars[0].chords[0].chord, ends=True) and stand.may_rest
    assert set(rests(stand)) <= {14, 16}  # triads, which nobody rests on purpose
    assert {4, 8, 16} <= set(rests(stand.with_rest("endings"))) <= {4, 8, 14, 16}
    assert rests(stand.with_rest("always")) == [1, 4, 5, 8, 9, 10, 13, 14, 15, 16]
    chosen = Stand.put(parse_chart(text), settings, {("A", 4, 1): Pin("root-third")}, "endings")
    assert 4 not in rests(chosen) and 8 in rests(chosen)
    assert chosen.with_rest("never").part == stand.with_pins(chosen.own_pins).part
    lowest = stand.with_rest("always").choices_at(13)[0][1].shell.midi
    assert lowest == (41, 48)  # F2: the lowest legal place


def test_own_pins_win_over_the_songs_and_can_be_taken_back(stand) -> None:
    kind = lambda of: of.choices_at(0)[0][1].shell.kind
    assert kind(stand) == "root-third"
    pinned = stand.with_pin(4, 0, Pin("root-fifth"))  # the second A: the pin is the section's
    assert kind(pinned) == "root-fifth"
    assert kind(pinned.with_pin(0, 0, None)) == "root-third"


def test_an_impossible_pin_says_why(stand) -> None:
    with pytest.raises(ShellError, match="section B, bar 1"):
        stand.with_pin(8, 0, Pin("root-fourth"))


def test_another_key_moves_everything(stand) -> None:
    moved = stand.with_key(Key.parse("Eb"))
    assert moved.choices_at(1)[0][0].chord.symbol == "C7"
    assert moved.choices_at(0)[0][1].shell.kind == "root-third" and not moved.dropped_pins
    assert moved.with_key(Key.parse("F")).part == stand.part


def test_a_pin_that_does_not_fit_in_a_key_waits_for_one_where_it_does(stand) -> None:
    moved = stand.with_key(
        Key.parse("Ab")
    )  # a third from Ab2 lies below the low-interval limit, from Ab3 above the range
    assert moved.choices_at(0)[0][1].shell.kind == "root-sixth"
    assert moved.dropped_pins == (("A", 1, 1),)
    back = moved.with_key(Key.parse("F"))
    assert back.choices_at(0)[0][1].shell.kind == "root-third" and not back.dropped_pins


def test_tempo_is_held_within_its_limits(stand) -> None:
    assert stand.with_tempo(1).tempo_bpm == TEMPO_LIMITS[0]
    assert stand.with_tempo(10_000).tempo_bpm == TEMPO_LIMITS[1]


def test_the_arrangement_carries_ticks_notes_and_pickup(stand) -> None:
    arrangement = stand.arrangement()
    first, third, fourth, bridge = (arrangement.bars[i] for i in (0, 2, 3, 8))
    assert arrangement.pickup_ticks == 960
    assert first.chords[0].notes == stand.choices_at(0)[0][1].shell.midi
    assert [(chord.tick, chord.ticks) for chord in third.chords] == [(0, 1920), (1920, 1920)]
    assert fourth.chords[0].notes == () and fourth.chords[0].chord is None
    assert bridge.chords[0].ticks == 2880
    assert stand.with_loop(range(8, 12), "B").arrangement().pickup_ticks == 0


def test_an_own_pin_that_no_longer_fits_is_kept_but_not_obeyed(settings) -> None:
    pins = {("B", 1, 1): Pin("root-fourth"), ("A", 2, 1): Pin("root-fifth")}
    stand = Stand.put(parse_chart(CHART), settings, pins)
    assert stand.own_pins == pins and stand.dropped_pins == (("B", 1, 1),)
    assert stand.choices_at(1)[0][1].shell.kind == "root-fifth"
    assert stand.with_pin(9, 0, Pin("root-fifth")).own_pins == {**pins, ("B", 2, 1): Pin("root-fifth")}


def test_what_changes_how_it_sounds_leaves_the_bars_as_they_are_and_nothing_else_does(stand) -> None:
    """Each stand's own bars, also where two take turns, as in the walk through the keys."""
    bars = stand.arrangement().bars
    louder = stand.change(pattern="charleston", bass="walking", demonstrate=True).with_tempo(60)
    assert louder.arrangement().bars is bars and louder.arrangement().pattern == "charleston"
    others = [stand.with_key("Eb"), stand.with_loop(range(8, 12), "B"), stand.with_pin(1, 0, Pin("root-fifth"))]
    for other in (*others, stand, *others):
        indices = [bar.index for bar in other.arrangement().bars]
        assert indices == list(other.loop)
        for bar in other.arrangement().bars:
            choices = [choice for _, choice in other.choices_at(bar.index)]
            assert [chord.notes for chord in bar.chords] == [c.shell.midi if c.shell else () for c in choices]
