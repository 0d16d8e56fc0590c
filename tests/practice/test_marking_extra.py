"""Marking what nobody asked for: the other hand, keys below and among the chord, a single stray key."""

import pytest
from groove.loops import arrange
from practice.players import play

from companion.practice.marking.expected import expected_strikes, steady_starts
from companion.practice.marking.marks import mark_pass
from companion.practice.model import Expected, Group, Press
from companion.session.outcome import heard

FIRST = Group(0, 0, 0)


def expected_of(line, tempo_bpm=120.0, **fields):
    arrangement = arrange(line, **fields)
    return expected_strikes(arrangement, steady_starts(arrangement, 10.0, tempo_bpm))


# --- the other hand, and keys that nobody asked for

CEILING = 65  # a fourth above C4


def marked(*presses, notes=(50, 60)):
    strike = Expected("left", FIRST, notes, 1.0)
    return mark_pass([strike], [Press(1.0 + ms / 1000.0, note) for ms, note in presses], ceiling=CEILING)


def test_what_lies_above_the_left_hand_is_left_out():
    marks = marked((0, 50), (0, 60), (0, 72), (10, 76), (400, 79))
    assert marks.chords[0].verdict == "right" and not marks.extra and marks.is_heard
    alone = marked((0, 72), (10, 76), (400, 79))
    assert alone.chords[0].verdict == "missing" and not alone.extra and not alone.is_heard


def test_but_the_due_chord_an_octave_higher_is_the_left_hand():
    marks = marked((0, 62), (5, 72))
    assert [wrong.kind for wrong in marks.chords[0].strikes[0].wrong] == ["wrong octave"] * 2
    doubled = marked((0, 50), (0, 60), (0, 62), (0, 72))  # 62 lies among the left hand's keys, 72 is the right hand's
    assert doubled.chords[0].verdict == "right" and [key.note for key in doubled.extra] == [62]


def test_keys_below_and_among_the_chord_are_counted_where_they_were_struck():
    expected = expected_of("Dm7 | G7 | Cmaj7", pattern="whole")  # due at 10, 12 and 14 s
    keys = [Press(10.9, 40), Press(11.7, 55), Press(13.0, 61), Press(13.9, 64)]
    marks = mark_pass(expected, [*play(expected), *keys], ceiling=CEILING)
    assert [(key.note, key.index) for key in marks.extra] == [(40, 0), (55, 0), (61, 1), (64, 2)]
    assert marks.slipped_bars() == {0}  # two keys for one strike
    fewer = mark_pass(expected, [*play(expected), *keys[1:]], ceiling=CEILING)
    assert not fewer.slipped_bars() and fewer.figures.extra == 3


def test_one_smash_is_one_wrong_strike_however_many_keys_it_has():
    """All its keys are counted, in their bar, but a drill takes the pass for what its other chords are."""
    expected = expected_of("Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Cmaj7 | A7", pattern="whole")
    smash = [Press(expected[2].due_s, note) for note in range(40, 60) if note not in expected[2].notes]
    marks = mark_pass(expected, [*play(expected), *smash])
    assert [chord.reason for chord in marks.chords if not chord.is_right] == ["smash"]
    assert {key.index for key in marks.extra} == {2} and len(marks.extra) == len(smash)
    assert heard(marks).drill_share == marks.figures.share_right == 7 / 8


@pytest.mark.parametrize(("stray", "is_heard"), [([], False), ([40], False), ([40, 41], True), ([50], True)])
def test_one_stray_key_is_no_pass(stray, is_heard):
    expected = expected_of("Dm7 | G7", pattern="two")
    assert mark_pass(expected, [Press(10.0, note) for note in stray], ceiling=CEILING).is_heard == is_heard
