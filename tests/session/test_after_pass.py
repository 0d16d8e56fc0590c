"""After a pass, on the way that the app takes: what a teacher would say, and the change that slipped by itself."""

from __future__ import annotations

import random

import pytest
from desk import Conducted, off, put, right, wrong
from session_songs import EIGHT, SUNG_FOUR

from companion.practice.drills.climbing import picture
from companion.session.after_pass import LATEST
from companion.session.changes import Began, PassOver
from companion.session.one_change import practise_alone
from companion.sound.messages import Keyboards, Load, NoteIn, Play


@pytest.fixture
def table(settings, log):
    """Eight bars, four to the bar, with a keyboard that is heard."""

    def make(hands=right, text=EIGHT, **changes) -> Conducted:
        table = Conducted(put(text, settings, **{"pattern": "four"} | changes), log, settings)
        table.hear(Keyboards(("Piano",), ("Piano",)))
        table.conductor.sources.key_heard = True
        table.desk.hands = hands
        return table

    return make


def human(seed: int, jitter_s: float = 0.018, also=lambda moment: 0.0):
    """Hands with the jitter of a player (Repp & Su 2013, from memory: 2 to 4 % of the beat)."""
    rng = random.Random(seed)

    def hands(moment):
        off_s = rng.gauss(0.0, jitter_s) + also(moment)
        return [(off_s + rng.gauss(0.0, 0.004), note) for note in moment.expected.notes]

    return hands


def play(table: Conducted, passes: int) -> list:
    table.do(table.conductor.start())
    table.desk.run(until=lambda: table.desk.turns > passes)
    return [change.result for change in table.changes if isinstance(change, PassOver)]


def test_a_habit_is_told_after_the_pass_it_is_plain_in(table) -> None:
    """Every change 60 ms behind the repeats: after four passes at the latest it is said, with what to do about it."""
    late = lambda moment: 0.06 if moment.expected.number == 0 else 0.0
    results = play(table(human(1, also=late)), LATEST)
    said = results[-1].advice.says
    assert len(said) == 1 and said[0].startswith("Your changes come ") and "two to the bar" in said[0]


def test_a_change_that_slips_in_most_passes_is_named_and_offered(table) -> None:
    def hands(moment):
        return wrong(moment) if moment.expected.group.index == 3 else right(moment)

    table = table(hands)
    results = play(table, LATEST)
    bar = table.conductor.stand.bars[3]
    assert results[-1].advice.alone == (3, 0)
    assert f"({bar.section} bar {bar.bar}) slips 4 times of 4" in results[-1].advice.says[0]
    assert f"The change into {bar.section} bar {bar.bar} slips" in results[-1].advice.says_by_bars[0]
    assert bar.chords[0].symbol not in results[-1].advice.says_by_bars[0]


def test_clean_hands_hear_nothing(table, deep) -> None:
    """At most one stretch in twenty with a sentence: seeds 0 to 19 with `--deep`, else none of every fifth."""
    seeds = range(20) if deep else range(0, 20, 5)
    told = 0
    for seed in seeds:
        results = play(table(human(seed)), LATEST)
        told += any(result.advice.says for result in results)
    assert told <= len(seeds) // 20


def test_a_disturbed_pass_says_why_it_is_not_clean(table, log) -> None:
    def hands(moment):
        along = [(0.0, moment.expected.notes[0] - 1)] if moment.expected.number % 2 else []
        return [*right(moment), *along]

    (result, *_) = play(table(hands), 1)
    assert result.record.share_right == 1.0 and not result.record.clean
    assert result.advice.says[0].startswith("Not a clean pass: ")


def test_a_pass_that_few_strikes_of_one_hand_spoil_says_which_hand(table) -> None:
    """Two of four strikes of the left hand, of many more with the melody: the drill takes it for a bad pass, and the sentence says why."""

    def hands(moment):
        brushed = moment.expected.part == "left" and moment.expected.group.index < 2
        return [*right(moment), *([(0.0, moment.expected.notes[0] - 1)] if brushed else [])]

    both = table(hands, SUNG_FOUR, pattern="whole")
    both.conductor.change_stand(lambda stand: stand.with_hands("both"))
    (result, *_) = play(both, 1)
    assert not result.record.clean
    assert result.advice.says[0].startswith("Not a clean pass: 2 of 4 strikes of the left hand had ")


def test_another_tempo_begins_to_collect_anew(table) -> None:
    def hands(moment):
        return wrong(moment) if moment.expected.group.index == 3 else right(moment)

    table = table(hands)
    table.do(table.conductor.start())
    for turn in range(1, 5):
        table.desk.run(until=lambda turn=turn: table.desk.turns > turn)
        table.do(table.conductor.change_tempo(120 + turn))
    assert not any(result.advice.says for result in [c.result for c in table.changes if isinstance(c, PassOver)])


# --- the change by itself


def test_one_key_practises_the_change_with_its_bar_before_and_goes_back(table) -> None:
    table = table(lambda moment: wrong(moment) if moment.expected.group.index == 5 else right(moment))
    conductor = table.conductor
    assert practise_alone(conductor) == [] and conductor.state.alone is None
    play(table, 1)
    before = conductor.stand
    assert conductor.state.alone == (5, 0) and not conductor.state.came_from
    changes = table.do(practise_alone(conductor))
    assert Began(4) in changes and conductor.stand.loop == (4, 5) and conductor.stand.loop_name == "bars 5 to 6"
    assert conductor.state.came_from == before.loop_name and conductor.playing
    table.desk.run(until=lambda: table.desk.lines[-1].index == 5)
    assert [bar.index for bar in table.desk.asked(Load)[-1][1].arrangement.bars] == [4, 5]
    table.do(practise_alone(conductor))
    assert (conductor.stand.loop, conductor.stand.loop_name) == (before.loop, before.loop_name) and conductor.playing
    assert not conductor.state.came_from and len(table.desk.asked(Load)[-1][1].arrangement.bars) == 8


def test_stopped_it_plays_the_change_and_going_back_plays_nothing(table) -> None:
    table = table(lambda moment: off(0.12)(moment) if moment.expected.group.index == 0 else right(moment))
    play(table, 1)
    table.do(table.conductor.stop())
    plays = len(table.desk.asked(Play))
    table.do(practise_alone(table.conductor))
    assert table.conductor.stand.loop == (7, 0) and len(table.desk.asked(Play)) == plays + 1, "the loop goes round"
    table.do(table.conductor.stop())
    table.do(practise_alone(table.conductor))
    assert not table.conductor.playing and len(table.desk.asked(Load)[-1][1].arrangement.bars) == 8


def test_a_climb_is_left_at_its_tempo_and_taken_up_again(table, log) -> None:
    table = table(lambda moment: wrong(moment) if moment.expected.group.index == 5 else right(moment))
    conductor = table.conductor
    table.do(conductor.practise("climb"))
    tempo_bpm = conductor.practice.drill.next_pass.tempo_bpm
    assert tempo_bpm < conductor.stand.tempo_bpm
    play(table, 1)
    table.do(practise_alone(conductor))
    assert conductor.kind == "play" and conductor.stand.tempo_bpm == tempo_bpm
    table.do(conductor.stop())
    table.do(practise_alone(conductor))
    assert conductor.kind == "climb" and picture(conductor.practice.drill.climb).played, "with what it knew"
    assert conductor.stand.tempo_bpm == conductor.stand.song.tempo_bpm


def test_another_loop_forgets_the_way_back(table) -> None:
    table = table(lambda moment: wrong(moment) if moment.expected.group.index == 5 else right(moment))
    play(table, 1)
    table.do(practise_alone(table.conductor))
    table.do(table.conductor.change_stand(lambda stand: stand.with_loop((0, 1, 2), "these")))
    assert not table.conductor.state.came_from and practise_alone(table.conductor) == []


def test_the_walk_through_the_keys_ends_there(table) -> None:
    table = table(lambda moment: wrong(moment) if moment.expected.group.index == 5 else right(moment))
    table.do(table.conductor.through_all_keys("fourths"))
    play(table, 1)
    table.do(practise_alone(table.conductor))
    assert table.conductor.keys.walk is None and table.conductor.state.next_stand is None


def test_a_pass_that_was_told_offers_the_first_bar_that_slipped(table) -> None:
    table = table(lambda moment: [])
    table.hear(Keyboards((), ()))
    table.conductor.sources.key_heard = False
    table.do(table.conductor.practise("fade"))
    table.do(table.conductor.start())
    table.desk.run(until=lambda: table.conductor.asking)
    assert table.conductor.state.alone is None
    for index in (6, 3):
        table.conductor.mark_slip(index)
    table.do(table.conductor.answer())
    assert table.conductor.state.alone == (3, 0)


def find(table: Conducted, after_s: float = 1.0, first: int | None = None) -> None:
    """Strike what free time waits for, after another key where one is given."""
    table.desk.now_s += after_s
    notes = table.conductor.state.waiting.notes
    for note in ([first] if first else []) + list(notes):
        table.hear(NoteIn(table.desk.now_s, note, 70, "Piano"))
    for note in ([first] if first else []) + list(notes):
        table.hear(NoteIn(table.desk.now_s, note, 0, "Piano"))


@pytest.mark.parametrize("slip", ["wrong", "waited"])
def test_in_free_time_the_change_is_waited_for_by_itself(table, slip) -> None:
    table = table()
    conductor = table.conductor
    table.do(conductor.practise("free"))
    table.do(conductor.start())
    for number in range(5):
        here = number == 3
        stray = conductor.state.waiting.notes[0] + 1
        find(table, 4.0 if here and slip == "waited" else 1.0, stray if here and slip == "wrong" else None)
    assert (3, 0) in conductor.state.signs and conductor.state.waiting.index == 5
    table.do(conductor.stop())
    assert conductor.state.alone == (3, 0)
    table.do(practise_alone(conductor))
    assert conductor.kind == "free" and conductor.stand.loop == (2, 3) and conductor.state.waiting.index == 2
    table.do(practise_alone(conductor))
    assert conductor.kind == "free" and conductor.state.waiting.index == 0 and len(conductor.stand.loop) == 8
