"""The whole tune for both hands: what is played is what is written out, company and all."""

from __future__ import annotations

import pytest

from companion.arranging.choice import ArrangementChoice
from companion.chart.reader import parse_chart
from companion.groove.model import Stretch
from companion.groove.timeline import bar_events
from companion.practice.marking.expected import expected_strikes, steady_starts
from companion.session.arranged import arranged
from companion.session.stand import Stand

# A pickup; a note held over a change of chord and over a bar line; a rest.
TUNE = """
title = "Spare Buttons"
key = "F"
meter = "4/4"
tempo = 100
feel = "swing"
form = "A A"
pickup = 1
[section.A]
bars = "F6 | D7 | Gm7 C7 | F6"
melody = "c'2 | a4 f4- | f4 ^f4 | g8 | f6 z2"
"""


@pytest.fixture
def stand(settings):
    put = Stand.put(parse_chart(TUNE, id="spare-buttons"), settings).with_hands("both")
    return put.change(arranged=ArrangementChoice(3), melody_sounds=True, demonstrate=True)


def test_every_melody_note_is_there_once_with_its_company_and_a_reason(stand):
    bars = arranged(stand)
    strokes = [stroke for bar in bars for stroke in bar.right]
    assert [stroke.melody for stroke in strokes] == [note.pitch.midi for note in stand.melody if note.pitch]
    assert bars[0].bar == 0 and bars[0].right[0].tick == -960 and len(bars) == 9
    for stroke in strokes:
        assert len(stroke.keys) == len(stroke.names) == len(stroke.fingers) and stroke.why.endswith(".")
    assert all(bar.left and bar.left[0].why for bar in bars[1:])


def test_what_sounds_is_what_is_written_out(stand):
    """Added notes end with their chord: under F held into the bar of D7 they end at the bar line, under G held from Gm7 into C7 in its middle."""
    arrangement = stand.arrangement()
    for position, bar in enumerate(bar for bar in arranged(stand) if bar.bar):
        heard = [event for event in bar_events(arrangement, 0, position, 100.0, Stretch.LOOP) if event.part == "right"]
        written = sorted((stroke.tick, key) for stroke in bar.right for key in stroke.keys)
        assert sorted((event.tick, event.note) for event in heard) == written
    second = {
        event.note: event.ticks
        for event in bar_events(arrangement, 0, 0, 100.0)
        if event.part == "right" and event.tick == 1920
    }
    melody = max(second)
    assert second.pop(melody) > 1920 and second and all(1800 < ticks < 1920 for ticks in second.values())
    third = {event.note: event.ticks for event in bar_events(arrangement, 0, 2, 100.0) if event.part == "right"}
    assert third.pop(max(third)) > 3700 and third and all(1800 < ticks < 1920 for ticks in third.values())


def test_the_student_is_asked_for_all_of_it(stand):
    due = expected_strikes(stand.arrangement(), steady_starts(stand.arrangement(), 0.0, 100.0), parts=("right",))
    assert {len(strike.notes) for strike in due} == {3} and all(strike.part == "right" for strike in due)


def test_alone_is_as_before(stand):
    alone = stand.change(arranged=ArrangementChoice())
    assert alone.harmonised == ()
    assert all(len(stroke.keys) == 1 and not stroke.why for bar in arranged(alone) for stroke in bar.right)
