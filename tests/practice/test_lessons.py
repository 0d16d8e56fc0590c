"""Lessons: what a chart file may say of them, what is said of one at fault, and when a step is done."""

from __future__ import annotations

from dataclasses import replace

import pytest
from chart_strategies import lessons, songs
from hypothesis import given
from hypothesis import strategies as st
from practice.passes import SONG, played
from shipped import SONGS
from strategies import pass_records

from companion.chart.lesson import STEP_PATTERNS, Lesson, Step
from companion.chart.reader import parse_chart
from companion.chart.transpose import transpose
from companion.chart.writer import write_chart
from companion.errors import ChartError
from companion.groove.names import PATTERN_NAMES
from companion.practice.planning.lessons import Swung, lesson_of, lesson_states, step_loop, step_words
from companion.practice.planning.totals import tallies

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


# --- the lessons that come with the companion


@pytest.mark.parametrize("song", SONGS, ids=lambda song: song.id)
def test_every_song_comes_with_a_lesson(song):
    lesson = song.lesson
    assert lesson.note and set(lesson.section_notes) == set(song.form), "a note for every section"
    assert len(lesson.steps) >= 4 and all(step.note for step in lesson.steps)
    assert lesson.steps[0].listen and not any(step.listen for step in lesson.steps[1:]), "one listens first"
    assert (lesson.steps[0].section, lesson.steps[0].tempo_bpm) == ("", song.tempo_bpm), "to the goal"
    cues = [step.cues for step in lesson.steps]
    assert False in cues, "a lesson ends without the page"
    assert cues.index("symbols") < cues.index(False), "what a lead sheet shows is enough before nothing is"
    assert all((step.tempo_bpm or 0) <= song.tempo_bpm for step in lesson.steps)
    assert (lesson.steps[-1].section, lesson.steps[-1].tempo_bpm) == ("", song.tempo_bpm), "the goal is the song"


@pytest.mark.parametrize("song", SONGS, ids=lambda song: song.id)
def test_drills_by_section_begin_with_the_busiest(song):
    """Common practice: what has the most changes wants the most time, so it comes first."""

    def changes_a_beat(name):
        section = song.sections[name]
        chords = [placed.chord for bar in section.bars for placed in bar.chords if placed.chord]
        changes = sum(after != before for before, after in zip(chords[-1:] + chords, chords))
        return changes / (len(section.bars) * section.meter.pulses)

    drilled = list(dict.fromkeys(step.section for step in song.lesson.steps if step.section))
    assert all(changes_a_beat(drilled[0]) >= changes_a_beat(name) for name in song.form if drilled)


# --- when a step is done

WHOLE, A, B = range(12), range(4), range(4, 8)


def song_with(*steps: Step):
    return replace(SONG, lesson=Lesson(steps=steps))


@pytest.mark.parametrize(
    ("step", "record", "counts"),
    [
        (Step("", "left", "four", 80.0), played(loop=WHOLE), True),
        (Step("", "left", "four", 80.0), played(loop=A), False),
        (Step("", "left", "four", 80.0), played(loop=range(11)), False),
        (Step("A", "left", "four", 80.0), played(loop=A), True),
        (Step("A", "left", "four", 80.0), played(loop=range(8, 12)), True),
        (Step("A", "left", "four", 80.0), played(loop=WHOLE), True),
        (Step("A", "left", "four", 80.0), played(loop=range(3)), False),
        (Step("A", "left", "four", 80.0), played(loop=B), False),
        (Step("A", "left", "four", 80.0), played(loop=A, slips={1: "wrong"}), False),
        (Step("A", "left", "four", 80.0), played(loop=A, tempo_bpm=79.0), False),
        (Step("A", "left", "four", 80.0), played(loop=A, tempo_bpm=79.7), True),
        (Step("A", "left", "four", 80.0), played(loop=A, tempo_bpm=140.0), True),
        (Step("A", "left", "four", 80.0), played(loop=A, pattern="two"), False),
        (Step("A", "left", "four", 80.0), played(loop=A, hands="both"), False),
        (Step("A", "both", "four", 80.0), played(loop=A, hands="both"), True),
        (Step("A", "left", "four", 80.0), played(loop=A, kind="free", tempo_bpm=0.0), False),
        (Step("A", "left", "four", None), played(loop=A, kind="free", tempo_bpm=0.0, pattern="two"), True),
        (Step("A", "left", "four", None), played(loop=A, tempo_bpm=40.0, pattern="whole"), True),
        (Step("A", "left", "four", 80.0, cues=False), played(loop=A), False),
        (Step("A", "left", "four", 80.0, cues=False), played(loop=A, cues=0.0), True),
        (Step("A", "left", "four", 80.0), played(loop=A, cues=0.0), True),
        (Step("A", "left", "four", 80.0, cues="symbols"), played(loop=A), False),
        (Step("A", "left", "four", 80.0, cues="symbols"), played(loop=A, kind="symbols", cues=0.7), False),
        (Step("A", "left", "four", 80.0, cues="symbols"), played(loop=A, kind="symbols", cues=0.6), True),
        (Step("A", "left", "four", 80.0, cues="symbols"), played(loop=A, kind="symbols-only", cues=0.6), True),
        # Of a drill down to nothing the mean says little: a bar may stand there in full.
        (Step("A", "left", "four", 80.0, cues="symbols"), played(loop=A, kind="fade", cues=0.5), False),
        (Step("A", "left", "four", 80.0, cues="symbols"), played(loop=A, kind="fade", cues=0.0), True),
        (Step("A", "left", "four", 80.0, cues=False), played(loop=A, kind="symbols", cues=0.6), False),
    ],
)
def test_which_passes_count_for_a_step(step, record, counts):
    song = song_with(replace(step, passes=1))
    [state] = lesson_states(song, tallies([record]))
    assert (state.clean, state.done) == ((1, True) if counts else (0, False))


def test_a_lesson_is_gone_through_step_by_step():
    song = song_with(
        Step("A", "left", "whole", None, passes=2),
        Step("A", "left", "four", 60.0, passes=3),
        Step("", "left", "four", 120.0),
    )
    passes = [played(3, A, kind="free", tempo_bpm=0.0), played(2.9, A, kind="free", tempo_bpm=0.0)]
    states = lesson_states(song, tallies(passes))
    assert [(state.clean, state.done) for state in states] == [(2, True), (0, False), (0, False)]
    passes += [played(2, A, tempo_bpm=66.0) for _ in range(4)]
    states = lesson_states(song, tallies(passes))
    assert [(state.clean, state.done) for state in states] == [(2, True), (3, True), (0, False)], "no more than wanted"


def test_a_step_to_listen_to_is_done_once_its_bars_were_heard():
    song = song_with(Step("A", "left", "four", 120.0, listen=True), Step("", "left", "four", 120.0, listen=True))
    clean = tallies([played(loop=WHOLE, tempo_bpm=140.0)])

    def done(*heard):
        return [(state.clean, state.done) for state in lesson_states(song, clean, heard)]

    assert done() == [(0, False), (0, False)], "whoever played it has not listened"
    assert done(tuple(A)) == [(1, True), (0, False)]
    assert done(tuple(B)) == [(0, False), (0, False)]
    assert done(tuple(range(3)), tuple(range(3, 12))) == [(0, False), (0, False)], "at one go"
    assert done(tuple(WHOLE)) == [(1, True), (1, True)]


def test_a_song_without_a_lesson_has_the_usual_steps():
    heard, *steps = lesson_of(SONG).steps
    assert heard.listen and (heard.section, heard.tempo_bpm, heard.passes) == ("", 120.0, 1)
    assert not any(step.listen for step in steps)
    assert [step.section for step in steps] == ["A"] * 4 + ["B"] * 4 + [""] * 4
    assert [step.cues for step in steps] == [True, True, "symbols", False] * 2 + [True, "symbols", False, True]
    assert (steps[0].tempo_bpm, steps[1].tempo_bpm, steps[-1].tempo_bpm) == (None, 72.0, 120.0)
    one = replace(SONG, form=("A",), sections={"A": SONG.sections["A"]})
    assert [(step.section, step.tempo_bpm) for step in lesson_of(one).steps[1:]] == [
        ("", None),
        ("", 84.0),
        ("", 90.0),
        ("", 96.0),
        ("", 120.0),
    ]
    assert lesson_of(replace(SONG, lesson=Lesson(note="only a note"))).steps == (heard, *steps)


BY_ID = {song.id: song for song in SONGS}
TUNE = replace(BY_ID["two-spoons"], lesson=None)
RIGHT = tallies([played(loop=range(16), song=TUNE, hands="right")])


def test_a_step_to_swing_is_offered_last_to_who_plays_with_the_right_hand_and_to_nobody_else():
    left = tallies([played(loop=range(16), song=TUNE)])
    for song in (TUNE, BY_ID["two-spoons"]):  # the usual steps, and a teacher's
        usual = [state.step for state in lesson_states(song, left)]
        assert usual == list(lesson_of(song).steps) and not any(step.swing for step in usual)
        steps = [state.step for state in lesson_states(song, (*left, *RIGHT))]
        *same, last = [step for step in steps if not step.layer]
        assert any(step.layer for step in steps) == (song is TUNE), "layer by layer where no teacher wrote steps"
        assert same == usual and last.swing and (last.hands, last.tempo_bpm) == ("right", 84.0)
    own = replace(TUNE, lesson=Lesson(steps=(Step("", "right", "four", 60.0, passes=1, swing=True),)))
    assert [state.step for state in lesson_states(own, RIGHT)] == list(own.lesson.steps), "the teacher has one already"
    assert len(lesson_states(own, ())) == 1, "a teacher's is for whoever has the lesson"
    for other in (replace(TUNE, feel="straight"), replace(SONG, id="two-spoons")):
        assert not any(state.step.swing for state in lesson_states(other, RIGHT)), "nothing there swings"
    blues = BY_ID["left-sock-blues"]
    found = [state.step for state in lesson_states(replace(blues, lesson=None), RIGHT)]
    assert [step for step in found if not step.layer][-1].swing


@pytest.mark.parametrize("song", SONGS, ids=lambda song: song.id)
def test_what_is_swung_is_a_phrase_of_four_bars_at_most(song):
    for section in ("", *song.form):
        loop = step_loop(Step(section, "right", "four", 90.0, passes=1, swing=True), song)
        bars = [song.unroll()[index] for index in loop]
        assert 1 <= len(loop) <= 4 and list(loop) == list(range(loop[0], loop[-1] + 1))
        assert len({(bar.section, bar.occurrence) for bar in bars}) == 1 and bars[0].section == (
            section or song.form[0]
        )


def test_a_step_to_swing_is_done_once_its_phrase_was_played_so_fast_from_memory():
    step = Step("", "right", "four", 84.0, passes=1, swing=True)
    song = replace(TUNE, lesson=Lesson(steps=(step,)))
    assert step_loop(step, song) == (0, 1, 2, 3)
    by_heart = tallies([played(loop=range(16), song=TUNE, hands="right", cues=0.0, tempo_bpm=120.0)])

    def done(*swung):
        return lesson_states(song, by_heart, [tuple(range(16))], swung)[0].done

    assert not done(), "straight from memory, and heard, is not swung"
    assert not done(Swung((0, 1, 2), 120.0)) and not done(Swung((0, 1, 2, 3), 83.0))
    assert done(Swung((0, 1, 2, 3), 84.0)) and done(Swung(tuple(range(16)), 120.0))


def test_a_step_in_words():
    words = step_words(Step("A", "both", "whole", 66.0, cues=False, passes=1), SONG)
    assert words == "section A, both hands, whole notes, at 66, from memory, 1 clean pass"
    words = step_words(Step("", "right", "four", 84.0, passes=1, swing=True), TUNE)
    assert words == "the melody of bars 1 to 4 straight, then swinging, right hand, at 84"
    words = step_words(Step("", "left", "four", 66.0, cues="symbols", passes=2), SONG)
    assert words == "the whole form, left hand, four to the bar, at 66, from symbols, 2 clean passes"
    assert (
        step_words(Step("", "left", "four", 66.0, listen=True), SONG)
        == "listen to the whole form, four to the bar, at 66"
    )
    assert step_words(Step("", "left", "four", None), SONG) == "the whole form, left hand, in free time, 3 clean passes"


@given(st.lists(pass_records(), max_size=15))
def test_more_practice_never_undoes_a_step(records):
    song = replace(SONG, id="two-spoons")
    before = lesson_states(song, tallies(records[:-1]))
    after = lesson_states(song, tallies(records))
    assert all(new.clean >= old.clean and new.done >= old.done for old, new in zip(before, after))
