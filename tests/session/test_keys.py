"""The same loop through all keys: the orders, and what is played and marked on the way."""

from itertools import pairwise

import music21
import pytest
from desk import Desk, put, right
from hypothesis import given
from hypothesis import strategies as st
from session_songs import EIGHT, FOUR
from strategies import keys

from companion.errors import SettingsError
from companion.session.drill import DrillSettings, new_drill
from companion.session.keys import KEYS, ORDERS, KeyWalk, in_key, key_order, key_said
from companion.session.practice import Practice
from companion.sound.messages import Load
from companion.store.log.practice_log import PracticeLog
from companion.theory.key import Key
from companion.theory.shell_kinds import Pin


@given(keys(), st.sampled_from(sorted(ORDERS)), st.integers(0, 10**9))
def test_each_order_visits_the_twelve_keys_once_from_the_start(start, order, seed):
    visited = key_order(start, order, seed)
    assert visited[0] == start
    assert sorted(key.tonic.pc for key in visited) == list(range(KEYS))
    assert {key.mode for key in visited} == {start.mode}
    assert all(abs(key.fifths) <= 7 for key in visited[1:])
    assert visited == key_order(start, order, seed), "the same drill comes again"


@pytest.mark.parametrize("start", ["C", "Bb", "F#", "Am", "Ebm"])
def test_by_fourths_is_the_circle_of_fifths_backwards(start):
    """Source: music21 10.5, its perfect fourth and its keys' signatures."""
    visited = key_order(Key.parse(start), "fourths")
    tonic = music21.pitch.Pitch(visited[0].tonic.name.replace("b", "-"))
    for key in visited:
        assert key.tonic.pc == tonic.pitchClass
        tonic = tonic.transpose("P4")
    sharps = [music21.key.Key(key.tonic.name.replace("b", "-"), key.mode).sharps for key in visited]
    assert sharps == [key.fifths for key in visited]
    assert all((before - after) % KEYS == 1 for before, after in pairwise(sharps)), "a flat more each time"


def test_by_half_steps_goes_up_and_closes():
    """Source: music21 10.5, its minor second."""
    names = [key.name for key in key_order(Key.parse("C"), "half-steps")]
    assert names == ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"]
    for before, after in zip(names, [*names[1:], names[0]]):
        up = music21.pitch.Pitch(before.replace("b", "-")).transpose("m2")
        assert up.pitchClass == music21.pitch.Pitch(after.replace("b", "-")).pitchClass


def test_another_seed_deals_another_order():
    start = Key.parse("F")
    assert len({key_order(start, "random", seed) for seed in range(20)}) > 15


def test_an_unknown_order_is_said():
    with pytest.raises(SettingsError, match="fourths, half-steps, random"):
        key_order(Key.parse("C"), "fifths")


def test_keys_are_said_as_one_says_them():
    said = [key_said(Key.parse(name)) for name in ("Ab", "F#m", "C", "Bbm")]
    assert said == ["A flat", "F sharp minor", "C", "B flat minor"]


@pytest.mark.parametrize("passes", [1, 2, 3])
def test_a_walk_stays_so_many_passes_in_each_key(passes):
    walk = KeyWalk(key_order(Key.parse("C"), "fourths"), passes)
    heard = []
    for _ in range(KEYS * passes + 1):
        heard.append(walk.key)
        assert walk.is_last_pass == (len(heard) % passes == 0)
        walk = walk.after_pass()
    assert heard[:-1] == [key for key in walk.keys for _ in range(passes)]
    assert heard[-1] == walk.keys[0], "round and round"


def test_a_walk_goes_on_from_a_key_that_was_chosen():
    walk = KeyWalk(key_order(Key.parse("C"), "fourths"), 2).after_pass().from_key(Key.parse("F#"))
    assert walk.key == Key.parse("Gb") and walk.next_key == Key.parse("B") and walk.done == 0


def walk_through(settings, text, hands=right, tempo_bpm=120.0, keyboard=True, passes=13, loop=None, order="fourths"):
    """A desk on which `passes` passes were played, the key changing after each."""
    stand = put(text, settings).with_tempo(tempo_bpm)
    stand = stand.with_loop(loop, "these") if loop else stand
    walk = [KeyWalk(key_order(stand.key, order))]
    with PracticeLog.in_memory() as log:
        practice = Practice(
            stand, new_drill(stand, "play", DrillSettings()), log, now=lambda: desk.clock(), keyboard=keyboard
        )

        def next_stand():
            walk[0] = walk[0].after_pass()
            return in_key(practice.stand, walk[0].key)

        practice.next_stand = next_stand
        desk = Desk(practice, hands)
        desk.send(practice.begin())
        desk.run(until=lambda: desk.turns > passes)
        return desk, log.passes()


@pytest.mark.parametrize("tempo_bpm", [60, 160, 300])
@pytest.mark.parametrize(
    ("text", "loop"), [(FOUR, None), (EIGHT, (4, 5)), (FOUR, (2,))], ids=["section", "two bars", "one bar"]
)
def test_each_pass_is_in_the_next_key_from_its_bar_line_without_a_gap(settings, tempo_bpm, text, loop):
    desk, passes = walk_through(settings, text, tempo_bpm=tempo_bpm, loop=loop)
    assert desk.is_gapless()
    assert len(desk.asked(Load)) >= 13
    order = [key.name for key in key_order(Key.parse("F"), "fourths")]
    assert [record.key for record in passes] == [*order, "F"]
    for record in passes:
        assert record.share_right == 1.0 and record.extra == 0, "the shells of that key, marked by that key"


def test_without_a_keyboard_the_keys_change_all_the_same(settings):
    desk, passes = walk_through(settings, FOUR, hands=lambda moment: [], keyboard=False, passes=3)
    assert [record.key for record in passes] == ["F", "Bb", "Eb"] and desk.is_gapless()


def test_pins_go_along_where_they_fit(settings):
    stand = put(FOUR, settings).with_pin(1, 0, Pin("root-seventh"))
    for key in key_order(stand.key, "half-steps"):
        there = in_key(stand, key)
        choice = there.choices_at(1)[0][1]
        assert choice.shell.kind == "root-seventh" or there.dropped_pins
    assert in_key(there, Key.parse("F")).song == stand.original
