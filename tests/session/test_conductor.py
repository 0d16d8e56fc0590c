"""The conductor, with the real player on a clock turned by hand: what the student does on the way that the app takes, and what is heard,
kept and told."""

from __future__ import annotations

from dataclasses import replace

import pytest
from desk import Conducted, nothing, put, right
from session_songs import EIGHT, FOUR, SUNG_FOUR

from companion.chart.reader import parse_chart
from companion.groove.model import CALLS
from companion.practice.planning.plan import PlanItem
from companion.session.changes import (
    AllKeysPlayed,
    Began,
    DrillLeft,
    Ended,
    NeedsKeyboard,
    NextKey,
    PassOver,
    Said,
    Sounded,
)
from companion.session.keys import KEYS, key_order
from companion.session.plan_items import NO_KEYBOARD, start_item
from companion.session.stand import Stand
from companion.sound.messages import Keyboards, Load, NoteIn, Play, SetTempo, Stop


@pytest.fixture
def table(settings, log):
    """A song on the stand, with a keyboard that was heard and hands that are right."""

    def make(text=FOUR, hands=right, keyboard=True, stops=False, **changes) -> Conducted:
        mine = replace(settings, practice=replace(settings.practice, stop_to_ask=stops))
        table = Conducted(put(text, settings, **changes), log, mine)
        table.conductor.sources.key_heard = keyboard
        table.desk.hands = hands
        return table

    return make


def item(drill="play") -> PlanItem:
    return PlanItem(
        "step", 5, "Step 1", "a-song", "Eight Bars", "A", (0, 1, 2, 3), drill, hands="right", tempo_bpm=100.0, passes=2
    )


def kinds(changes: list) -> list[type]:
    return [type(change) for change in changes if not isinstance(change, Sounded)]


# --- the keyboard


def test_a_keyboard_that_went_away_is_none(table) -> None:
    """Keys were heard; once the last keyboard is gone the student's word counts again, and with the next key it is there again."""
    conductor = table(keyboard=False).conductor
    conductor.hear(Keyboards(("Piano",), ("Piano",)))
    conductor.hear(NoteIn(1.0, 53, 64, "Piano"))
    assert conductor.sources.has_keyboard
    conductor.hear(Keyboards((), ()))
    assert not conductor.sources.has_keyboard
    conductor.hear(NoteIn(2.0, 53, 64, "Piano"))
    assert conductor.sources.has_keyboard


# --- the tempo


def test_tempo_keys_in_a_heard_pass_change_it_at_the_bar_line_and_spoil_nothing(table, log) -> None:
    """Four presses of the key for five beats faster, each within a bar, by a student who is exactly with the click."""
    table = table(pattern="four")
    table.do(table.conductor.start())
    for bar in range(4):
        table.desk.run(until=lambda bar=bar: len(table.desk.lines) == bar + 1)
        table.desk.run(0.7)
        table.do(table.conductor.change_tempo(table.conductor.stand.tempo_bpm + 5))
    table.desk.run(until=lambda: table.desk.turns == 2)
    assert {message.at for _, message in table.desk.asked(SetTempo)} == {"bar"}
    (record,) = log.passes()
    assert record.share_right == 1.0 and not record.slipped
    assert table.conductor.stand.tempo_bpm == 140 and table.desk.lines[-1].tempo_bpm == 140


def test_without_a_keyboard_the_tempo_changes_at_the_next_beat(table) -> None:
    table = table(hands=nothing, keyboard=False)
    table.do(table.conductor.start())
    table.do(table.conductor.change_tempo(90))
    assert [message.at for _, message in table.desk.asked(SetTempo)] == ["beat"]


def test_a_climb_sets_its_own_tempo(table) -> None:
    table = table()
    table.do(table.conductor.practise("climb"))
    assert table.conductor.tempo_is_fixed and table.conductor.change_tempo(90) == []
    assert not table.desk.asked(SetTempo)


# --- hands


@pytest.mark.parametrize("kind", ["play", "climb", "fade"])
def test_an_item_for_the_right_hand_is_logged_for_it_and_leaves_the_left_alone(table, log, kind) -> None:
    table = table(hands=nothing, keyboard=False, stops=True)
    table.do(start_item(table.conductor, item(drill=kind)))
    table.desk.run(until=lambda: table.conductor.asking)
    table.do(table.conductor.answer())
    (record,) = log.passes()
    assert record.hands == "right"
    assert {state.hands for state in log.states() if state.song_id == "a-song"} <= {"right"}
    assert table.conductor.stand.hands == "right"


# --- a question, and going away


def test_a_question_waits_while_the_student_looks_elsewhere(table) -> None:
    """Only `stop` takes it back; what is asked is answered later, with the slips that were marked."""
    table = table(hands=nothing, keyboard=False, stops=True)
    table.do(table.conductor.practise("fade"))
    table.do(table.conductor.start())
    table.desk.run(until=lambda: table.conductor.asking)
    table.conductor.mark_slip(2)
    table.conductor.load()
    assert table.conductor.state.asking and table.conductor.state.slips == {2}
    changes = table.do(table.conductor.answer())
    assert table.conductor.practice.result.record.slipped == (2,) and PassOver in kinds(changes)
    assert Began in kinds(changes) and table.conductor.playing


def test_another_song_begins_afresh(table, settings) -> None:
    table = table(hands=nothing, keyboard=False)
    table.do(start_item(table.conductor, item()))
    table.conductor.put(put(EIGHT, settings))
    conductor = table.conductor
    assert (conductor.kind, conductor.stand.hands, conductor.asks, conductor.practice) == ("play", "left", False, None)
    assert table.desk.asked(Stop) and not conductor.playing


def test_each_song_of_the_evening_is_found_as_it_was_left(table, settings) -> None:
    """Its loop, hands, way of practising and the question, with the bars marked so far; the walk through the keys of another song."""
    table = table(hands=nothing, keyboard=False, stops=True)
    conductor = table.conductor
    table.do(start_item(conductor, item()))
    table.desk.run(until=lambda: conductor.asking)
    conductor.mark_slip(2)
    first = conductor.stand
    other = Stand.put(parse_chart(EIGHT, id="another"), settings)
    conductor.put(other)
    assert not conductor.asking and conductor.stand.hands == "left" and conductor.stand is other
    table.do(conductor.through_all_keys("fourths"))
    coming = conductor.state.next_stand
    conductor.put_again("a-song")
    assert conductor.stand is first and first.hands == "right" and conductor.state.next_stand is None
    assert conductor.state.asking and conductor.state.slips == {2}
    assert table.desk.asked(Load)[-1][1].arrangement == first.arrangement()
    conductor.put_again("another")
    assert conductor.stand is other and conductor.state.next_stand is coming is not None
    conductor.put_again("a-song")
    table.do(conductor.answer())
    assert conductor.practice.result.record.slipped == (2,) and conductor.practice.result.record.hands == "right"


# --- what calls come to


def test_another_loop_ends_a_drill_and_says_which(table) -> None:
    table = table(EIGHT)
    table.do(table.conductor.practise("fade"))
    changes = table.do(table.conductor.change_stand(lambda stand: stand.with_loop((0, 1), "these")))
    assert DrillLeft("fade") in changes and table.conductor.kind == "play"
    assert len(table.desk.asked(Load)[-1][1].arrangement.bars) == 2


def test_free_time_needs_a_keyboard_that_is_heard(table) -> None:
    table = table(keyboard=False)
    assert table.conductor.practise("free") == [NeedsKeyboard()]
    table.hear(Keyboards(("Piano",), ("Piano",)))
    assert table.conductor.practise("free") == [] and table.conductor.kind == "free"
    assert kinds(table.conductor.start()) == [Began] and table.conductor.playing
    assert kinds(table.conductor.stop()) == [Ended] and not table.desk.asked(Play)


def test_an_item_in_free_time_says_that_it_plays_where_no_keyboard_is_heard(table) -> None:
    table = table(hands=nothing, keyboard=False)
    changes = start_item(table.conductor, replace(item(drill="free"), hands="left"))
    assert NO_KEYBOARD in next(change.sentence for change in changes if isinstance(change, Said))
    assert table.conductor.kind == "play" and table.conductor.playing


def test_free_time_with_both_hands_says_first_what_is_waited_for(table) -> None:
    table = table(SUNG_FOUR)
    table.conductor.change_stand(lambda stand: stand.with_hands("both"))
    table.conductor.practise("free")
    began, said = table.conductor.start()
    assert isinstance(began, Began) and said.sentence.startswith("Chord by chord")


def test_what_is_reported_of_a_pass_that_was_stopped_is_not_of_the_next(table, log) -> None:
    table = table()
    for _ in range(2):
        table.do(table.conductor.start())
        table.do(table.conductor.stop())
    first, second = (message.number for _, message in table.desk.asked(Play))
    assert first != second
    table.desk.run()
    assert not any(isinstance(change, Sounded) for change in table.changes) and not log.passes(broken=True)


# --- through all keys


@pytest.mark.parametrize("passes", [1, 2])
def test_each_key_is_told_a_pass_ahead_and_heard_from_its_first_beat(table, log, passes) -> None:
    table = table()
    table.do(table.conductor.through_all_keys("fourths", passes))
    table.do(table.conductor.start())
    table.desk.run(until=lambda: table.desk.turns > passes * KEYS)
    order = [key.name for key in key_order(table.conductor.stand.original.key, "fourths")]
    assert [record.key for record in log.passes()] == [name for name in order for _ in range(passes)]
    assert all(record.share_right == 1.0 for record in log.passes()) and table.desk.is_gapless()
    told = [change.stand.key.name for change in table.changes if isinstance(change, NextKey)]
    assert list(dict.fromkeys(told)) == [*order[1:], order[0]]
    assert sum(isinstance(change, AllKeysPlayed) for change in table.changes) == 1


def heard_last(table, voice: str) -> list:
    """What one voice sounded last before each pass after the first."""
    sounds = [
        (due_s, sound) for due_s, _, sound in table.desk.output.sent if sound.voice == voice and sound.what == "note_on"
    ]
    return [[sound for due_s, sound in sounds if due_s < line.due_s - 1e-6][-1] for line in table.desk.starts()[1:]]


@pytest.mark.parametrize(
    ("passes", "firsts"), [(1, "F six|B flat six|E flat six"), (2, "F six|F six|B flat six|B flat six")]
)
def test_the_first_chord_of_a_key_is_called_as_it_is_in_that_key(table, passes, firsts) -> None:
    """A pulse before it comes, as every other is (common practice). FOUR begins on the chord of its key and ends on another."""
    table = table(calls="always")
    table.desk.output.mixes = True  # else no words are sent
    table.do(table.conductor.change_tempo(60))
    table.do(table.conductor.through_all_keys("fourths", passes))
    table.do(table.conductor.start())
    table.desk.run(until=lambda: table.desk.turns == len(firsts.split("|")))
    assert [sound.words for sound in heard_last(table, CALLS)] == firsts.split("|")[1:]


def test_a_walking_bass_goes_to_the_next_key_by_step(table) -> None:
    """Its last note lies a whole or half step from where the next chord begins: K. Fitzgerald, "Walking Bass Line Theory Basics"."""
    table = table(bass="walking")
    table.do(table.conductor.through_all_keys("half-steps"))
    table.do(table.conductor.start())
    table.desk.run(until=lambda: table.desk.turns == 6)
    for root_pc, sound in zip(range(6, 11), heard_last(table, "bass"), strict=True):  # G flat and on
        assert (sound.note - root_pc) % 12 in {1, 2, 10, 11}


def test_who_stays_in_a_key_is_called_its_own_first_chord_again(table) -> None:
    table = table(calls="always")
    table.desk.output.mixes = True  # else no words are sent
    table.do(table.conductor.change_tempo(60))
    table.do(table.conductor.through_all_keys("fourths"))
    table.do(table.conductor.start())
    table.desk.run(until=lambda: len(table.desk.lines) == 2)
    table.conductor.keys.stay()
    table.desk.run(until=lambda: table.desk.turns == 2)
    assert [sound.words for sound in heard_last(table, CALLS)] == ["F six"]


def test_a_tempo_taken_while_the_next_key_is_on_its_way_loses_no_key(table, log) -> None:
    """Between the end of a pass and the bar line the next key is loaded already."""
    table = table()
    table.do(table.conductor.through_all_keys("fourths"))
    table.do(table.conductor.start())
    table.desk.run(until=lambda: any(isinstance(change, PassOver) for change in table.changes))
    table.do(table.conductor.change_tempo(130))
    table.desk.run(until=lambda: table.desk.turns == 3)
    assert [record.key for record in log.passes()] == ["F", "Bb"]
    assert table.conductor.state.stand.key.name == "Eb" and table.conductor.state.stand.tempo_bpm == 130


def test_a_limit_of_passes_ends_without_another_key(table, log) -> None:
    table = table()
    table.do(table.conductor.through_all_keys("fourths"))
    table.do(table.conductor.start(passes=2))
    table.desk.run()
    assert [record.key for record in log.passes()] == ["F", "Bb"]
    assert isinstance(table.changes[-1], Ended | NextKey) and not table.conductor.playing
