"""Lessons: what a chart file may say of them, and what is said of one at fault."""

from __future__ import annotations

from dataclasses import replace

import pytest
from chart_strategies import lessons, songs
from hypothesis import given
from hypothesis import strategies as st

from companion.chart.lesson import STEP_PATTERNS, Lesson, Step
from companion.chart.reader import parse_chart
from companion.chart.transpose import transpose
from companion.chart.writer import write_chart
from companion.errors import ChartError
from companion.groove.names import PATTERN_NAMES

HEAD = """title = "A Tune"
key = "Bb"
meter = "4/4"
tempo = 126
form = "A B A"
[section.A]
bars = "Bb6 | G7 | Cm7 F7 | %"
[section.B]
bars = "Ebmaj7 | N.C."
"""
LESSON = '''
[lesson]
note = """
Left hand alone.
No pedal."""

[lesson.notes]
A = "Say the roots first."
"B.2" = "Silence is part of it."

[[lesson.step]]
section = "A"
pattern = "whole"
tempo = "free"
note = "Find the notes."

[[lesson.step]]
hands = "both"
cues = false
passes = 5
'''


def read(lesson: str) -> Lesson:
    return parse_chart(HEAD + lesson).lesson


def faults(lesson: str) -> list[tuple[int, str]]:
    with pytest.raises(ChartError) as caught:
        parse_chart(HEAD + lesson, path="tune.toml")
    return [(fault.line, fault.message) for fault in caught.value.faults]


def test_a_whole_lesson():
    assert read(LESSON) == Lesson(
        note="Left hand alone.\nNo pedal.",
        section_notes={"A": "Say the roots first."},
        bar_notes={("B", 2): "Silence is part of it."},
        steps=(
            Step("A", "left", "whole", None, True, 3, "Find the notes."),
            Step("", "both", "four", 126.0, False, 5, ""),
        ),
    )
    assert [step.line for step in read(LESSON).steps] == [20, 26]
    assert parse_chart(HEAD).lesson is None
    assert read("[lesson]") == Lesson()


def test_notes_stand_at_their_bars():
    lesson = read('[lesson.notes]\nA = "for A"\nB.1 = "one"\nB.2 = "two"')
    assert lesson.notes_at("A", 1) == ("for A",)
    assert lesson.notes_at("A", 2) == ()
    assert (lesson.notes_at("B", 1), lesson.notes_at("B", 2)) == (("one",), ("two",))
    assert read('[lesson.notes]\nA = "a"\n"A.1" = "b"').notes_at("A", 1) == ("a", "b")


def test_steps_name_the_rhythms_that_the_groove_knows():
    assert set(STEP_PATTERNS) == set(PATTERN_NAMES)
    assert STEP_PATTERNS[0] == "four"


STEP = "[[lesson.step]]\n"


@pytest.mark.parametrize(
    ("lesson", "line", "message"),
    [
        ("[lesson]\nnotee = 'x'", 11, "'notee' is not a key of a lesson; did you mean note?"),
        ("[lesson]\nnote = 3", 11, "note is 3; expected a text in quotes"),
        ("[lesson]\nnote = 'a\u202eb'", 11, "the note has signs that cannot be printed; expected plain text"),
        ("[lesson]\nnote = '''" + "x\n" * 1001 + "'''", 11, "the note has 2002 characters; expected at most 2000"),
        ("[lesson]\nnotes = 3", 11, "notes is 3; expected a table [lesson.notes]"),
        (
            "[lesson.notes]\n\n'A 3' = 'x'",
            12,
            "'A 3' is not a place; expected a section or a bar of one, such as \"A.3\"",
        ),
        ("[lesson.notes]\nC = 'x'", 11, "there is no section 'C'; expected one of A, B"),
        ("[lesson.notes]\nA.5 = 'x'", 11, "section A ends with bar 4; expected a bar up to that one"),
        ("[lesson.notes]\n'A.1' = 5", 11, "A.1 is 5; expected a text in quotes"),
        ("[lesson]\nstep = 3", 11, "step is 3; expected tables [[lesson.step]]"),
        ("[lesson]\nstep = [\n3]", 11, "step 1 is not a table; expected [[lesson.step]] and its lines below"),
        ("[lesson]\n" + "[[lesson.step]]\n" * 101, 11, "the lesson has 101 steps; expected at most 100"),
        (STEP + "temp = 60", 11, "'temp' is not a key of a step; did you mean tempo?"),
        (STEP + STEP + "section = 'C'", 12, "there is no section 'C'; expected one of A, B"),
        (STEP + "section = 4\n" + STEP, 11, "section is 4; expected the name of a section, in quotes"),
        (STEP + "hands = 'feet'", 11, "'feet' does not fit here; expected one of left, both, right"),
        (STEP + "pattern = 'forur'", 11, "'forur' does not fit here; did you mean four?"),
        (STEP + STEP + "\ntempo = 10", 13, 'tempo is 10; expected pulses a minute, such as 60, or "free"'),
        (STEP + "tempo = nan", 11, 'tempo is nan; expected pulses a minute, such as 60, or "free"'),
        (STEP + "tempo = 'slow'", 11, "tempo is 'slow'; expected pulses a minute, such as 60, or \"free\""),
        (STEP + "tempo = true", 11, 'tempo is true; expected pulses a minute, such as 60, or "free"'),
        (STEP + "cues = 'no'", 11, "cues is 'no'; expected true, false or \"symbols\""),
        (STEP + "listen = 1", 11, "listen is 1; expected true or false"),
        (
            STEP + "listen = true\npasses = 2",
            12,
            "a step to listen to has no passes; expected section, pattern, tempo or note",
        ),
        (
            STEP + "hands = 'both'\nlisten = true",
            11,
            "a step to listen to has no hands; expected section, pattern, tempo or note",
        ),
        (
            STEP + "listen = true\ntempo = 'free'",
            12,
            "a step to listen to has a tempo; expected pulses a minute, such as 60",
        ),
        (STEP + "swing = 'yes'", 11, "swing is 'yes'; expected true or false"),
        (
            STEP + "swing = true",
            11,
            "the song has no melody to swing; expected one in a meter of quarters, such as 4/4",
        ),
        (STEP + "passes = 0", 11, "passes is 0; expected a whole number from 1 to 100"),
        (STEP + "passes = 2.5", 11, "passes is 2.5; expected a whole number from 1 to 100"),
        (STEP + STEP + STEP + "note = 7", 13, "note is 7; expected a text in quotes"),
    ],
)
def test_every_fault_is_told_with_its_line(lesson, line, message):
    assert faults(lesson) == [(line, message)]


SUNG = HEAD.replace('"Ebmaj7 | N.C."', '"Ebmaj7 | N.C."\nmelody = "e2f2g2b2 | f8"')


def test_a_step_to_swing():
    step = parse_chart(SUNG + STEP + "swing = true\nsection = 'B'\ntempo = 90\nnote = 'Lightly.'").lesson.steps[0]
    assert step == Step("B", "right", "four", 90.0, passes=1, note="Lightly.", swing=True)
    assert parse_chart(SUNG + STEP + "swing = true\nhands = 'both'").lesson.steps[0].hands == "both"


@pytest.mark.parametrize(
    ("step", "line", "message"),
    [
        ("section = 'A'\nswing = true", 13, "section A has no melody to swing"),
        ("hands = 'left'\nswing = true", 12, "'left' does not fit here; expected one of right, both"),
        ("listen = true\nswing = true", 13, "a step is to listen or to swing"),
        ("tempo = 'free'\nswing = true", 12, "a step to swing has a tempo"),
        ("pattern = 'two'\nswing = true", 12, "a step to swing has no pattern; expected section, hands, tempo or note"),
        ("cues = false\nswing = true", 12, "a step to swing has no cues"),
        ("passes = 3\nswing = true", 12, "a step to swing has no passes"),
    ],
)
def test_what_a_step_to_swing_cannot_have(step, line, message):
    with pytest.raises(ChartError) as caught:
        parse_chart(SUNG + STEP + step)
    assert [(fault.line, fault.message.startswith(message)) for fault in caught.value.faults] == [(line, True)]


def test_a_lesson_that_is_no_table():
    with pytest.raises(ChartError, match="^chart:1: lesson is 3; expected a table .lesson.$"):
        parse_chart("lesson = 3\n" + HEAD)


def test_all_faults_at_once_in_the_order_of_their_lines():
    lesson = STEP + "hands = 'x'\n" + STEP + "cues = 1\npasses = 'x'\n[lesson.notes]\nZ = 'x'\n"
    assert [line for line, _ in faults(lesson)] == [11, 13, 14, 16]


@given(songs(), st.data())
def test_a_written_lesson_is_read_back_the_same(song, data):
    song = replace(song, lesson=data.draw(lessons(song)))
    text = write_chart(song)
    again = parse_chart(text, id=song.id)
    assert again.lesson == song.lesson
    assert write_chart(again) == text, "writing settles at once"


def test_a_lesson_moves_with_its_song():
    song = parse_chart(HEAD + LESSON)
    assert transpose(song, "Eb").lesson == song.lesson
