"""Without a keyboard the music goes on, and passes wait for the student's word; on the way that the app takes, with the real player."""

from __future__ import annotations

from dataclasses import replace

import pytest
from desk import Conducted, nothing, put
from session_songs import EIGHT, FOUR

from companion.practice.drills import climbing
from companion.practice.leading import Switch
from companion.session import led, untold
from companion.session.changes import DrillLeft, Ended, PassOver, PassWaits, Said
from companion.session.telling import CHANGED
from companion.session.waiting import LAST_ROUND, NOBODY_PLAYS, NOBODY_THERE, foreseen
from companion.sound.messages import SetTempo, SwitchIn


@pytest.fixture
def table(settings, log):
    """Four bars without a keyboard, practised in some way, that begin to play."""

    def make(kind="climb", text=FOUR, **changes) -> Conducted:
        table = Conducted(put(text, settings, **changes), log, settings)
        table.desk.hands = nothing
        table.do(table.conductor.practise(kind))
        table.do(table.conductor.start())
        return table

    return make


def until_bar(table: Conducted, turn: int, position: int, more_s: float = 0.6) -> None:
    """Into a bar of a pass (both from 0), so far that it is shown."""
    table.desk.run(until=lambda: table.desk.turns == turn + 1 and table.desk.lines[-1].position == position)
    table.desk.run(more_s)


def waiting(table: Conducted) -> int:
    return table.conductor.state.waits


def said(table: Conducted) -> list[str]:
    return [change.sentence for change in table.changes if isinstance(change, Said)]


@pytest.mark.parametrize("kind", ["climb", "fade", "fade+climb", "symbols"])
def test_it_goes_on_and_what_nobody_told_of_moves_nothing(table, log, kind):
    table = table(kind)
    before = table.conductor.practice.drill
    until_bar(table, 3, 2)
    assert waiting(table) == 3 and not table.conductor.asking and table.desk.is_gapless()
    assert (
        table.conductor.practice.drill == before
        and not log.passes()
        and [each.kind for each in log.states()] == [untold.KIND]
    )
    assert [change.count for change in table.changes if isinstance(change, PassWaits)] == [1, 2, 3]
    assert not any(isinstance(change, PassOver) for change in table.changes)


def test_one_word_is_for_all_that_wait_and_a_drill_moves_only_by_what_it_still_asks_for(table, log):
    table = table("climb")
    until_bar(table, 3, 0)
    tempo_bpm = table.conductor.practice.drill.next_pass.tempo_bpm
    table.do(table.conductor.answer())
    records = log.passes()
    assert [(record.fact, record.clean, record.source) for record in records] == [("ran", True, "told")] * 3
    drill = table.conductor.practice.drill
    assert drill.next_pass.tempo_bpm > tempo_bpm and len(climbing.picture(drill.climb).played) == 1, (
        "three at one tempo are one step"
    )
    assert waiting(table) == 0 and isinstance(table.changes[-1], PassOver)
    until_bar(table, 4, 1)
    assert table.desk.lines[-1].tempo_bpm == drill.next_pass.tempo_bpm and table.desk.is_gapless()


def test_what_is_told_in_the_first_bar_counts_for_this_pass_and_later_for_the_next(table):
    for position, bars in ((0, 1), (2, 4)):
        one = table("climb")
        until_bar(one, 1, position)
        one.do(one.conductor.answer())
        until_bar(one, 2, 1)
        tempos = [line.tempo_bpm for line in one.desk.lines[4:9]]
        assert len(set(tempos[:bars])) == 1 < len(set(tempos)) == 2 and tempos[bars] > tempos[0], position
        assert len(one.desk.asked(SetTempo)) == 1


def test_a_slip_is_told_while_it_sounds(table, log):
    table = table("fade")
    before = table.conductor.practice.drill
    until_bar(table, 0, 1)
    table.do(table.conductor.slip())
    assert table.conductor.state.slips == {1} and table.conductor.state.signs[1, 0].verdict == "wrong"
    assert said(table)[-1] == "A 2 slipped."
    until_bar(table, 0, 3, 0.05)  # a hand needs a moment: that was the bar before
    table.do(table.conductor.slip())
    assert table.conductor.state.slips == {1, 2}
    until_bar(table, 1, 0, 0.05)
    table.do(table.conductor.slip())
    assert not table.conductor.state.slips and table.conductor.practice.waiting.passes[-1].slipped == {1, 2, 3}
    table.do(table.conductor.answer())
    (record,) = log.passes()
    assert (record.fact, record.slipped, record.share_right, record.clean) == ("slipped", (1, 2, 3), 0.25, False)
    assert table.conductor.practice.drill != before


def test_in_its_last_bar_a_pass_is_told_of_with_those_that_wait(table, log):
    table = table("fade")
    until_bar(table, 1, 3)
    table.do(table.conductor.answer())
    until_bar(table, 2, 1)
    assert [record.fact for record in log.passes()] == ["ran", "ran"] and waiting(table) == 0


def test_a_pass_that_breaks_off_is_told_at_once(table, log):
    table = table("climb")
    tempo_bpm = table.conductor.practice.drill.next_pass.tempo_bpm
    until_bar(table, 0, 2)
    table.do(table.conductor.answer(broke_off=True))
    table.do(table.conductor.stop())
    (record,) = log.passes()
    assert (record.fact, record.clean, record.share_right) == ("broke off", False, 0.0)
    assert table.conductor.practice.drill.next_pass.tempo_bpm < tempo_bpm and not table.conductor.asking


def test_after_three_rounds_without_any_key_the_music_stops_and_the_word_still_counts(table, log):
    """A round is sixteen bars at least: four passes of four bars."""
    table = table("climb")
    table.desk.run()
    assert table.desk.turns == 12 and not table.conductor.playing and table.conductor.asking
    assert [sentence.split()[0] for sentence in said(table)[:2]] == ["4", "8"] and NOBODY_THERE in said(table)
    [ended] = [change for change in table.changes if isinstance(change, Ended)]
    assert ended.asks == 0 and not log.passes()
    table.conductor.mark_slip(2)
    table.do(table.conductor.answer())
    assert [record.fact for record in log.passes()] == ["ran"] * 11 + ["slipped"]
    assert not table.conductor.playing and not table.conductor.asking, "who comes back is not played to at once"


def test_who_plays_along_is_told_a_round_before_the_music_stops(table, log):
    table = table("play")
    until_bar(table, 8, 0)
    assert said(table) == [LAST_ROUND]
    table.desk.run()
    assert table.desk.turns == 12 and not table.conductor.playing and not table.conductor.asking
    assert said(table) == [LAST_ROUND, NOBODY_PLAYS] and len(log.passes()) == 12


def test_playing_along_goes_on_for_who_presses_a_key_or_asked_for_so_much(table):
    one = table("play")
    until_bar(one, 11, 1)
    one.conductor.attend()
    until_bar(one, 13, 1)
    assert one.conductor.playing
    many = table("play")
    many.do(many.conductor.stop())
    many.do(many.conductor.start(passes=14))
    begun = many.desk.turns
    many.desk.run()
    assert many.desk.turns - begun == 14 and not said(many)
    keys = table("play")
    keys.do(keys.conductor.through_all_keys("fourths"))
    until_bar(keys, 13, 1)
    assert keys.conductor.playing, "a round goes through all keys"


def test_who_never_wants_it_to_stop_says_so(settings, log):
    never = Conducted(put(FOUR, settings), log, replace(settings, practice=replace(settings.practice, rounds_alone=0)))
    never.desk.hands = nothing
    never.do(never.conductor.start())
    until_bar(never, 13, 1)
    assert never.conductor.playing and not said(never)


def test_any_key_tells_that_somebody_is_there(table):
    table = table("climb")
    until_bar(table, 11, 1)
    table.conductor.attend()
    until_bar(table, 20, 1)
    assert table.conductor.playing and waiting(table) == 20


def test_a_form_is_a_round_by_itself(table):
    table = table("fade", EIGHT)
    table.desk.run()
    assert table.desk.turns == 6, "of eight bars two passes are a round"


def test_stopped_and_started_again_what_waits_goes_on_waiting(table, log):
    table = table("fade")
    until_bar(table, 1, 1)
    table.do(table.conductor.stop())
    assert table.conductor.asking and waiting(table) == 1 and not log.passes()
    table.do(table.conductor.start())
    assert not table.conductor.asking and waiting(table) == 1
    turn = table.desk.turns
    until_bar(table, turn + 1, 0)
    table.do(table.conductor.answer())
    assert [record.fact for record in log.passes()] == ["ran", "ran"]


def test_what_is_left_untold_is_kept_for_its_minutes(table, log):
    table = table("fade")
    until_bar(table, 2, 1)
    table.do(table.conductor.practise("play"))
    assert [(record.fact, record.clean) for record in log.passes()] == [("", False)] * 2
    assert log.states("recall") == [] and table.conductor.practice is None


def test_a_bar_that_was_looked_at_slipped_in_that_pass_alone(table, log):
    table = table("symbols")
    until_bar(table, 0, 2)
    table.conductor.peek(2)
    until_bar(table, 2, 0)
    table.do(table.conductor.answer())
    assert [(record.fact, record.slipped) for record in log.passes()] == [("slipped", (2,)), ("ran", ())]


def test_playing_along_tells_of_slips_too_and_asks_nothing(table, log):
    table = table("play")
    until_bar(table, 1, 1)
    table.do(table.conductor.slip())
    until_bar(table, 2, 0)
    assert [(record.fact, record.slipped) for record in log.passes()] == [("", ()), ("slipped", (1,))]
    until_bar(table, 9, 0)
    assert table.conductor.playing and waiting(table) == 0


def test_a_slip_told_in_a_bar_of_the_loop_before_counts_for_nothing(table, log):
    table = table("play", EIGHT)
    until_bar(table, 0, 3)
    table.do(table.conductor.change_stand(lambda stand: stand.with_loop(range(1, 2), "bar 2")))
    table.do(table.conductor.slip())
    assert said(table)[-1] == CHANGED and not table.conductor.state.slips
    until_bar(table, 1, 0)
    table.do(table.conductor.slip())
    assert said(table)[-1] == "A 2 slipped."


def test_pedals_tell_of_slips_and_answer(table, settings, log):
    table = table("fade")
    leading = settings.leading | {"slip": (Switch("control", 67),), "ran": (Switch("control", 66),)}
    mine = replace(settings, leading=leading)
    until_bar(table, 0, 1)
    table.do(led.hear(table.conductor, SwitchIn(1.0, "control", 67, "Piano"), mine))
    until_bar(table, 1, 0)
    table.do(led.hear(table.conductor, SwitchIn(1.0, "control", 66, "Piano"), mine))
    assert [(record.fact, record.slipped) for record in log.passes()] == [("slipped", (1,))]


def test_a_pedal_goes_round_the_ways_and_what_plays_goes_on(table, settings):
    """Play along, from memory, up to tempo, both; another loop is practised in the same way."""
    table = table("play")
    leading = settings.leading | {"next-way": (Switch("control", 67),), "next-loop": (Switch("control", 66),)}
    mine = replace(settings, leading=leading)
    press = lambda number: table.do(led.hear(table.conductor, SwitchIn(1.0, "control", number, "Piano"), mine))
    for kind, words in (
        ("fade", "from memory"),
        ("climb", "up to tempo"),
        ("fade+climb", "from memory and up to tempo"),
    ):
        changes = press(67)
        assert table.conductor.kind == kind and table.conductor.playing
        assert changes[-1] == Said(f"soft pedal: {words}.") and not any(isinstance(each, Ended) for each in changes)
        until_bar(table, table.desk.turns, 1)
    changes = press(66)
    assert table.conductor.kind == "fade+climb" and table.conductor.playing and table.conductor.stand.loop_name == "A"
    assert not any(isinstance(each, (DrillLeft, Ended)) for each in changes)
    table.do(table.conductor.stop())
    press(67)
    assert table.conductor.kind == "play" and not table.conductor.playing, "what is stopped waits for its start"


def test_what_waits_is_found_at_the_next_start_however_this_one_ended(table, log):
    """As nothing was told of it it moves nothing; that a bar slipped was told."""
    table = table("fade")
    until_bar(table, 0, 1)
    table.do(table.conductor.slip())
    until_bar(table, 2, 1)
    assert waiting(table) == 2 and not log.passes()
    assert untold.take_back(log) == 2 and untold.take_back(log) == 0
    assert [(record.fact, record.slipped, record.clean) for record in log.passes()] == [
        ("", (1,), False),
        ("", (), False),
    ]
    assert log.states() == []


def test_what_is_told_of_is_one_pass_and_waits_no_more(table, log):
    table = table("climb")
    until_bar(table, 2, 0)
    (aside,) = log.states(untold.KIND)
    table.do(table.conductor.answer())
    assert [record.id for record in log.passes()] == [row["id"] for row in aside.value]
    assert log.states(untold.KIND) == [] and untold.take_back(log) == 0


def test_a_damaged_memory_of_what_waits_is_left_out(log):
    for value in ("x", [1, {"id": 3}], {"a": 1}, [{"loop": 5}]):
        log.put_state("a-song", "", untold.KIND, value)
        assert untold.take_back(log) == 0 and log.states() == []


def test_a_slip_told_just_after_the_bar_line_is_kept_at_once(table, log):
    """Of the pass before, which waits in the log already: pulled the plug then, the slip is there."""
    table = table("climb")
    until_bar(table, 1, 0, 0.1)
    table.do(table.conductor.slip())
    (aside,) = log.states(untold.KIND)
    assert [row["slipped"] for row in aside.value] == [[3]]


def told_up_to_the_end(table: Conducted, position: int) -> None:
    """Every pass is told of in the first bar of the next, the one that ends the drill in that bar (from 0)."""
    for turn in range(1, 60):
        until_bar(table, turn, 0)
        if ends := one_word_ends(table):
            until_bar(table, turn, position)
        table.do(table.conductor.answer())
        if ends:
            return
    raise AssertionError("the drill does not end")


def one_word_ends(table: Conducted) -> bool:
    practice = table.conductor.practice
    return foreseen(practice.drill, [each.told() for each in practice.waiting.passes]).finished


@pytest.mark.parametrize("kind", ["symbols", "fade"])
@pytest.mark.parametrize("position", [0, 2])
def test_the_word_that_ends_a_drill_ends_the_pass_that_was_begun_with_its_bar_and_nothing_is_asked(
    table, log, kind, position
):
    table = table(kind)
    told_up_to_the_end(table, position)
    assert table.conductor.practice.drill.finished and table.conductor.playing
    last = table.changes[-1]
    assert isinstance(last, PassOver) and last.drill.finished, "said at once"
    passes, bars = len(log.passes()), len(table.desk.lines)
    table.desk.run()
    assert not table.conductor.playing and not table.conductor.asking and waiting(table) == 0
    assert len(table.desk.lines) == bars, "not a bar more"
    assert len(log.passes()) == passes and log.states(untold.KIND) == []
    [ended] = [change for change in table.changes if isinstance(change, Ended)]
    assert ended.asks is None


def test_a_pass_that_broke_off_is_told_with_the_word_that_ends_the_drill(table, log):
    table = table("symbols")
    for turn in range(1, 60):
        until_bar(table, turn, 1)
        ends = one_word_ends(table)
        table.do(table.conductor.answer(broke_off=ends))
        if ends:
            break
    assert [record.fact for record in log.passes()][-2:] == ["ran", "broke off"]
    assert table.conductor.practice.drill.finished
