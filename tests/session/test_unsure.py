"""What was not surely heard of the melody in a recording counts for nothing."""

from __future__ import annotations

from dataclasses import replace

from companion.practice.marking.marks import figures_of
from companion.practice.marking.playthrough import Pass
from companion.practice.model import ChordMark, Expected, ExtraKey, Group, PassMarks, StrikeMark, WrongNote
from companion.session.unsure import melody_where_sure


def note(due_s, verdict, played=()):
    strike = StrikeMark(Expected("right", Group(0, 0, 0), (72,), due_s), verdict, None, tuple(played))
    strike = replace(strike, wrong=tuple(WrongNote(other, 72, "semitone") for other in played if other != 72))
    return ChordMark(0, 0, verdict, None, (strike,), "right")


def test_a_note_of_the_melody_is_held_against_the_player_only_where_another_was_surely_heard():
    chords = (note(1.0, "right", (72,)), note(2.0, "missing"), note(3.0, "wrong", (73,)), note(4.0, "wrong", (71,)))
    extra = (ExtraKey(3.5, 76, 0, "right"), ExtraKey(4.5, 77, 0, "right"), ExtraKey(4.6, 40, 0, "left"))
    heard = Pass(1, 0.0, True, PassMarks(chords, extra, figures_of(chords, 3)), ())
    (kept,), gone = melody_where_sure([heard], {(3.02, 73), (4.5, 77), (4.6, 40)})
    assert [mark.strikes[0].expected.due_s for mark in kept.marks.chords] == [1.0, 3.0]
    assert [(number, mark.strikes[0].expected.due_s, mark.verdict) for number, mark in gone] == [
        (0, 2.0, "not sure"),
        (0, 4.0, "not sure"),
    ]
    assert [key.note for key in kept.marks.extra] == [77, 40]
    assert (kept.marks.figures.chords, kept.marks.figures.missing, kept.marks.figures.extra) == (2, 0, 2)
