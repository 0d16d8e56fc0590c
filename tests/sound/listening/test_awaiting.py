"""The ear that waits, on a piano worked out from the physics of its strings: what was played, and when, is known."""

from __future__ import annotations

import pytest
from strings_made import RATE, played, scale

from companion.sound.listening.awaiting import WaitingEar
from companion.sound.listening.scale import learn
from companion.sound.listening.verdicts import NOT_SURE, RIGHT, WRONG, Awaited

BLOCK = RATE // 50


@pytest.fixture(scope="module")
def piano():
    return learn(scale())


def strike(at_s, *notes, roll_s=0.0, held_s=0.5):
    return [(at_s + roll_s * place, note, held_s) for place, note in enumerate(notes)]


def heard(piano, keys, shells, lost=(0.0, 0.0), **about):
    """What was told, where each shell is waited for once the one before it was found: (number, kind, notes, onset)."""
    ear, waits = WaitingEar(piano), [Awaited(number, notes, **about) for number, notes in enumerate(shells)]
    sound = played(keys, max(at_s for at_s, _, _ in keys) + 1.5)
    ear.wait_for(waits.pop(0))
    said = []
    for at in range(0, len(sound), BLOCK):
        if lost[0] <= at / RATE < lost[1]:
            continue
        for verdict in ear.hear(sound[at : at + BLOCK], at / RATE):
            said.append(
                (verdict.number, verdict.kind, tuple(note.midi for note in verdict.notes), round(verdict.onset_s, 3))
            )
            if verdict.kind == RIGHT:
                ear.wait_for(waits.pop(0) if waits else None)
    return said


def told(said):
    return [row[:3] for row in said]


def test_a_shell_is_found_whenever_it_comes(piano):
    keys = [*strike(1.0, 46, 56), *strike(1.6, 51, 55, roll_s=0.05), *strike(5.1, 44, 54)]
    said = heard(piano, keys, [(46, 56), (51, 55), (44, 54)])
    assert told(said) == [(0, RIGHT, (46, 56)), (1, RIGHT, (51, 55)), (2, RIGHT, (44, 54))]
    assert [onset_s for *_, onset_s in said] == pytest.approx([1.0, 1.6, 5.1], abs=0.01)


def test_another_thing_is_named_and_it_goes_on_waiting(piano):
    keys = [*strike(1.0, 46, 57), *strike(2.0, 46), *strike(3.0, 58, 68), *strike(4.5, 46, 56)]
    said = told(heard(piano, keys, [(46, 56)]))
    assert said == [(0, WRONG, (46, 57)), (0, WRONG, (46,)), (0, WRONG, (58, 68)), (0, RIGHT, (46, 56))]


def test_the_shell_before_struck_on_is_told_as_that_and_the_same_one_must_be_struck_anew(piano):
    keys = [*strike(1.0, 46, 56), *strike(1.5, 46, 56), *strike(2.5, 51, 55), *strike(4.0, 51, 55)]
    said = heard(piano, keys, [(46, 56), (51, 55), (51, 55)])
    assert told(said) == [(0, RIGHT, (46, 56)), (1, WRONG, (46, 56)), (1, RIGHT, (51, 55)), (2, RIGHT, (51, 55))]


def test_a_note_may_be_held_over_and_the_notes_may_come_one_by_one(piano):
    keys = [*strike(1.0, 48, 52, held_s=1.1), *strike(1.9, 57), *strike(3.0, 46, held_s=1.0), *strike(3.4, 56)]
    said = told(heard(piano, keys, [(48, 52), (48, 57), (46, 56)]))
    assert said == [(0, RIGHT, (48, 52)), (1, RIGHT, (48, 57)), (2, WRONG, (46,)), (2, RIGHT, (46, 56))]
    let_go = [*strike(1.0, 48, 52, held_s=0.2), *strike(3.5, 57)]
    assert told(heard(piano, let_go, [(48, 52), (48, 57)])) == [(0, RIGHT, (48, 52)), (1, WRONG, (57,))]


def test_what_the_right_hand_plays_above_is_left_alone(piano):
    keys = [*strike(1.0, 46, 56, 74), *strike(1.7, 75), *strike(2.4, 51, 55), *strike(3.2, 70)]
    for also in ((70, 74, 75), ()):
        said = told(heard(piano, keys, [(46, 56), (51, 55), (44, 54)], also=also, ceiling=61))
        assert [row for row in said if row[1] == RIGHT] == [(0, RIGHT, (46, 56)), (1, RIGHT, (51, 55))]
        assert all(row[1] == RIGHT or not row[2] for row in said)


def test_silence_says_nothing_and_where_sound_was_lost_nothing_is_judged(piano):
    assert heard(piano, strike(1.0, 46, 56), [(44, 54)], from_s=2.0) == []
    keys = [*strike(1.0, 46, 56), *strike(3.0, 46, 56)]
    (verdict,) = heard(piano, keys, [(46, 56)], lost=(0.9, 1.1))
    assert verdict[1] == RIGHT and verdict[3] == pytest.approx(3.0, abs=0.01)


def test_a_new_wish_takes_the_place_of_the_old_and_none_says_nothing(piano):
    ear = WaitingEar(piano)
    sound = played([*strike(1.0, 46, 56), *strike(2.5, 51, 55)], 4.0)
    said = []
    for at in range(0, len(sound), BLOCK):
        if at == BLOCK * 25:
            ear.wait_for(Awaited(1, (46, 56)))
            ear.wait_for(Awaited(2, (51, 55)))
        if at == BLOCK * 75:
            ear.wait_for(None)
        said += ear.hear(sound[at : at + BLOCK], at / RATE)
    assert [(verdict.number, verdict.kind) for verdict in said] in ([(2, WRONG)], [(2, NOT_SURE)])
