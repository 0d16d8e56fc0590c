"""Which chord comes next, which come again, and the rounds of fourths and whole tones."""

from __future__ import annotations

import json
import random
from collections import Counter

import pytest

from companion.hands.root_position import close_chord
from companion.practice.drills.root_position import (
    CYCLE_ORDERS,
    KEPT_TIMES,
    MOST_WEIGHT,
    PACE_S,
    SHOWN_TIMES,
    SLIP_S,
    Known,
    again,
    cycle,
    known_from_json,
    next_at_random,
    steps_of,
    weight,
)
from companion.theory.symbols import parse_chord


def known(*times: float) -> Known:
    return Known(times, len(times), len(times), "2026-01-05")


def test_slow_chords_come_more_often_in_proportion() -> None:
    """Of 3,000 draws: a chord of 6 s comes four times as often as one of 1.5 s or faster, but for what the rule against the same twice takes."""
    table = {"fluent": known(1.0), "slow": known(6.0), "slip": Known().after(0.8, right=False, day="")}
    assert (weight(table["fluent"]), weight(table["slow"]), weight(table["slip"])) == (1.0, 4.0, SLIP_S / PACE_S)
    assert weight(known(500.0)) == MOST_WEIGHT and weight(None) == weight(Known()) > 1
    dice, before, counts = random.Random(7), None, Counter()
    ids = ["fluent", "slow", "other"]
    table["other"] = known(1.2)
    for _ in range(3000):
        drawn = ids[next_at_random(ids, table, before, dice.random)]
        assert drawn != before
        counts[drawn] += 1
        before = drawn
    # By the stationary law of this walk: each is left with the weights of the other two, so visits go as w * (sum - w).
    shares = {name: w * (6 - w) for name, w in (("fluent", 1), ("slow", 4), ("other", 1))}
    for name, share in shares.items():
        assert counts[name] / 3000 == pytest.approx(share / sum(shares.values()), abs=0.03)


def test_one_chord_alone_comes_again() -> None:
    assert next_at_random(["only"], {}, "only", random.Random(1).random) == 0


@pytest.mark.parametrize("chance", [0.0, 0.5, 0.999999999])
def test_every_chance_draws_something(chance: float) -> None:
    assert next_at_random(["a", "b"], {}, None, lambda: chance) in (0, 1)


def test_what_was_slow_or_wrong_comes_again_slowest_first() -> None:
    found = [
        ("a", 1.0, True),
        ("b", 1.1, True),
        ("c", 5.0, True),
        ("d", 0.9, False),
        ("e", 1.2, True),
        ("f", 7.0, True),
    ]
    assert again(found) == ("f", "d", "c")
    assert again([(name, 1.0, True) for name in "abc"]) == ()
    assert again([(name, 5.0, True) for name in "abc"]) == (), "all alike slow: the next round brings them all"
    assert len(again([(name, 1.0, False) for name in "abcdefgh"])) == 4
    assert again([]) == ()


def test_what_is_remembered_grows_and_is_read_again() -> None:
    state = Known()
    for number in range(12):
        state = state.after(1.0 + number, right=number % 2 == 0, day=f"2026-01-{number + 1:02}")
    assert len(state.times) == KEPT_TIMES and state.tries == 12 and state.right == 6 and state.day == "2026-01-12"
    assert state.times[-1] == 12.0 and state.find_s == 10.0
    assert known_from_json(json.loads(json.dumps(state.to_json()))) == state
    assert Known().after(0.5, right=False, day="").times == (SLIP_S,)
    assert not known(1.0).is_known and known(*[1.0] * SHOWN_TIMES).is_known


@pytest.mark.parametrize("damaged", [None, 3, "x", [], {}, {"times": [1], "right": 5, "tries": 2, "day": ""},
                                     {"times": ["x"], "right": 0, "tries": 0, "day": ""},
                                     {"times": [float("nan")], "right": 0, "tries": 1, "day": ""},
                                     {"times": [-1], "right": 0, "tries": 1, "day": ""}])  # fmt: skip
def test_a_damaged_memory_is_a_new_chord(damaged) -> None:
    assert known_from_json(damaged) is None


def test_round_the_fourths() -> None:
    """The circle of fifths backwards, as keys are usually spelled (common practice)."""
    names = [chord.symbol for chord in cycle(parse_chord("C7"), "fourths")]
    assert names == ["C7", "F7", "Bb7", "Eb7", "Ab7", "Db7", "Gb7", "B7", "E7", "A7", "D7", "G7"]
    minor = [chord.symbol for chord in cycle(parse_chord("Dm7/G"), "fourths")]
    assert minor == ["Dm7", "Gm7", "Cm7", "Fm7", "Bbm7", "Ebm7", "G#m7", "C#m7", "F#m7", "Bm7", "Em7", "Am7"]


def test_down_by_whole_tones() -> None:
    names = [chord.symbol for chord in cycle(parse_chord("C6/9"), "tones")]
    assert names == [f"{root}6/9" for root in ("C", "Bb", "Ab", "Gb", "E", "D", "Db", "B", "A", "G", "F", "Eb")]


@pytest.mark.parametrize("order", CYCLE_ORDERS)
@pytest.mark.parametrize("symbol", ["F#m7b5", "Abmaj7", "G7alt", "Bdim7", "Esus4"])
def test_a_cycle_has_every_root_once_and_one_quality(order: str, symbol: str) -> None:
    chords = cycle(parse_chord(symbol), order)
    assert {chord.root.pc for chord in chords} == set(range(12)) and len(chords) == 12
    assert {chord.degrees for chord in chords} == {parse_chord(symbol).degrees}
    for chord in chords:
        assert parse_chord(chord.symbol).pitch_classes == chord.pitch_classes


def test_the_steps_of_each_way() -> None:
    close = close_chord(parse_chord("G7"))
    assert steps_of(close, "together") == ((55, 59, 62, 65),)
    assert steps_of(close, "broken") == ((55,), (59,), (62,), (65,))
    assert steps_of(close, "left", (43, 53)) == ((55, 59, 62, 65), (43, 53))
    assert steps_of(close, "left") == ((55, 59, 62, 65),)
