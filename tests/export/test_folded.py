"""Repeats as signs: unfolded again by music21 they are every bar of the form, in order."""

from __future__ import annotations

import warnings
from dataclasses import replace

import music21
import pytest
from session_songs import SUNG_FOUR
from shipped import spread

from companion.arranging.choice import ArrangementChoice
from companion.chart.reader import parse_chart
from companion.export.folded import folded
from companion.export.musicxml import musicxml_text
from companion.export.score import Score, score_of
from companion.export.whole_tune import whole_tune
from companion.session.arranged import ending_bars
from companion.session.stand import Stand

# Form -> bars as printed: what comes twice in a row once, first and second endings (common practice).
PRINTED = {
    "down-the-coal-stairs": 26,  # A A B A of 8, two bars of each ending
    "the-key-under-the-pot": 26,  # A End1 A End2 B A End2
    "half-a-word-before": 24,  # a pickup, A B A C
    "rowing-home-the-long-way": 16,  # A A B: the first two as one
}


def bars_of(score: Score) -> list[list[tuple]]:
    """Of each bar the keys of both staves with their onsets, and its symbols, all as music21 reads them."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it doubts the numbers of bars that come again
        read = music21.converter.parse(musicxml_text(score), format="musicxml", forceSource=True)
        parts = [part.expandRepeats() for part in read.parts]
    found = []
    for upper, lower in zip(*(part.getElementsByClass("Measure") for part in parts), strict=True):
        notes = [
            (staff, note.offset, note.quarterLength, tuple(pitch.midi for pitch in note.pitches))
            for staff, measure in enumerate((upper, lower))
            for note in measure.recurse().notes
        ]
        found.append(sorted(notes))
    return found


@pytest.mark.xdist_group("music21")
@pytest.mark.parametrize("song_id", spread([*PRINTED], 1, 1))
def test_a_reader_of_signs_plays_the_whole_form(on_stand, song_id: str, musicxml_schema) -> None:
    score = score_of(on_stand(song_id))
    signs = folded(score)
    assert sum(bar.length is None for bar in signs.bars) == PRINTED[song_id]
    numbers = [bar.number for bar in signs.bars]
    assert numbers == sorted(set(numbers))
    assert bars_of(signs) == bars_of(score)
    from lxml import etree

    assert musicxml_schema.validate(etree.fromstring(musicxml_text(signs).encode())), musicxml_schema.error_log


def test_what_does_not_come_twice_from_its_beginning_stays_as_it_is(on_stand) -> None:
    stand = on_stand("ferry-at-half-past-six")
    assert len(folded(score_of(stand.with_loop(range(8), "A"))).bars) == 8
    assert len(folded(score_of(stand.with_loop(range(4, 12), "bars 5 to 12"))).bars) == 8


def test_a_second_time_that_differs_in_its_fingers_alone_is_a_repeat(on_stand) -> None:
    """Where the hand comes from the introduction it may take other fingers than where it comes from the end."""
    score = score_of(on_stand("the-key-under-the-pot"))
    at = next(number for number, bar in enumerate(score.bars) if number and bar.section == "A")
    (shell, *more) = score.bars[at].left
    other = replace(score.bars[at], left=(replace(shell, what=replace(shell.what, fingers="4-3")), *more))
    differing = replace(score, bars=(*score.bars[:at], other, *score.bars[at + 1 :]))
    assert folded(differing).bars == folded(score).bars


def test_under_a_bracket_stands_no_name_and_before_it_no_double_line(on_stand) -> None:
    signs = folded(score_of(on_stand("the-key-under-the-pot"))).bars
    first = next(number for number, bar in enumerate(signs) if bar.ending)
    assert not signs[first - 1].ends_section
    assert [bar.section for bar in signs if bar.section] == ["A", "B", "A", "End2"]
    assert not [bar for bar in signs if bar.ending and bar.section]


@pytest.mark.xdist_group("music21")
def test_a_tag_is_a_phrase_with_a_repeat_and_slows_down_the_last_time(settings) -> None:
    """As copyists write it: the phrase once, and where it is slower the second time that is said."""
    stand = Stand.put(parse_chart(SUNG_FOUR, id="x"), settings).with_hands("both")
    stand = stand.change(arranged=ArrangementChoice(voices=2, ending="tag"))
    score = whole_tune(stand)
    signs = folded(score)
    ending = [bar for bar in signs.bars if bar.number > len(stand.bars)]
    assert ending[0].opens_repeat and len(ending) < len(ending_bars(stand)) - 2
    assert [bar.words for bar in ending if bar.words] == ["rit. 2nd time"]
    assert bars_of(signs) == bars_of(score)


def test_a_key_may_change_within_what_comes_twice(on_stand, settings) -> None:
    chart = """
title = "Two Rooms"
key = "Dm"
meter = "4/4"
tempo = 100
form = "A B A B"
[section.A]
bars = "Dm | Gm | A7 | Dm"
[section.B]
key = "D"
bars = "D | G | A7 | D"
"""
    signs = folded(score_of(Stand.put(parse_chart(chart, id="x"), settings)))
    assert [bar.section for bar in signs.bars if bar.section] == ["A", "B"] and len(signs.bars) == 8
    assert (signs.bars[0].opens_repeat, signs.bars[-1].closes_repeat) == (True, 2)
