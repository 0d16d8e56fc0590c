"""The steps of a lesson: those that come with the companion, and when one is done."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from practice.passes import SONG, played
from shipped import SONGS
from strategies import pass_records

from companion.chart.lesson import Lesson, Step
from companion.practice.planning.lessons import Swung, lesson_of, lesson_states, step_loop, step_words
from companion.practice.planning.totals import tallies

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
