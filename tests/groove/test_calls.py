"""Called changes: which name is called on which beat (a pulse before its chord: common practice of teachers)."""

import pytest

from companion.groove.calls import MOST_BPM, call_seconds, words_called
from companion.groove.model import CALLS, Click
from companion.groove.timeline import timeline

from .loops import arrange, placed


def called(line, tempo_bpm=60.0, meter="4/4", passes=1, **fields):
    """[(pulse from the first counted one, words)]"""
    return told(arrange(line, meter, parts=("click", CALLS), **fields), tempo_bpm, passes)


def told(arrangement, tempo_bpm=60.0, passes=1):
    events = timeline(arrangement, (tempo_bpm,) * passes).events
    pulse = arrangement.bars[0].meter.pulse_ticks
    return [(event.tick / pulse, event.words) for event in events if event.part == CALLS]


def test_each_change_is_called_a_beat_before_it_and_the_first_in_the_count_in():
    assert called("Dm7 | G7 | Cmaj7 | Cmaj7", 50.0) == [
        (0, "one"), (1, "two"), (2, "three"), (3, "D minor seven"), (7, "G seven"), (11, "C major seven"),
    ]  # fmt: skip


def test_the_loop_leads_back_to_its_beginning():
    assert called("C | F", passes=2, count_in_bars=0) == [(3, "F"), (7, "C"), (11, "F")]


def test_a_chord_that_goes_on_is_not_called_again_over_the_end_of_the_loop():
    assert called("C | F | C", passes=2, count_in_bars=0) == [(3, "F"), (7, "C"), (15, "F"), (19, "C")]


def test_two_bars_of_four_are_counted_in_halves_first():
    assert [*called("C", count_in_bars=2)] == [(0, "one"), (2, "two"), (4, "one"), (5, "two"), (6, "three"), (7, "C")]


@pytest.mark.parametrize(("meter", "words"), [("3/4", ["one", "two", "C"]), ("6/8", ["one", "C"])])
def test_other_meters_are_counted_by_their_pulses(meter, words):
    assert [said for _, said in called("C", meter=meter)] == words


def test_two_chords_a_bar_at_80_are_called_by_root_and_quality():
    assert called("F#m7b5 B7b9 | Em7 A13", MOST_BPM, count_in_bars=0) == [
        (1, "B seven"), (3, "E minor"), (5, "A thirteen"),
    ]  # fmt: skip
    assert called("C | F#m7b5", MOST_BPM, count_in_bars=0) == [(3, "F sharp half dim")]
    assert called("C | F#m7b5", 40.0, count_in_bars=0) == [(3, "F sharp minor seven flat five")]


@pytest.mark.parametrize("tempo_bpm", [30.0, 45.0, 60.0, 72.0, 80.0])
def test_a_name_is_over_when_its_chord_comes(tempo_bpm):
    for _, words in called("Bbmaj7 Gm7b5 | Cm7 F7alt | Bb6/9 N.C. | Abm7/Gb Db13b9", tempo_bpm):
        assert call_seconds(words) <= 60 / tempo_bpm, words


def test_above_80_nothing_is_called():
    assert called("C | F", MOST_BPM + 1) == []


def test_a_chord_off_the_beat_is_called_on_the_last_beat_that_leaves_a_whole_one():
    bar = placed("4/4", ("C", 0, 2400), ("F7", 2400, 1440))  # on the and of three
    arrangement = arrange("C", parts=(CALLS,), count_in_bars=0)
    assert told(type(arrangement)((bar,), parts=(CALLS,), count_in_bars=0)) == [(1, "F seven")]


def test_no_chord_is_called_too_and_names_do_not_hang_on_the_click():
    assert called("C | N.C.", count_in_bars=0, click=Click("off")) == [(3, "no chord")]


def test_all_that_may_be_called_is_known_beforehand():
    arrangement = arrange("F#m7b5 B7b9 | Em7 A13/G", parts=(CALLS,), count_in_bars=2)
    words = set(words_called(arrangement))
    for tempo_bpm in (30.0, 50.0, 60.0, 75.0, 80.0):
        assert {said for _, said in told(arrangement, tempo_bpm, 2)} <= words
    assert words_called(arrange("C")) == ()
