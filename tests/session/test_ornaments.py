"""Fills and walks of a song on the stand: what is written out is what sounds and what is asked for, in the whole form, in loops, and at the end."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from harmony_checker import faults
from harmony_of_songs import chords_of, struck_of, tick_ms_of
from shipped import SONGS

from companion.arranging.choice import IN_SHELLS, PUT_OFF, ArrangementChoice
from companion.chart.reader import parse_chart
from companion.groove.check import validate
from companion.groove.model import Stretch
from companion.groove.timeline import bar_events
from companion.practice.marking.expected import expected_strikes, steady_starts
from companion.session.arranged import arranged
from companion.session.performance import performance
from companion.session.right_hand import played_notes, right_hand
from companion.session.stand import Stand

TUNE = """
title = "Spare Buttons"
key = "C"
meter = "4/4"
tempo = 100
feel = "swing"
form = "A A B A"
[section.A]
bars = "C6 | Dm7 | G7 | C6"
melody = "e2 g2 e2 c2 | A4 z4 | B2 d2 f2 d2 | c4 z4"
[section.B]
bars = "Fmaj7 | Fm6 | Dm7 | G7"
melody = "a2 c'2 a2 f2 | _a4 f4 | d2 f2 a2 f2 | g8"
"""
ALL = ArrangementChoice(3, ornaments=("fill", "walk"))


@pytest.fixture
def stand(settings):
    put = Stand.put(parse_chart(TUNE, id="spare-buttons"), settings).with_hands("both")
    return put.change(arranged=ALL, melody_sounds=True, demonstrate=True)


def sounding(arrangement, position, part, stretch=Stretch.LOOP):
    return sorted(
        (event.tick, event.note) for event in bar_events(arrangement, 0, position, 100.0, stretch) if event.part == part
    )


def written(strokes, straight=False):
    return sorted((stroke.tick, key) for stroke in strokes for key in stroke.keys)


def test_what_is_written_out_is_what_sounds_and_what_is_asked_for(stand):
    """Straight, so that ticks are those written."""
    straight = stand.change(swing_ratio=1.0)
    whole = performance(straight)
    validate(whole)
    bars = arranged(straight)
    assert len(bars) == 16
    for position, bar in enumerate(bars):
        assert sounding(whole, position, "left") == written(bar.left), bar
        assert sounding(whole, position, "right") == written(bar.right), bar
        for hand in (bar.left, bar.right):
            assert all(len(each.keys) == len(each.names) == len(each.fingers) for each in hand)
    due = expected_strikes(whole, steady_starts(whole, 0.0, 100.0), parts=("left", "right"))
    asked = sorted(key for strike in due for key in strike.notes)
    assert asked == sorted(key for bar in bars for each in (*bar.left, *bar.right) for key in each.keys)
    fills = [each for bar in bars for each in bar.right if each.ornament == "fill"]
    assert len(fills) > 12 and all(each.melody is None for each in fills)
    assert sum(" to " in each.why for each in fills) == 6, (
        "one for each gap but the last, where nothing follows to lead to"
    )


def test_a_note_is_let_go_before_its_fill_and_none_sounds_into_the_next(stand):
    for bar in arranged(stand):
        ends = [(each.tick + each.ticks, each.tick) for each in bar.right]
        assert all(end <= start for (end, _), (_, start) in itertools.pairwise(ends)), bar


def test_what_ends_the_phrase_is_chosen_by_what_follows_in_the_loop_too(stand):
    """Common practice: the dominant back to the same chord, the walk on to the bridge, the rest at the end; the second A alone leads back to itself."""
    stand = stand.change(arranged=ArrangementChoice(3, ornaments=("walk",)))
    bars = arranged(stand)
    why = {position: " ".join(stroke.why for stroke in bars[position].left[1:]).strip() for position in (3, 7, 11, 15)}
    assert why[3] == "G, the dominant, and B lead back to C, the root of C6."
    assert why[7].endswith("by step to F, the root of Fmaj7.") and why[11] == "A B: by step to C, the root of C6."
    assert len(bars[15].left[-1].keys) == 2 and bars[15].left[-1].tick < 1920 and "rests" in bars[15].left[-1].why
    loop = stand.with_loop(range(4, 8), "A")
    assert [strike.notes for strike in loop.arrangement().bars[3].written if strike.part == "left"] == [(43,), (47,)]
    again = stand.arrangement().bars[15]
    assert [strike.notes for strike in again.written if strike.part == "left"] == [(43,), (47,)], (
        "the chorus comes again"
    )
    held = stand.change(arranged=ArrangementChoice(3, ending="held", ornaments=("walk",)))
    assert "the dominant" in " ".join(stroke.why for stroke in arranged(held)[15].left), "C6/9 follows"


def test_the_left_hand_holds_while_the_right_one_fills(stand):
    """Common practice: one hand moves at a time. What the shell's chord has struck is held under the fill, up to the note on which it rests, and no single notes lead on meanwhile but
    where they were asked for in that very bar."""
    both, plain = arranged(stand), arranged(stand.change(arranged=ArrangementChoice(3)))
    moving = 0
    for bar, without in zip(both, plain, strict=True):
        fill = [each.tick for each in bar.right if each.ornament == "fill"]
        if not fill:
            continue
        moving += 1
        under = [stroke for stroke in bar.left if fill[0] <= stroke.tick <= fill[-1]]
        assert all(stroke.tick in (chord.beat * 960 for chord in bar.chords) for stroke in under), bar
        held = [stroke for stroke in bar.left if stroke.tick < fill[0]]
        assert len(bar.left) < len(without.left) and held[-1].ticks > 960, bar
    assert moving > 4
    asked = replace(ALL, bars={("A", 4, "walk"): 1})
    said = arranged(stand.change(arranged=asked))[7].left
    assert said[-1].why.endswith("by step to F, the root of Fmaj7.") or "by step to F" in said[-2].why


def test_bars_are_put_off_and_chosen_one_by_one(stand):
    def of(choice):
        return {
            position: [each.names for each in bar.right if each.ornament == "fill"]
            for position, bar in enumerate(arranged(stand.change(arranged=choice)))
            if any(each.ornament == "fill" for each in bar.right)
        }

    everywhere = of(ArrangementChoice(3, ornaments=("fill",)))
    off = of(ArrangementChoice(3, ornaments=("fill",), bars={("A", 2, "fill"): PUT_OFF}))
    assert set(everywhere) - set(off) == {1, 5, 13}
    assert of(ArrangementChoice(3)) == {}
    alone = [of(ArrangementChoice(3, bars={("A", 2, "fill"): number})) for number in (1, 2, 3)]
    assert all(set(each) == {1, 5, 13} for each in alone)
    assert len({tuple(map(tuple, each.values())) for each in alone}) == 3
    other = of(ArrangementChoice(3, ornaments=("fill",), seed=5))
    assert other != everywhere and other == of(ArrangementChoice(3, ornaments=("fill",), seed=5))


def test_a_loop_that_cuts_a_fill_does_without_it(settings):
    text = TUNE.replace('melody = "e2 g2 e2 c2 | A4 z4 | B2 d2 f2 d2 | c4 z4"', 'melody = "e2 g2 e2 c2 | A8 | z8 | c8"')
    stand = Stand.put(parse_chart(text, id="spare-buttons"), settings).change(arranged=ALL, melody_sounds=True)
    both = stand.with_loop(range(1, 3), "1-2").arrangement().bars
    one = stand.with_loop(range(1, 2), "1").arrangement().bars
    assert any(strike.tick > 0 and not strike.held for bar in both for strike in bar.written if strike.part == "right")
    assert not any(strike.tick > 0 for bar in one for strike in bar.written if strike.part == "right")


def test_company_and_ornaments_keep_the_rules_together(settings):
    """What is cut for a fill is still a legal hand, and right lies above left with both ornaments on."""
    for song in SONGS[1::6]:
        stand = Stand.put(song, settings).change(arranged=ALL)
        assert not faults(struck_of(stand.harmonised), chords_of(stand), tick_ms_of(stand), 3)
        for bar in arranged(stand):
            for low in bar.left:
                for high in bar.right:
                    if low.tick < high.tick + high.ticks and high.tick < low.tick + low.ticks:
                        inner = high.inner_ticks is not None and low.tick >= high.tick + high.inner_ticks
                        keys = high.keys[-1:] if inner else high.keys
                        assert min(keys) >= max(low.keys) + 3, (song.id, bar.section, bar.bar, low, high)


SHELLS = ArrangementChoice(2, bars={("A", 4, "walk"): IN_SHELLS})


def symbols(stand):
    return [" ".join(placed.symbol for placed in bar.chords) for bar in stand.bars]


def test_shells_walk_only_where_the_student_said_so_and_by_what_follows(stand):
    """Common practice: I, II minor seventh, III minor seventh into the fourth degree; back to the same chord its dominant. The chart of the song stays."""
    plain = symbols(stand)
    assert plain[3::4] == ["C6", "C6", "G7", "C6"], "walking in the whole song changes no chart"
    led = stand.change(arranged=SHELLS)
    assert symbols(led)[3::4] == ["C6 G7", "C6 Dm7 Em7", "G7", "C6 G7"]
    assert [bar.chords for bar in led.song.unroll()] == [bar.chords for bar in stand.song.unroll()]
    assert symbols(led.with_key("Eb"))[7] == "Eb6 Fm7 Gm7"
    assert symbols(led.with_loop(range(4, 8), "A"))[7] == "C6 G7", "in this loop the same A follows"
    assert symbols(led.change(arranged=ArrangementChoice(2))) == plain
    bars = arranged(led)
    assert bars[7].symbol == "C6 Dm7 Em7" and "Your chart has C6" in bars[7].left[-1].why
    assert not faults(struck_of(led.harmonised), chords_of(led), tick_ms_of(led), 2)
    validate(performance(led))


def test_shells_do_not_walk_against_the_melody(settings):
    """A flat held through the bar belongs neither to D minor seventh nor to E minor seventh, nor is it a tension of theirs: then single notes walk."""
    text = TUNE.replace("d2 f2 d2 | c4 z4", "d2 f2 d2 | _a8")
    led = Stand.put(parse_chart(text, id="spare-buttons"), settings, arranged=SHELLS)
    assert symbols(led)[7] == "C6"
    assert any(len(stroke.keys) == 1 for stroke in arranged(led)[7].left)


def test_fills_swing_as_the_rest_and_are_drawn(stand):
    """The off-beats of a fill in eighths are heard at two thirds of the beat where the ratio is 2 (two to one, by its definition)."""
    swung = stand.change(swing_ratio=2.0)
    arrangement = swung.arrangement()
    eighths = [
        (index, note.tick % 960)
        for index, bar in enumerate(arranged(swung))
        for note in bar.right
        if note.ornament == "fill"
    ]
    assert {tick for _, tick in eighths} == {0, 480}
    for index in {index for index, _ in eighths}:
        assert {tick % 960 for tick, _ in sounding(arrangement, index, "right")} <= {0, 640}
    drawn = [note.midi for note in played_notes(stand)]
    fills = [note.pitch.midi for fill in stand.ornaments().fills.values() for note in fill.notes]
    assert len(drawn) == len(right_hand(stand)) + len(fills) and set(fills) <= set(drawn)
    assert all(a.note.end_tick <= b.note.start_tick for a, b in itertools.pairwise(played_notes(stand)))
