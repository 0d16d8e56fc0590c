"""What a player may do to a song on purpose or by habit, one thing at a time in a take that is right but for it."""

from dataclasses import replace

import pytest
from practice.marking_trials import mark
from practice.players import play
from practice.take_plans import Recipe
from practice.takes import make
from practice.tunes import found, passes_played, tune
from shipped import spread

from companion.practice.marking.playthrough import passes_of

SONG = "ferry-at-half-past-six"  # A A B A, 32 bars, 41 chords


def take(pattern="four", seed=3, song=SONG, **fields):
    return make(song, Recipe(pattern, slips=0, jitter_ms=12.0, **fields), seed)


def marked(made, keep=lambda press: True):
    made.presses = [press for press in made.presses if keep(press)]
    return mark(made)


def due_s(made, index):
    return next(chord.due_s for chord in made.chords if chord.index == index)


@pytest.mark.parametrize(
    ("pattern", "first", "bars", "chords"),
    spread(
        [("four", 5, 1, 2), ("two", 12, 4, 7), ("charleston", 20, 1, 1), ("four", 12, 4, 7), ("whole", 12, 3, 5)], 2
    ),
)
def test_bars_left_out_while_the_time_goes_on_are_named_and_missing(pattern, first, bars, chords):
    made = take(pattern)
    low, high = due_s(made, first) - 0.1, due_s(made, first + bars) - 0.1
    one, two = marked(made, lambda press: not low < press.time_s < high).passes
    assert [(event.kind, event.index, event.bars) for event in one.events] == [("left out", first, bars)]
    assert {chord.verdict for chord in one.marks.chords if first <= chord.index < first + bars} == {"missing"}
    assert one.marks.figures.missing == chords == one.marks.figures.chords - one.marks.figures.right
    assert not two.events and two.marks.figures.share_right == 1.0


def test_a_whole_note_that_is_missing_is_no_bar_left_out():
    made = take("whole")
    low, high = due_s(made, 4) - 0.1, due_s(made, 4) + 0.1
    one, _two = marked(made, lambda press: not low < press.time_s < high).passes
    assert not one.events and one.marks.figures.missing == 1


def test_a_note_of_the_shell_left_out_is_the_one_that_is_missing():
    made = take()
    low, high = due_s(made, 8) - 0.1, due_s(made, 10) - 0.1

    def upper(press):
        return any(other.note < press.note and abs(other.time_s - press.time_s) < 0.06 for other in made.presses)

    upper_keys = {id(press) for press in made.presses if upper(press)}
    one, _two = marked(made, lambda press: not low < press.time_s < high or id(press) in upper_keys).passes
    slipped = [chord for chord in one.marks.chords if not chord.is_right]
    assert [(chord.index, chord.verdict) for chord in slipped] == [(8, "missing"), (9, "missing")]
    assert all(mark.missing == (min(mark.expected.notes),) for chord in slipped for mark in chord.strikes)


def test_the_last_strike_of_each_chord_left_out_is_missing_every_time():
    made = take()
    changes = [chord.due_s for chord in made.chords[1:]]
    whole = marked(made, lambda press: not any(due - 0.62 < press.time_s < due - 0.12 for due in changes))
    chords = [chord for each in whole.passes for chord in each.marks.chords][:-1]
    assert all([mark.verdict for mark in chord.strikes][-1] == "missing" == chord.verdict for chord in chords)
    assert all(mark.verdict == "right" for chord in chords for mark in chord.strikes[:-1])


def test_a_start_in_the_middle_and_a_stop_before_the_end_leave_nothing_missing():
    one, two = marked(take(start_bar=6, stop_bars=20, seed=4)).passes
    assert (one.marks.chords[0].index, one.marks.chords[-1].index) == (6, 31)
    assert (two.marks.chords[0].index, two.marks.chords[-1].index) == (0, 11)
    assert one.marks.figures.share_right == two.marks.figures.share_right == 1.0
    (blues,) = marked(take(song="left-sock-blues", choruses=1, stop_bars=4)).passes
    assert blues.marks.chords[-1].index == 7 and blues.marks.figures.share_right == 1.0


def test_a_chorus_of_rest_between_is_not_played():
    passes = marked(take(song="left-sock-blues", choruses=3, rest_after=1)).passes
    assert [each.marks.figures.share_right for each in passes] == [1.0] * 3
    assert all(each.is_whole and not each.events for each in passes)


@pytest.mark.parametrize("change", ["pedal", "melody"])
def test_a_pedal_and_a_melody_on_top_change_nothing(change):
    made = take(melody=change == "melody")
    if change == "pedal":
        made.presses = [replace(press, held_s=3.0) for press in made.presses]
    whole = marked(made)
    assert whole.together.figures.share_right == 1.0 and not whole.together.extra and not whole.says


def test_eighty_milliseconds_behind_the_click_is_late():
    whole = marked(take(click_ms=80.0))
    figures = whole.together.figures
    assert whole.has_click and figures.offset_ms == pytest.approx(80.0, abs=6.0)


def test_bars_of_four_chords_are_marked_chord_by_chord():
    """A made-up chart whose every second bar holds four."""
    arrangement = tune("Dm7 G7 Cmaj7 A7 | Dm7 | F6 Bb7 Em7b5 A7 | Cmaj7 | Dm7 G7 Cmaj7 A7 | F6 | Bb7 A7 Dm7 G7 | Cmaj7")
    expected = [strike for each in passes_played(arrangement, 1.0, 90.0, 2) for strike in each]
    presses = play(expected, None, 0.0, 10.0)
    wrong = next(strike for strike in expected if strike.group.position == 2 and strike.group.chord == 2)
    presses = [
        replace(press, note=press.note + 1) if abs(press.time_s - wrong.due_s) < 0.1 and press.note == 62 else press
        for press in presses
    ]
    one, two = passes_of(found(presses, arrangement, 90.0))
    slips = [(chord.index, chord.chord, chord.verdict) for chord in one.marks.chords if not chord.is_right]
    assert slips == [(2, 2, "wrong")] and two.marks.figures.share_right == 1.0 and len(one.marks.chords) == 20
