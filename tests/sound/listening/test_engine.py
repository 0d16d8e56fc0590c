"""The listener on a piano worked out from the physics of its strings (strings_made.py): what was played is known."""

from __future__ import annotations

import numpy as np
import pytest
from strings_made import RATE, played, scale

from companion.sound.listening.decompose import FEATURES
from companion.sound.listening.engine import Due, Listener
from companion.sound.listening.judge import odds
from companion.sound.listening.scale import learn
from companion.sound.listening.verdicts import MISSING, NOT_SURE, RIGHT, WRONG

# Shells of a chain of falling fifths, as a left hand plays them.
DUE = [(46, 56), (51, 55), (44, 54), (49, 53), (43, 53), (48, 52), (41, 51), (46, 50)]
STEP_S, FIRST_S = 0.6, 1.0


@pytest.fixture(scope="module")
def piano():
    return learn(scale())


def keys_of(number, notes, off_s=0.0, roll_s=0.0, held_s=0.4):
    return [(FIRST_S + STEP_S * number + off_s + roll_s * place, note, held_s) for place, note in enumerate(notes)]


def dues(count=8):
    return [Due(number, FIRST_S + STEP_S * number, DUE[number]) for number in range(count)]


def heard(piano, sound, expected, block=1600, lost=()):
    """Verdicts by number. lost: numbers of blocks that never come."""
    listener = Listener(piano)
    listener.expect(expected)
    said = []
    for number, at in enumerate(range(0, len(sound), block)):
        if number not in lost:
            said += listener.hear(sound[at : at + block], at / RATE)
    assert len({verdict.due.index for verdict in said}) == len(said)
    return {verdict.due.index: verdict for verdict in said}


def test_what_was_due_is_right_and_the_second_it_came_is_told(piano):
    offs_s = [0.0, 0.03, -0.03, 0.06, -0.06, 0.1, -0.1, 0.015]
    rolls_s = [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.055, 0.055]
    keys = [key for number, notes in enumerate(DUE) for key in keys_of(number, notes, offs_s[number], rolls_s[number])]
    said = heard(piano, played(keys, 7.0), dues())
    assert [said[number].kind for number in range(len(DUE))] == [RIGHT] * len(DUE)
    for number, off_s in enumerate(offs_s):
        assert said[number].onset_s == pytest.approx(FIRST_S + STEP_S * number + off_s, abs=0.010)
        assert [note.midi for note in said[number].notes] == list(DUE[number])


# Each in the place of (49, 53), the second of each row of three: what came instead, and what must not be said of it.
SLIPS = [
    ((49, 57), {WRONG}),  # a third off
    ((49, 54), {WRONG}),  # a semitone
    ((44, 54), {WRONG}),  # the chord before
    ((49,), {WRONG, NOT_SURE}),  # one note alone
    ((61, 65), {WRONG, NOT_SURE}),  # an octave higher
    ((), {MISSING}),
]


def test_a_slip_is_never_right_and_its_neighbours_stay_right(piano):
    row, keys, expected = 3, [], []
    for place, (instead, _) in enumerate(SLIPS):
        for number in range(row):
            at = row * place + number
            keys += keys_of(at, instead if number == 1 else DUE[number + 2])
            expected.append(Due(at, FIRST_S + STEP_S * at, DUE[number + 2]))
    said = heard(piano, played(keys, 2.0 + STEP_S * len(expected)), expected)
    for place, (instead, kinds) in enumerate(SLIPS):
        slip = said.pop(row * place + 1)
        assert slip.kind in kinds, instead
        if slip.kind == WRONG:
            assert {note.midi for note in slip.notes} == set(instead)
    assert {verdict.kind for verdict in said.values()} == {RIGHT}


def test_blocks_of_any_length_come_to_the_same(piano):
    keys = [key for number, notes in enumerate(DUE[:2]) for key in keys_of(number, notes)]
    sound = played(keys, 2.5)
    small, large = heard(piano, sound, dues(2), 160), heard(piano, sound, dues(2), 8000)
    assert [small[number].kind for number in range(2)] == [large[number].kind for number in range(2)]
    assert [small[n].onset_s for n in range(2)] == pytest.approx([large[n].onset_s for n in range(2)], abs=1e-3)


def test_what_was_lost_on_the_way_is_not_held_against_the_player(piano):
    keys = [key for number, notes in enumerate(DUE[:4]) for key in keys_of(number, notes)]
    # The tenth of a second in which the second strike came.
    said = heard(piano, played(keys, 4.5), dues(4), lost={15, 16, 17})
    assert said[1].kind == NOT_SURE
    assert [said[number].kind for number in (0, 2, 3)] == [RIGHT] * 3
    assert said[2].onset_s == pytest.approx(FIRST_S + 2 * STEP_S, abs=0.010)


def test_silence_is_missing_and_a_knock_is_never_right(piano):
    rng = np.random.default_rng(8)
    sound = rng.normal(0, 1e-4, int(3.5 * RATE)).astype(np.float32)
    knock = (0.3 * rng.normal(0, 1, 800) * np.exp(-np.arange(800) / 150.0)).astype(np.float32)
    start = int((FIRST_S + STEP_S) * RATE)
    sound[start : start + 800] += knock
    said = heard(piano, sound, dues(3))
    assert said[0].kind == said[2].kind == MISSING
    assert said[1].kind != RIGHT


def test_nothing_is_said_of_what_was_called_off(piano):
    listener = Listener(piano)
    listener.expect(dues(3))
    listener.forget()
    assert not [verdict for at in range(3) for verdict in listener.hear(np.zeros(RATE, dtype=np.float32), float(at))]


def test_another_rate_is_refused(piano):
    with pytest.raises(ValueError, match="expected 16000"):
        Listener(piano, rate=48000)


def test_the_weights_fit_the_figures_they_are_for():
    for name, count in (("note", len(FEATURES)), ("strike", 9), ("struck", 9)):
        table = odds(name)
        assert len(table.mean) == len(table.scale) == count
        assert len(table.weights) == 1 + count + count * (count + 1) // 2


def test_a_note_of_the_melody_is_named_where_it_came_and_another_only_where_that_is_sure(piano):
    melody = [69, 72, 74]  # the second time another comes, the third time none
    keys = [key for number, notes in enumerate(DUE[:3]) for key in keys_of(number, notes)]
    keys += [(FIRST_S, 69, 0.4), (FIRST_S + STEP_S, 71, 0.4)]
    expected = [Due(due.index, due.time_s, due.notes, (note,)) for due, note in zip(dues(3), melody)]
    said = heard(piano, played(keys, 3.5), expected)
    assert [said[number].kind for number in range(3)] == [RIGHT] * 3
    above = [[note.midi for note in said[number].notes if note.midi > 60] for number in range(3)]
    assert above[0] == [69] and above[1] in ([], [71]) and above[2] == []
    # The same where nothing is known of the melody: what comes above is no sign against the left hand.
    assert WRONG not in {verdict.kind for verdict in heard(piano, played(keys, 3.5), dues(3)).values()}
