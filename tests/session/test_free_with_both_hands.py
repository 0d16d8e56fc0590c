"""Free time with the right hand, and with both: each chord and note is waited for, and how the hands lie is told."""

from __future__ import annotations

from dataclasses import replace

import pytest
from desk import put
from free_keys import Keys
from session_songs import SUNG_FOUR


@pytest.fixture
def sung(settings):
    return put(SUNG_FOUR, settings)


def test_both_hands_are_lined_up_chord_by_chord_then_bar_by_bar_and_that_is_kept(sung, log) -> None:
    keys = Keys(sung.with_hands("both"), log)
    assert keys.free.say.startswith("Chord by chord")
    for _ in range(4):
        assert len(keys.free.target.left) == 2 and len(keys.free.target.right) == 1
        keys.find()
    assert keys.free.say.startswith("Bar by bar now") and keys.free.stage == "bars"
    (record,) = log.passes()
    assert (record.hands, record.kind, record.share_right, record.clean) == ("both", "free", 1.0, False)
    again = Keys(sung.with_hands("both"), log)
    assert again.free.stage == "bars"
    for _ in range(11):
        again.find()
    assert log.passes()[1].clean and len(log.passes()[1].chords) == 11
    assert again.free.result.lines[0] == "11 of 11 strokes found at once."


def test_how_the_hands_lie_is_told_after_a_time_round(sung, log) -> None:
    keys = Keys(sung.with_hands("both"), log)
    for _ in range(4):
        keys.wait(1.0)
        target = keys.free.target
        keys.down(*target.right)
        keys.wait(0.08)
        keys.down(*target.left)
        keys.up(*target.notes)
    assert "Together within 80 ms as a rule, the melody first." in keys.free.result.lines


def test_the_melody_is_waited_for_note_by_note_in_the_octave_it_is_begun_in(sung, log) -> None:
    keys = Keys(sung.with_hands("right"), log)
    notes = [target.right[0] for target in keys.free._waiting.targets]
    for note in notes:
        keys.wait(1.0)
        keys.down(note + 12)
        keys.up(note + 12)
    assert log.passes()[0].share_right == 1.0 and keys.free.say == "The melody higher than written: taken there."


def test_a_wrong_key_of_each_hand_gets_its_own_answer(sung, log) -> None:
    keys = Keys(sung.with_hands("both"), log)
    target = keys.free.target
    keys.down(target.right[0] + 2)
    assert keys.free.answer == "G: the melody has F."
    keys.up(target.right[0] + 2)
    keys.down(target.left[0] + 1)
    assert keys.free.answer.startswith("G♭: the root is F".replace("♭", "b")) or "root is F" in keys.free.answer


def test_a_chord_in_the_right_hand_is_waited_for_whole(sung, log) -> None:
    """Its missing notes are named as it is let go, wrong ones at once by the note that they lie nearest to."""
    with_voices = sung.with_hands("both")
    keys = Keys(with_voices.change(arranged=replace(with_voices.arranged, voices=3)), log)
    target = keys.free.target
    *inner, melody = target.right
    assert len(inner) == 2
    keys.down(*target.left, melody)
    keys.up(melody)
    assert keys.found == () and keys.free.answer.startswith("The right hand's chord has ")
    keys.down(inner[1] + 1)
    assert "under the melody lies" in keys.free.answer
    keys.up(inner[1] + 1)
    keys.down(melody + 1)
    assert "the melody has" in keys.free.answer
    keys.up(melody + 1)
    keys.wait(1.0)  # else they were graces
    keys.down(*target.right)
    assert keys.found[0].extra == (inner[1] + 1, melody + 1)


def test_a_chord_an_octave_higher_is_taken_there(sung, log) -> None:
    with_voices = sung.with_hands("both")
    keys = Keys(with_voices.change(arranged=replace(with_voices.arranged, voices=3)), log)
    target = keys.free.target
    keys.down(*target.left, *(note + 12 for note in target.right))
    assert keys.found[0].extra == () and "higher than written" in keys.free.say
