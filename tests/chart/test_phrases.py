"""Where a melody's phrases begin: at a rest of a beat, at a section, after eight bars."""

from __future__ import annotations

import pytest

from companion.chart.melody import chorus_melody
from companion.chart.phrases import melody_phrases
from companion.chart.reader import parse_chart


def song_of(melody: str, bars: int, more: str = "", *, form: str = "A", meter: str = "4/4", pickup: str = ""):
    chords = " | ".join(["F6"] * bars)
    return parse_chart(
        f'title = "T"\nkey = "F"\nmeter = "{meter}"\ntempo = 100\nfeel = "swing"\nform = "{form}"\n{pickup}\n'
        f'[section.A]\nbars = "{chords}"\nmelody = "{melody}"\n{more}',
        "t.toml",
    )


def starts(song) -> list[str]:
    """Bar and beat, both from 1, of the first note of each phrase; bar 0 is the pickup."""
    bars, found = song.unroll(), []
    for phrase in melody_phrases(chorus_melody(song), bars):
        bar = max((bar.start_tick, bar.index) for bar in bars if bar.start_tick <= max(0, phrase.start_tick))
        beat = (phrase.start_tick - bar[0]) / song.meter.beat_ticks
        found.append(f"{bar[1] + 1}.{beat + 1:g}" if phrase.start_tick >= 0 else f"0.{beat:g}")
    return found


def test_a_rest_of_a_beat_ends_a_phrase_and_a_shorter_one_does_not():
    assert starts(song_of("A2 z2 A2 A2 | A4 z A A2", 2)) == ["1.1", "1.3"]
    assert starts(song_of("A2 A2 A2 z2 | z4 A2 A2", 2)) == ["1.1", "2.3"]


def test_a_beat_is_what_one_taps():
    assert starts(song_of("A3 z A2", 1, meter="6/8")) == ["1.1"]
    assert starts(song_of("A3 z3 | A6", 2, meter="6/8")) == ["1.1", "2.1"]


def test_a_section_ends_a_phrase_each_time_it_comes():
    more = '[section.B]\nbars = "C7 | F6"\nmelody = "c8 | A8"\n'
    assert starts(song_of("A8 | A8", 2, more, form="A A B")) == ["1.1", "3.1", "5.1"]


def test_a_note_held_over_into_a_section_belongs_to_where_it_began():
    assert starts(song_of("A8 | A4 c4-", 2, '[section.B]\nbars = "C7 | F6"\nmelody = "c4 A4 | A8"\n', form="A B")) == [
        "1.1",
        "3.3",
    ]


def test_what_begins_after_a_rest_in_the_last_bar_leads_into_the_next_section():
    song = song_of("A8 | A4 z2 c2", 2, '[section.B]\nbars = "C7 | F6"\nmelody = "c8 | A8"\n', form="A B")
    assert starts(song) == ["1.1", "2.4"]


def test_a_pickup_is_the_beginning_of_the_first_phrase():
    assert starts(song_of("C2 | A8 | A8", 2, pickup="pickup = 1")) == ["0.-1"]


@pytest.mark.parametrize(("bars", "expected"), [(8, ["1.1"]), (9, ["1.1", "9.1"]), (17, ["1.1", "9.1", "17.1"])])
def test_eight_bars_end_a_phrase(bars, expected):
    assert starts(song_of(" | ".join(["A4 A4"] * bars), bars)) == expected


def test_eight_bars_are_counted_from_the_section_that_a_lead_goes_into():
    more = '[section.B]\nbars = "' + " | ".join(["C7"] * 9) + '"\nmelody = "' + " | ".join(["c8"] * 9) + '"\n'
    assert starts(song_of("A8 | A4 z2 c2", 2, more, form="A B")) == ["1.1", "2.4", "11.1"]


def test_no_melody_has_no_phrases():
    assert melody_phrases((), ()) == ()
    assert starts(song_of("Z2", 2)) == []


def test_phrases_hold_every_note_once_and_in_order():
    song = song_of("A2 z2 A2 A2 | A4 z A A2", 2)
    notes = [note for note in chorus_melody(song) if note.pitch]
    phrases = melody_phrases(chorus_melody(song), song.unroll())
    assert [note for phrase in phrases for note in phrase.notes] == notes
    assert phrases[0].start_tick == 0 and phrases[0].end_tick == 960
