import random

import pytest
from groove.loops import arrange
from practice.players import play

from companion.practice.marking.expected import expected_strikes, steady_starts
from companion.practice.marking.marks import mark_pass
from companion.practice.marking.summary import (
    ChangeCost,
    HeardChord,
    heard_chords,
    logged_chords,
    offset_words,
    pass_lines,
    weakest_changes,
)
from companion.practice.marking.teacher import why_not_clean
from companion.practice.model import (
    ChordMark,
    Expected,
    ExtraKey,
    Figures,
    Group,
    PassMarks,
    Press,
    StrikeMark,
)


def heard(line):
    """ "D7 Gm7:late:84": symbol, verdict (right without), offset."""
    chords = []
    for word in line.split():
        symbol, verdict, offset = [*word.split(":"), "", ""][:3]
        chords.append(HeardChord(symbol, verdict or "right", float(offset) if offset else None))
    return chords


def test_the_weakest_change_in_words():
    passes = [heard(f"D7 Gm7:{slip} Cm7") for slip in ("late:80", "late:84", "right", "late:120", "right")]
    (cost,) = weakest_changes(passes)
    assert cost == ChangeCost("D7", "Gm7", 5, 3, "late", 84.0)
    assert cost.words == "D7 to Gm7: late by 84 ms, 3 of 5"


def test_changes_are_ranked_by_how_surely_they_slip():
    often = [heard("D7 Gm7:late:60")] * 3 + [heard("D7 Gm7")] * 2
    once = [heard("Am7 Ab7:wrong")]
    always = [heard("F7 Bb6:missing")] * 4
    assert [cost.after for cost in weakest_changes(often + once + always)] == ["Bb6", "Gm7", "Ab7"]
    assert len(weakest_changes(often + once + always, 2)) == 2


def test_the_worst_slip_names_a_tie_and_the_same_chord_is_no_change():
    (cost,) = weakest_changes([heard("C6 F6:late:70 F6:wrong"), heard("C6 F6:wrong F6")])
    assert (cost.words, cost.tries) == ("C6 to F6: wrong note, 2 of 2", 2)


def test_the_loop_closes_on_itself():
    (cost,) = weakest_changes([heard("Dm7:early:-70 G7")])
    assert cost.words == "G7 to Dm7: early by 70 ms, 1 of 1"
    assert weakest_changes([]) == weakest_changes([[]]) == weakest_changes([heard("C6:wrong")]) == []


def test_the_log_and_the_marks_read_alike():
    arrangement = arrange("Dm7 | G7")
    expected = expected_strikes(arrangement, steady_starts(arrangement, 0.0, 120))
    marks = mark_pass(expected, play(expected)).chords
    rows = [
        {"symbol": name, "verdict": mark.verdict, "offset_ms": mark.offset_ms}
        for name, mark in zip(("Dm7", "G7"), marks)
    ]
    assert heard_chords(marks, {(0, 0): "Dm7", (1, 0): "G7"}) == logged_chords(rows)


def test_a_pass_in_plain_words():
    arrangement = arrange("Dm7 | G7 | Cmaj7 | A7")
    expected = expected_strikes(arrangement, steady_starts(arrangement, 0.0, 120))
    presses = play(expected, random.Random(4), 40, 12)
    presses = [press for press in presses if not 2.0 - 0.2 < press.time_s < 4.0 - 0.2] + [Press(3.25, 70)]
    lines = pass_lines(mark_pass(expected, presses), 0.5, [ChangeCost("Dm7", "G7", 1, 1, "missing")])
    assert lines[0] == "3 of 4 chords right (75 %): 1 missing, 1 extra key."
    assert "late" in lines[1] and "behind the beat on average" in lines[1] and "spread" in lines[1]
    assert lines[-2:] == ("Costliest changes:", "  Dm7 to G7: missing, 1 of 1")
    assert pass_lines(mark_pass(expected, []), 0.5)[-1] == "None of the notes that were due was heard."
    assert pass_lines(mark_pass([], []), 0.5) == ("0 of 0 chords right (100 %).",)


@pytest.mark.parametrize(
    ("offset_ms", "words"),
    [
        (-12.3, "12 ms ahead of the beat on average"),
        (8, "8 ms behind the beat on average"),
        (0.2, "on the beat on average"),
    ],
)
def test_pushing_and_dragging(offset_ms, words):
    assert offset_words(offset_ms) == words


def strike_mark(number, disturbed):
    strike = Expected("left", Group(0, 0, 0), (50, 60), float(number), number)
    return StrikeMark(strike, "missing" if disturbed else "right", 0.0, (50, 60), missing=(60,) if disturbed else ())


def marks_of(strikes, disturbed, extra=()):
    """disturbed: how many of the first strikes; extra: seconds of further keys, a strike a second."""
    marks = tuple(strike_mark(number, number < disturbed) for number in range(strikes))
    keys = tuple(ExtraKey(time_s, 40, 0) for time_s in extra)
    return PassMarks((ChordMark(0, 0, "right", 0.0, marks),), keys, Figures(1, 1, 0, len(extra), 0.0, 0.0, None))


@pytest.mark.parametrize(
    ("strikes", "disturbed", "extra", "words"),
    [
        (16, 4, (), None),
        (16, 5, (), "5 of 16"),
        (16, 3, (0.1, 1.4, 6.6, 6.9, 7.2), None),  # at two strikes that are disturbed anyhow, and round one more
        (16, 3, (8.4, 8.6), "5 of 16"),
        (16, 0, (3.0,) * 20, None),  # one smash
        (3, 0, (0.4,), "1 of 3"),
    ],
)
def test_why_a_disturbed_pass_is_not_clean(strikes, disturbed, extra, words):
    marks = marks_of(strikes, disturbed, extra)
    sentence = f"Not a clean pass: {words} strikes had a wrong, missing or further key, more than one in four."
    assert why_not_clean(marks) == (sentence if words else "") and bool(words) == marks.is_disturbed


def test_a_change_far_off_is_told_in_beats_where_the_tempo_is_known():
    """As its chord is: 216 ms at 120 a minute is a push, and the log of many tempos has milliseconds."""
    passes = [heard("Dm7 G7:early:-216")]
    assert [cost.words for cost in weakest_changes(passes, beat_s=0.5)] == ["Dm7 to G7: half a beat early, 1 of 1"]
    assert [cost.words for cost in weakest_changes(passes)] == ["Dm7 to G7: early by 216 ms, 1 of 1"]
