"""Takes of a whole arrangement, introduction to ending, marked: what is right is right, in a ritardando by order and hands alone, each slip is told."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest
from desk import put
from shipped import SONGS, spread
from whole_takes import exact, of_hands, whole_events

from companion.arranging.beginnings import INTROS
from companion.arranging.choice import ArrangementChoice
from companion.arranging.endings import ENDINGS
from companion.practice.marking.apart import by_hand
from companion.practice.marking.expected import expected_strikes, steady_starts
from companion.practice.marking.marks import mark_pass
from companion.practice.model import Press
from companion.session.performance import whole_row
from companion.session.stand import Stand
from companion.session.take_file import Recording
from companion.session.take_marks import mark_recording
from companion.session.take_words import take_words
from companion.theory.key import Key

# From 90,000 on never looked at before the marks were as they are.
GRID = [(song, voices, seed) for seed in range(90_000, 90_014) for song in SONGS for voices in (1, 2, 3, 4)]
TUNE = """
title = "Gutter Song"
key = "C"
meter = "4/4"
tempo = 100
feel = "swing"
form = "A"
[section.A]
bars = "C7 | F7 | C7 | G7"
melody = "e'4 g'4 | a'2 f'2 e'4 | g'4 e'4 | d'4 z4"
"""


def whole(song, voices, seed, settings):
    """Everything that can be, in a key, an introduction and an ending by chance."""
    chance = Random(f"{song.id} {voices} {seed}")
    stand = Stand.put(song, settings).with_key(Key.usual(chance.randrange(12), song.key.mode)).with_hands("both")
    intro, ending = chance.choice(INTROS[:-1]), chance.choice(ENDINGS[:-1])
    kinds = ("slide", "tremolo", "fill", "walk")
    return stand.change(arranged=ArrangementChoice(voices, seed=seed, intro=intro, ending=ending, ornaments=kinds))


def marked(stand, presses):
    found = mark_recording(stand, Recording(tuple(presses)), stand.pattern)
    assert found is not None and len(found.passes) == 1
    return found


def shares(found):
    return [own.figures.share_right for own in by_hand(found.together).values()]


@pytest.mark.parametrize("which", spread(GRID, 701, 77))
def test_what_is_played_exactly_is_all_right(which, settings):
    song, voices, seed = which
    stand = whole(song, voices, seed, settings)
    found = marked(stand, exact(stand))
    assert shares(found) == [1.0, 1.0] and not found.together.figures.extra, take_words(found)


@pytest.mark.parametrize("which", spread(GRID, 701, 211))
def test_what_hands_play_is_right_and_their_own_ritardando_no_fault(which, settings):
    song, voices, seed = which
    stand = whole(song, voices, seed, settings)
    found = marked(stand, of_hands(stand, seed)[0])
    assert min(shares(found)) >= 0.98, take_words(found)


@pytest.fixture
def gutter(settings):
    kinds = ("slide", "tremolo")
    return put(TUNE, settings).change(
        hands="both", arranged=ArrangementChoice(3, intro="vamp", ending="tag", ornaments=kinds)
    )


@pytest.mark.parametrize("pace", spread([0.5, 1.0, 1.6], 2))
def test_in_a_ritardando_order_and_hands_count_and_not_time(gutter, pace):
    """Friberg and Sundberg 1999 describe one way to slow down of many; nobody is held to it."""
    found = marked(gutter, of_hands(gutter, 5, pace=pace)[0])
    assert min(shares(found)) >= 0.98 and "Waited" not in take_words(found), take_words(found)
    row = whole_row(gutter)
    free = [mark for mark in found.together.chords if mark.strikes[0].expected.free]
    slow = {
        index for index, bar in zip(row.order, row.arrangement.bars, strict=True) if bar.shares and bar.shares[0] < 1
    }
    assert {mark.index for mark in free} == slow and {mark.part for mark in free} == {"left", "right"}
    assert all(mark.verdict == "right" and mark.offset_ms is None for mark in free)


def test_wrong_keys_and_left_out_ones_are_told_in_a_ritardando_too(gutter):
    presses = of_hands(gutter, 6, pace=0.8)[0]
    row, slows_s = whole_row(gutter), whole_events(gutter)[1]
    late = [press for press in presses if press.time_s > 2.0 + slows_s + 1.0]
    gone, wrong = late[3], next(press for press in late[8:] if press.note > 64)
    spoiled = [
        replace(wrong, note=wrong.note + 1) if press is wrong else press for press in presses if press is not gone
    ]
    found = marked(gutter, spoiled)
    slips = [mark for mark in found.together.chords if not mark.is_right]
    assert {mark.verdict for mark in slips} == {"wrong", "missing"} and len(slips) == 2, take_words(found)
    assert all(row.bars[mark.index].section == "Ending" for mark in slips)


def test_slips_anywhere_are_told_and_nothing_else(gutter):
    presses, slips = of_hands(gutter, 7, slips_in=0.15)
    found = marked(gutter, presses)
    told = [mark for mark in found.together.chords if mark.verdict in ("wrong", "missing")]
    assert len(slips) > 4 and abs(len(told) - len(slips)) <= 1, take_words(found)


def test_a_take_of_the_form_alone_is_the_form(gutter):
    alone = gutter.change(arranged=replace(gutter.arranged, intro="none", ending="none"))
    found = marked(gutter, exact(alone))
    assert found.order == gutter.loop and shares(found) == [1.0, 1.0]
    assert "slide" in found.ornaments and "tremolo has" in found.ornaments and found.ornaments in take_words(found)


def test_the_last_bar_of_a_walk_is_as_it_is_played_once_through(gutter):
    """Once through nothing follows: the hand rests there, where in a loop it walks on."""
    pinned = ArrangementChoice(bars={("A", 4, "walk"): 1})
    stand = gutter.change(arranged=pinned)
    found = marked(stand, exact(stand))
    assert whole_row(stand) is not None and shares(found) == [1.0, 1.0] and not found.together.figures.extra


@pytest.mark.parametrize("choruses", spread([2, 3], 2))
def test_the_form_may_be_played_several_times_in_between(gutter, choruses):
    found = marked(gutter, exact(gutter, choruses))
    assert shares(found) == [1.0, 1.0] and not found.together.figures.extra, take_words(found)
    assert found.order.count(0) == choruses


def test_the_dominant_broken_by_both_hands_is_marked_hand_by_hand(gutter):
    stand = gutter.change(arranged=replace(gutter.arranged, intro="dominant"))
    found = marked(stand, exact(stand))
    assert shares(found) == [1.0, 1.0] and not found.together.figures.extra, take_words(found)
    first = [mark for mark in found.together.chords if found.bars[mark.index].section == "Intro"]
    assert sum(len(mark.strikes) for mark in first if mark.part == "left") >= 5


def test_a_slide_into_a_chord_that_lacks_an_inner_note_is_no_wrong_key(gutter):
    loop = gutter.change(melody_sounds=True).arrangement()
    due = expected_strikes(loop, steady_starts(loop, 0.0, 100.0), parts=("right",))
    strike = next(each for each in due if each.grace is not None and len(each.notes) > 2)
    inner, melody = strike.notes[1], strike.notes[-1]
    for before_s, lacking, slips in (
        (0.08, inner, {"missing": 1}),
        (0.16, inner, {"missing": 1}),
        (0.08, melody, {"wrong": 1}),
    ):
        presses = [Press(each.due_s, note) for each in due for note in each.notes if (each, note) != (strike, lacking)]
        presses.append(Press(strike.due_s - before_s, strike.grace))
        marks = mark_pass(due, sorted(presses, key=lambda press: press.time_s), asked=("right",))
        found = [mark for mark in marks.chords if not mark.is_right]
        assert [mark.verdict for mark in found] == list(slips), (before_s, found)
        assert not marks.extra


@pytest.mark.parametrize("leads_back", [False, True])
def test_without_introduction_and_ending_the_last_bar_is_whichever_was_played(settings, leads_back):
    """Once through the hand rests at the end, in a loop it leads back to the first bar: both are right, the other is no missing chord."""
    song = next(song for song in SONGS if song.id == "stop-at-the-level-crossing")
    stand = whole(song, 2, 90_005, settings)
    stand = stand.change(arranged=replace(stand.arranged, intro="none", ending="none"))
    presses = exact(stand)
    if leads_back:
        loop = stand.arrangement()
        last = expected_strikes(loop, steady_starts(loop, 2.0, stand.tempo_bpm), parts=("left",))[-1]
        shift_s = presses[0].time_s - expected_strikes(loop, steady_starts(loop, 2.0, stand.tempo_bpm))[0].due_s
        assert len(last.notes) == 1, "a single note leads back"
        presses = [*presses, Press(last.due_s + shift_s, last.notes[0], 64, 0.3)]
    found = marked(stand, sorted(presses, key=lambda press: press.time_s))
    assert shares(found) == [1.0, 1.0] and not found.together.figures.extra, take_words(found)
