"""Strikes of the hands, written melodies, lead-in and ending: what is laid out is what sounds."""

from __future__ import annotations

from dataclasses import replace

import pytest
from groove.loops import arrange, loop

from companion.chart.melody import chorus_melody
from companion.chart.reader import parse_chart
from companion.errors import GrooveError
from companion.groove.check import validate
from companion.groove.model import BAND, PARTS, Click, GrooveChord, Stretch, Strike
from companion.groove.strikes import PICKUP, bar_strikes, melody_by_bar, written_strikes
from companion.groove.timeline import bar_events, count_in, timeline

CHART = (
    """title = "A test"
key = "C"
meter = "4/4"
tempo = 100
feel = "swing"
form = "A"
pickup = 1

[section.A]
bars = "C6 | F6 | C6 |"
melody = """
    + '"""'
    + """
cd | (3efg ab c'/d'/e'/f'/ g2- | g e2 c- c4- | c4 z4 |
"""
    + '"""'
)


def sung(feel="swing", **fields):
    song = parse_chart(CHART.replace('feel = "swing"', f'feel = "{feel}"'))
    pieces = melody_by_bar(chorus_melody(song), song.unroll())
    bars = tuple(replace(bar, written=written_strikes(pieces[bar.index], bar.chords)) for bar in loop("C6 | F6 | C6"))
    settings = {"click": Click("off"), "bass": "off", "parts": PARTS, "feel": feel, "pickup_ticks": 960}
    return arrange(
        "C6 | F6 | C6",
        **{**settings, "pickup": written_strikes(pieces[PICKUP], ()), **fields},
    ), bars


def right_hand(**fields):
    arrangement, bars = sung(**fields)
    line = timeline(replace(arrangement, bars=bars), [120])
    return [(event.tick - line.music_tick, event.ticks) for event in line.events if event.part == "right"]


def test_written_triplets_and_sixteenths_are_not_bent_by_swing():
    """At 120 the feel is 2:1. The triplet stays a triplet and the sixteenths stay even; the eighths of the pickup, of beat
    2 and across the bar lines swing. Onsets by hand, in ticks."""
    onsets = [tick for tick, _ in right_hand()]
    assert onsets == [
        *(-960, -320),  # the pickup: two swing eighths
        *(0, 320, 640),  # a triplet
        *(960, 1600),  # two swing eighths
        *(1920, 2160, 2400, 2640),  # sixteenths
        2880,  # held over the bar line, by an eighth: up to 640 of the next bar
        *(4480, 5440),  # e on the and of 1, c on the and of 2, held through the rest of two bars
    ]


def test_a_note_held_over_bar_lines_is_struck_once_and_ends_where_it_is_written():
    ends = [tick + ticks for tick, ticks in right_hand()]
    assert ends[-3] == 3840 + 640 - 40 and ends[-1] == 2 * 3840 + 1920 - 40


def test_a_melody_of_a_straight_song_is_as_written():
    assert [tick for tick, _ in right_hand(feel="straight")][:4] == [-960, -480, 0, 320]


def test_each_part_swings_by_itself():
    """The left hand's off-beat swings over a triplet of the right."""
    arrangement, bars = sung(pattern="charleston")
    triplet = replace(bars[0], written=tuple(replace(s, tick=s.tick + 960) for s in bars[0].written[:3]))
    events = bar_events(replace(arrangement, bars=(triplet,)), 0, 0, 120)
    assert sorted({event.tick for event in events if event.part == "left"}) == [0, 1600]
    assert sorted({event.tick for event in events if event.part == "right"}) == [960, 1280, 1600]
    assert bar_events(replace(arrangement, bars=(triplet,), parts=BAND), 0, 0, 120) == ()


def test_strikes_of_a_hand_are_numbered_chord_by_chord():
    (bar,) = loop("C7 F7")
    three = replace(bar, chords=(replace(bar.chords[0], notes=(48, 52, 55)), *bar.chords[1:]))
    strikes = bar_strikes("four", three, "left")
    assert [(strike.chord, strike.number, strike.notes) for strike in strikes] == [
        (0, 0, (48, 52, 55)),
        (0, 1, (48, 52, 55)),
        (1, 0, (50, 60)),
        (1, 1, (50, 60)),
    ]
    assert [(strike.tick, strike.ticks) for strike in strikes] == [(960 * beat, 960) for beat in range(4)]
    assert bar_strikes("four", three, "right") == ()
    fill = Strike("left", 480, 480, (41,))
    assert bar_strikes("whole", replace(three, written=(fill,)), "left")[1] == fill


# --- lead-in and ending


def led(**fields):
    lead_in, ending = loop("G7 | G7"), loop("C6 | C6")
    return arrange(
        "Dm7 | G7", lead_in=lead_in, ending=ending, parts=PARTS, **{"bass": "roots", "pattern": "whole", **fields}
    )


def test_lead_in_and_ending_are_played_once_beside_the_loop():
    whole = timeline(led(), [120, 120, 120])
    assert [(bar.stretch, bar.turn, bar.position) for bar in whole.bars] == [
        (Stretch.COUNT_IN, -1, -1),
        *((Stretch.LEAD_IN, -1, position) for position in (0, 1)),
        *((Stretch.LOOP, turn, position) for turn in range(3) for position in (0, 1)),
        *((Stretch.ENDING, -1, position) for position in (0, 1)),
    ]
    assert whole.music_tick == 3 * 3840 and whole.end_tick == 11 * 3840
    basses = [event.note % 12 for event in whole.events if event.part == "bass"]
    assert basses == [7, 7, *[2, 7] * 3, 0, 0]
    assert len([event for event in whole.events if event.part == "left"]) == 2 * 10


def test_a_walking_line_leads_from_the_lead_in_into_the_loop_and_from_its_last_pass_into_the_ending():
    for seed in range(20):
        whole = timeline(led(bass="walking", seed=seed), [120, 120])
        line = [event.note for event in whole.events if event.part == "bass"]
        assert len(line) == 4 * 8
        for bar in (2, 4, 6):  # the first bar of each pass and of the ending: a step before it
            assert 1 <= abs(line[4 * bar] - line[4 * bar - 1]) <= 2


def test_a_pickup_lies_in_the_lead_in_where_there_is_one():
    arrangement, bars = sung()
    arrangement = replace(arrangement, bars=bars, lead_in=loop("G7 | 3/4 G7"))
    assert len(count_in(arrangement)) == 1 and not [
        e for bar in count_in(arrangement) for e in bar if e.part != "click"
    ]
    whole = timeline(arrangement, [120])
    tune = [event.tick - whole.music_tick for event in whole.events if event.part == "right"]
    assert tune[:3] == [-960, -320, 0]
    assert whole.music_tick == 3840 + 3840 + 2880


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"parts": ("drums",)}, "no part 'drums'"),
        ({"pickup_ticks": 3841, "lead_in": loop("G7")}, "longer than the lead-in"),
        ({"ending": (replace(loop("G7")[0], chords=(GrooveChord(0, 960, None),)),)}, "Bar 1 of the ending"),
        ({"lead_in": (replace(loop("G7")[0], written=(Strike("right", 3800, 960, (60,)),)),)}, "Bar 1 of the lead-in"),
        ({"pickup": (Strike("right", -960, 960, (60,)),)}, "The pickup"),
        ({"bars": (replace(loop("G7")[0], written=(Strike("bass", 0, 960, (60,)),)),)}, "without a hand"),
    ],
)
def test_what_cannot_be_played_is_named(fields, words):
    with pytest.raises(GrooveError, match=words):
        validate(replace(arrange("C7"), **fields))
