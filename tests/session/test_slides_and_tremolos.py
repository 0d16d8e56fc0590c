"""Slides and tremolos of a song on the stand: legal everywhere by a checker of its own, heard at every tempo as written, marked by the sentence."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from random import Random

import pytest
from ornament_checker import Hit, faults
from ornaments_of_songs import hits_of, ornamented
from shipped import SONGS

from companion.arranging.choice import BELOW, PUT_OFF, STRAIGHT, ArrangementChoice
from companion.chart.reader import parse_chart
from companion.groove.check import validate
from companion.groove.ornamented import grace_ticks, tremolo_parts
from companion.groove.timeline import bar_events, count_in, timeline
from companion.practice.marking.expected import expected_strikes, steady_starts
from companion.practice.marking.marks import mark_pass
from companion.practice.marking.ornaments import ornament_words
from companion.practice.model import Press
from companion.session.arranged import arranged
from companion.session.bar_ornaments import chosen, loop_of, offers
from companion.session.note_places import bar_at, sounding
from companion.session.performance import performance
from companion.session.stand import Stand
from companion.theory.key import Key
from companion.theory.meter import Meter

TUNE = """
title = "Tin Roof, Slow Rain"
key = "C"
meter = "4/4"
tempo = 100
feel = "swing"
form = "A"
[section.A]
bars = "C7 | F7 | C7 | G7"
melody = "e4 g4 | a2 f2 e4 | g4 e4 | d4 z4"
"""
WITH = ("slide", "tremolo")


@pytest.fixture
def stand(settings):
    put = Stand.put(parse_chart(TUNE, id="tin-roof"), settings).with_hands("both")
    return put.change(arranged=ArrangementChoice(3, ornaments=WITH), melody_sounds=True, demonstrate=True)


def cases(is_deep):
    """(song, key, voices, seed): thinned evenly in the plain run."""
    every = [
        (song, pc, voices, seed) for song in SONGS for pc in range(12) for voices in (1, 2, 3, 4) for seed in range(14)
    ]
    return every if is_deep else every[:: len(every) // 24]


def test_no_song_key_or_seed_has_a_fault(settings, deep):
    """Seeds from 100 were never looked at while this was made."""
    kinds = []
    for song, pc, voices, seed in cases(deep):
        stand = Stand.put(song, settings)
        if stand.has_melody:
            chorus = ornamented(stand.with_key(Key.usual(pc, song.key.mode)), voices, 100 + seed)
            hits, left, tick_ms, pulse = hits_of(chorus)
            assert not faults(hits, left, tick_ms, 80.0, pulse), (song.id, pc, voices, seed)
            kinds += [hit.kind for hit in hits]
    assert kinds.count("slide") > 50 and kinds.count("tremolo") > 50


def spoiled(hits, at, chance):
    """One slide or stroke of a tremolo made wrong."""
    hit, key = hits[at], hits[at].keys[0]
    if hit.kind == "slide":
        changed = chance.choice(
            [
                replace(hit, keys=(key + chance.choice([-4, -3, 3, 4]),)),
                replace(hit, fingers=(hit.fingers[0] % 5 + 1,)),
                replace(hit, start=hit.start + (hit.end - hit.start) // 2),
                replace(hit, end=hit.end + 40),
            ]
        )
    else:
        changed = chance.choice(
            [
                replace(hit, keys=hits[at - 1].keys, fingers=hits[at - 1].fingers),
                replace(hit, start=hit.start + 60),
                replace(hit, keys=(key - 14, *hit.keys[1:])),
            ]
        )
    return [*hits[:at], changed, *hits[at + 1 :]]


def test_the_checker_sees_what_is_spoiled(stand):
    hits, left, tick_ms, pulse = hits_of(stand)
    assert not faults(hits, left, tick_ms, 80.0, pulse)
    chance = Random(7)
    places = [at for at, hit in enumerate(hits) if hit.kind == "slide" or hit.kind == hits[at - 1].kind == "tremolo"]
    for _ in range(100):
        wrong = spoiled(hits, chance.choice(places), chance)
        assert faults(wrong, left, tick_ms, 80.0, pulse), wrong
    assert faults(hits, [(0, 15360, (70,))], tick_ms, 80.0, pulse), "the left hand in the way"
    early = [Hit(0, 960, (60,), (1,)), Hit(960, 1088, (63,), (2,), "slide"), Hit(1088, 1920, (64,), (2,))]
    assert not faults(early, [], 0.625, 80.0, 960)
    assert faults([Hit(900, 960, (60,), (1,)), *early[1:]], [], 0.625, 80.0, 960), "nothing left of the note before"


def test_which_notes_are_slid_into_and_by_which_finger(stand):
    """Common practice: the blue third and fifth first; into D E G A B from below and C D F G A from above one finger slips from black to white."""
    alone = stand.change(arranged=ArrangementChoice(1, bars={("A", bar, "slide"): 1 for bar in (1, 2, 3, 4)}))
    slid = [(bar.bar, each.names[0]) for bar in arranged(alone) for each in bar.right if each.ornament]
    assert slid == [(1, "D#5"), (2, "G#5"), (3, "F#5"), (4, "C#5")], "third, third, fifth, fifth"
    for bar in arranged(alone):
        for grace, note in pairwise(bar.right):
            if grace.ornament == "slide":
                low, high = sorted((grace.keys[0] % 12, note.keys[-1] % 12))
                is_one = grace.keys[0] % 12 in {1, 3, 6, 8, 10} and note.keys[-1] % 12 not in {1, 3, 6, 8, 10}
                assert (grace.fingers[0] == note.fingers[-1]) == is_one, (low, high)
                assert ("one finger" in grace.why) == is_one


def test_no_two_slides_of_a_section_are_alike_unasked(settings):
    """What a pianist varies: the same key into the same note comes once in a section, and again where it was asked for."""
    for song in SONGS[::4]:
        stand = Stand.put(song, settings).change(arranged=ArrangementChoice(3, ornaments=("slide",)))
        ornaments, notes, found = stand.ornaments(once=True), sounding(stand.melody), set()
        for number, slide in ornaments.slides.items():
            bar = bar_at(stand.bars, notes[number].start_tick)
            like = bar.section, bar.occurrence, slide.pitch.midi, slide.from_below
            assert like not in found, (song.id, like)
            found.add(like)


def test_nobody_is_given_more_slides_and_tremolos_than_a_pianist_plays(settings):
    """Common practice: a slide in every other bar at most, on a note that is long or on a strong beat, the blue third and fifth first; a tremolo now and then. In
    every section that comes again the same."""
    slid = 0
    for song in SONGS[::3]:
        put = Stand.put(song, settings)
        for seed in (1, 2):
            stand = put.change(arranged=ArrangementChoice(3, ornaments=WITH, seed=seed))
            found = {"slide": set(), "tremolo": set()}
            for bar in arranged(stand):
                for each, after in pairwise((*bar.right, None)):
                    if each.ornament in found:
                        found[each.ornament].add((bar.section, bar.occurrence, bar.bar))
                    if each.ornament == "slide" and bar.bar:
                        pulses = after.ticks / bar.meter.pulse_ticks
                        strong = after.tick // bar.meter.pulse_ticks in bar.meter.strong_pulses
                        assert pulses >= 1.8 or strong, (song.id, bar.section, bar.bar)
            for kind, apart in (("slide", 2), ("tremolo", 4)):
                for section, occurrence, bar in found[kind]:
                    near = {(section, occurrence, bar + away) for away in range(1, apart)}
                    assert not near & found[kind], (song.id, kind, section, bar)
            slid += len(found["slide"])
    assert slid > 20


@pytest.mark.parametrize("tempo_bpm", [40.0, 60.0, 90.0, 120.0, 160.0, 200.0, 240.0])
def test_graces_keep_their_length_and_tremolos_their_rate_at_every_tempo(stand, tempo_bpm):
    """Timmers and others 2002 for the grace; six to nine strokes a second, common practice."""
    meter = Meter(4, 4)
    pulse_s = 60.0 / tempo_bpm
    assert grace_ticks(80.0, meter, tempo_bpm) * pulse_s / 960 == pytest.approx(0.08, abs=0.001)
    assert 6.0 <= tremolo_parts(tempo_bpm) / 2 / pulse_s <= 9.0
    heard = timeline(stand.arrangement(), [tempo_bpm, tempo_bpm])
    graces = [event for event in heard.events if event.part == "right" and event.velocity == 84]
    assert graces and len(graces) % 2 == 0, "in both times round, the first in the count-in"
    for grace in graces:
        assert grace.ticks * pulse_s / 960 == pytest.approx(0.08, abs=0.001)
        onsets = [
            event.tick for event in heard.events if event.part == "right" and event.tick == grace.tick + grace.ticks
        ]
        assert onsets, "the note sounds as the grace ends"
        over = [
            event
            for event in heard.events
            if event.part == "right" and event.tick < grace.tick < event.tick + event.ticks
        ]
        assert not over, "its time comes from the note before"


def test_what_is_written_out_is_what_sounds(stand):
    straight = stand.change(swing_ratio=1.0, arranged=ArrangementChoice(3, ornaments=("slide", "tremolo", "fill")))
    whole = performance(straight)
    validate(whole)
    written = sorted(
        (bar_number * 3840 + each.tick, key)
        for bar_number, bar in enumerate(arranged(straight))
        for each in bar.right
        for key in each.keys
    )
    sounding = sorted(
        (position * 3840 + event.tick, event.note)
        for position in range(4)
        for event in bar_events(whole, 0, position, 100.0, is_last=True)
        if event.part == "right"
    )
    before = [(tick, key) for tick, key in written if tick < 0]
    assert sounding == [pair for pair in written if pair[0] >= 0]
    counted = [(event.tick - 3840, event.note) for event in count_in(whole, 0, 100.0)[-1] if event.part == "right"]
    assert counted == before


def test_a_bar_has_its_own_choice_and_its_loop(stand):
    offered = offers(stand, 1, "slide")
    assert len(offered) > 2 and offered[-2].words == "no slide here" and offered[-1].wish is None
    assert len(offers(stand, 1, "tremolo")) in (0, 3)
    bars = {("A", 1, "slide"): PUT_OFF, ("A", 1, "tremolo"): PUT_OFF}
    off = stand.change(arranged=ArrangementChoice(3, ornaments=WITH, bars=bars))
    assert not [each for each in arranged(off)[0].right if each.ornament]
    assert loop_of(off, 0, "slide") is None and loop_of(stand, 0, "tremolo") == range(2)
    second = stand.change(arranged=ArrangementChoice(3, bars={("A", 1, "slide"): 2}))
    slides = [each for bar in arranged(second) for each in bar.right if each.ornament == "slide"]
    assert [each.why for each in slides] == [
        offers(second, 0, "slide")[1].words.removesuffix(" It is played: without it.")
    ]
    assert loop_of(second, 0, "slide") == range(1)
    assert slides == [each for bar in arranged(second) for each in bar.right if each.ornament], "the same once more"


def test_a_loop_has_the_slides_and_tremolos_of_the_whole(settings):
    """What is practised in a loop is what is played in the tune."""
    for song in SONGS[::6]:
        stand = Stand.put(song, settings).change(arranged=ArrangementChoice(3, ornaments=WITH), hands="both")
        whole = stand.ornaments(once=True)
        for name, loop in stand.section_loops():
            there = stand.with_loop(loop, name).ornaments()
            inside = [bar for bar in stand.bars if bar.index in loop[1:]]  # the first bar is come to from elsewhere
            notes = [
                number
                for number, note in enumerate(sounding(stand.melody))
                if any(bar.start_tick <= note.start_tick < bar.end_tick for bar in inside)
            ]
            for number in notes:
                assert there.slides.get(number) == whole.slides.get(number), (song.id, name, number)
                assert there.tremolos.get(number) == whole.tremolos.get(number), (song.id, name, number)


def slid_into(stand):
    """(bar, key of the grace, key it leads into) of every slide."""
    return [
        (bar.bar, each.keys[0], after.keys[-1])
        for bar in arranged(stand)
        for each, after in pairwise(bar.right)
        if each.ornament == "slide"
    ]


def test_a_slide_is_pinned_and_put_off_note_by_note(stand):
    """Whatever is wanted in its bar, and with the others there left as they are."""
    one = stand.change(arranged=ArrangementChoice(1, ornaments=("slide",)))
    before = slid_into(one)
    assert [bar for bar, *_ in before] == [1, 3]
    into_first = next(each for each in offers(one, 0, "slide") if each.way == STRAIGHT)
    off = one.change(arranged=chosen(one, 0, "slide", into_first))
    assert off.arranged.slides == {into_first.note: STRAIGHT} and not off.arranged.bars
    assert slid_into(off) == before[1:], "and no other comes in its place"
    others = [each for each in offers(off, 0, "slide") if each.note not in (None, into_first.note)]
    pinned = off.change(arranged=chosen(off, 0, "slide", others[0]))
    assert (1, *others[0].keys) in slid_into(pinned) and before[1] in slid_into(pinned)
    both = pinned.change(arranged=pinned.arranged.with_slide(into_first.note, BELOW))
    assert [bar for bar, *_ in slid_into(both)] == [1, 1, 3]
    none = next(each for each in offers(both, 0, "slide") if each.wish == PUT_OFF)
    assert [bar for bar, *_ in slid_into(both.change(arranged=chosen(both, 0, "slide", none)))] == [3]
    alone = stand.change(arranged=ArrangementChoice(1, slides={others[0].note: others[0].way}))
    assert slid_into(alone) == [(1, *others[0].keys)], "nothing else is asked for"
    hits, left, tick_ms, pulse = hits_of(both)
    assert not faults(hits, left, tick_ms, 80.0, pulse)


def played(stand, *, slides=True, rate=7.0, jitter_s=0.0, hold=False):
    """The right hand's presses of one pass at 100, in order, with what is asked."""
    loop = stand.arrangement()
    due = expected_strikes(loop, steady_starts(loop, 0.0, 100.0), parts=("right",))
    chance, presses = Random(3), []
    for strike in due:
        if strike.grace is not None and slides:
            presses.append(Press(strike.due_s - 0.08, strike.grace))
        halves = strike.notes, strike.turns
        count = int(strike.tremolo_s * rate) if strike.turns and not hold else 1
        for number in range(count):
            at_s = strike.due_s + number / rate + chance.uniform(-jitter_s, jitter_s)
            presses += [Press(at_s, note) for note in halves[number % 2]]
        if strike.turns and hold:
            presses += [Press(strike.due_s, note) for note in strike.turns]
    return due, sorted(presses, key=lambda press: (press.time_s, press.note))


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ({}, "Every slide came, 80 ms long in the middle. Your tremolo has 7.0 strokes a second, evenly."),
        ({"slides": False}, "The slides were left out"),
        ({"rate": 4.0}, "4.0 strokes a second, evenly; six to nine sound as one chord."),
        ({"rate": 11.0}, "11.0 strokes a second, evenly; six to nine are enough"),
        ({"jitter_s": 0.05}, "not yet evenly"),
        ({"hold": True}, "struck once and held"),
    ],
)
def test_a_tremolo_is_told_by_rate_and_evenness_and_no_key_is_too_many(stand, how, words):
    twice = ArrangementChoice(3, ornaments=WITH, bars={("A", 3, "slide"): 1})
    stand = stand.change(arranged=twice)
    due, presses = played(stand, **how)
    assert any(strike.turns for strike in due) and any(strike.grace for strike in due)
    marks = mark_pass(due, presses, asked=("right",))
    assert marks.figures.extra == 0 and marks.figures.right == marks.figures.chords
    assert words in ornament_words([marks], presses)


def test_a_wrong_key_in_a_tremolo_is_still_one(stand):
    due, presses = played(stand)
    first = next(strike for strike in due if strike.turns)
    marks = mark_pass(due, [*presses, Press(first.due_s + 0.5, first.notes[-1] + 1)], asked=("right",))
    assert marks.figures.extra == 1


def test_a_plain_pass_tells_nothing_of_ornaments(stand):
    due, presses = played(stand.change(arranged=ArrangementChoice(3)))
    assert ornament_words([mark_pass(due, presses, asked=("right",))], presses) == ""
