import random
from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from practice.players import expected_of, play, play_with_slips
from strategies import arrangements

from companion.practice.marking.expected import expected_strikes, steady_starts
from companion.practice.marking.marks import mark_pass
from companion.practice.marking.matching import clean_presses
from companion.practice.marking.timing import timing_words
from companion.practice.model import VERDICTS, Expected, Group, Press

FIRST = Group(0, 0, 0)


def one(*presses, options=((50, 53), (62, 72))):
    """A strike of D3 and C4 due at 1 s, with the presses given as (ms, note)."""
    strike = Expected("left", FIRST, (50, 60), 1.0, options=options)
    return mark_pass([strike], [Press(1.0 + ms / 1000.0, note) for ms, note in presses])


# --- one strike


@pytest.mark.parametrize(
    ("presses", "verdict", "offset_ms"),
    [
        ([(0, 50), (0, 60)], "right", 0),
        ([(-20, 50), (-20, 60)], "right", -20),
        ([(84, 50), (84, 60)], "late", 84),
        ([(-90, 50), (-84, 60)], "early", -87),
        ([(0, 50), (40, 60)], "right", 20),  # a rolled pair
        (
            [(0, 50), (1, 60)],
            "right",
            0.5,
        ),  # one MIDI cable carries a note in about a millisecond (facts of the MIDI wire)
        ([(0, 50)], "missing", None),
        ([], "missing", None),
        ([(0, 50), (0, 61)], "wrong", None),
        ([(190, 50), (200, 60)], "late", 195),
        ([(370, 50), (374, 60)], "late", 372),  # a chord up to three quarters of a beat off is meant, its notes say so
        ([(-374, 50), (-370, 60)], "early", -372),
        ([(376, 50), (376, 60)], "missing", None),
        ([(300, 51), (300, 61)], "missing", None),
    ],
)
def test_a_strike_by_hand(presses, verdict, offset_ms):
    mark = one(*presses).chords[0]
    assert mark.verdict == verdict
    assert mark.offset_ms == (None if offset_ms is None else pytest.approx(offset_ms))


@pytest.mark.parametrize(
    ("note", "kind"),
    [
        (53, "other shell"),  # the third instead of the seventh
        (59, "neighbour"),
        (62, "other shell"),  # also a neighbour; that it is a shell's note tells more
        (72, "wrong octave"),  # also in another shell; that it is the same note tells more
        (48, "wrong octave"),
        (55, "other"),
    ],
)
def test_what_a_wrong_note_was(note, kind):
    marks = one((0, 50), (5, note))
    (wrong,) = marks.chords[0].strikes[0].wrong
    assert (wrong.note, wrong.instead_of, wrong.kind) == (note, 60, kind)
    assert not marks.extra


def test_two_wrong_notes_are_paired_by_what_they_tell():
    (mark,) = one((0, 59), (0, 62), options=()).chords
    assert {(wrong.note, wrong.instead_of) for wrong in mark.strikes[0].wrong} == {(62, 50), (59, 60)}
    (mark,) = one((0, 51), (0, 61), options=()).chords
    assert {(wrong.note, wrong.instead_of) for wrong in mark.strikes[0].wrong} == {(51, 50), (61, 60)}


def test_other_keys_are_extra():
    marks = one((0, 50), (0, 60), (10, 64), (-700, 50), (100, 60))
    assert [press.note for press in marks.extra] == [50, 64, 60]
    assert marks.chords[0].is_right and marks.figures.extra == 3


def test_the_nearest_of_two_is_taken():
    marks = one((0, 50), (-90, 60), (10, 60))
    assert marks.chords[0].is_right and [round(press.time_s, 3) for press in marks.extra] == [0.91]


def test_note_offs_and_doubled_presses_are_no_strikes():
    presses = [Press(1.0, 50), Press(1.0, 60), Press(1.004, 60), Press(1.02, 50), Press(1.1, 50, 0), Press(0.9, 60, 0)]
    assert [(press.time_s, press.note) for press in clean_presses(presses)] == [(1.0, 50), (1.0, 60)]
    marks = mark_pass([Expected("left", FIRST, (50, 60), 1.0)], presses)
    assert marks.chords[0].is_right and not marks.extra


# --- chords of several strikes


def four_strikes(*slips):
    """Dm7 four to the bar. slips: per strike "ok", "late", "gone", "half", "wrong"."""
    presses = []
    for strike, slip in zip(expected_of("Dm7"), slips, strict=True):
        off_s = 0.09 if slip == "late" else 0.0
        if slip != "gone":
            presses.append(Press(strike.due_s + off_s, strike.notes[0]))
        if slip not in ("gone", "half"):
            presses.append(Press(strike.due_s + off_s, strike.notes[1] + (slip == "wrong")))
    return mark_pass(expected_of("Dm7"), presses).chords[0]


@pytest.mark.parametrize(
    ("slips", "verdict", "offset_ms"),
    [
        (("ok", "ok", "ok", "ok"), "right", 0),
        (("ok", "ok", "gone", "ok"), "missing", 0),
        (("ok", "wrong", "ok", "ok"), "wrong", 0),
        (("ok", "ok", "half", "ok"), "missing", 0),
        (("ok", "ok", "late", "ok"), "late", 90),
        (("ok", "gone", "gone", "gone"), "missing", 0),
        (("ok", "late", "late", "ok"), "late", 90),
        (("ok", "wrong", "gone", "wrong"), "wrong", 0),
        (("late", "ok", "ok", "ok"), "late", 90),
        (("wrong", "ok", "ok", "ok"), "wrong", 500),
        (("gone", "ok", "ok", "ok"), "late", 500),  # a beat late
        (("half", "ok", "ok", "ok"), "late", 500),
        (("half", "half", "half", "half"), "missing", None),
        (("gone", "gone", "gone", "gone"), "missing", None),
        (("gone", "wrong", "gone", "gone"), "missing", None),
        (("gone", "wrong", "wrong", "gone"), "wrong", None),
        (("wrong", "gone", "gone", "gone"), "wrong", None),
    ],
)
def test_a_chord_from_its_strikes(slips, verdict, offset_ms):
    mark = four_strikes(*slips)
    assert mark.verdict == verdict
    assert mark.offset_ms == (None if offset_ms is None else pytest.approx(offset_ms, abs=1e-6))


# --- properties


# A chord may come in a twelfth of a pulse after a stroke (9/8 shared by four chords). At 180 a minute these are 28 ms, above the 25 ms
# within which the same key is one press; faster, a perfect player's second stroke would be taken for a worn contact.
@given(arrangements(), st.floats(40, 180), st.floats(0, 1e5))
@settings(deadline=None)
def test_a_perfect_performance_gets_full_marks(arrangement, tempo_bpm, start_s):
    expected = expected_strikes(arrangement, steady_starts(arrangement, start_s, tempo_bpm))
    marks = mark_pass(expected, play(expected))
    assert all(chord.is_right for chord in marks.chords) and not marks.extra
    assert sum(len(chord.strikes) for chord in marks.chords) == len(expected)
    assert marks.figures.share_right == 1.0 and marks.figures.offset_ms in (None, pytest.approx(0.0, abs=1e-6))


@given(arrangements(), st.floats(40, 320))
@settings(deadline=None)
def test_silence_is_all_missing(arrangement, tempo_bpm):
    expected = expected_strikes(arrangement, steady_starts(arrangement, 0.0, tempo_bpm))
    marks = mark_pass(expected, [])
    assert {chord.verdict for chord in marks.chords} <= {"missing"}
    assert marks.figures.missing == marks.figures.chords == len(marks.chords)
    assert marks.figures.offset_ms is marks.figures.spread_ms is marks.figures.evenness_ms is None
    assert timing_words(marks.figures, 60.0 / tempo_bpm) == ""


@given(st.integers(0, 2**32), st.floats(-25, 25))
def test_a_constant_shift_moves_the_mean_only(seed, shift_ms):
    expected = expected_of("Dm7 G7 | Cmaj7 | A7 | Dm7")
    presses = play(expected, random.Random(seed), 0.0, 5.0, together=False)
    marks = mark_pass(expected, presses)
    moved = mark_pass(expected, [replace(press, time_s=press.time_s + shift_ms / 1000.0) for press in presses])
    assert moved.figures.offset_ms == pytest.approx(marks.figures.offset_ms + shift_ms, abs=1e-6)
    assert moved.figures.spread_ms == pytest.approx(marks.figures.spread_ms, abs=1e-6)
    assert moved.figures.evenness_ms == pytest.approx(marks.figures.evenness_ms, abs=1e-6)
    assert [chord.verdict for chord in moved.chords] == [chord.verdict for chord in marks.chords]


@given(arrangements(), st.floats(60, 240), st.integers(0, 2**32))
@settings(deadline=None)
def test_every_press_is_taken_once(arrangement, tempo_bpm, seed):
    expected = expected_strikes(arrangement, steady_starts(arrangement, 0.0, tempo_bpm))
    if not expected:
        return
    presses = clean_presses(play_with_slips(expected, random.Random(seed)))
    marks = mark_pass(expected, presses)
    taken = [note for chord in marks.chords for strike in chord.strikes for note in strike.played]
    assert Counter(taken) + Counter(press.note for press in marks.extra) == Counter(press.note for press in presses)
    for strike in (strike for chord in marks.chords for strike in chord.strikes):
        assert len(strike.note_offsets_ms) + len(strike.wrong) + len(strike.missing) == len(strike.expected.notes)
        assert strike.verdict in VERDICTS
