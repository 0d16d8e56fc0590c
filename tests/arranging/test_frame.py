"""Introductions and endings: made from the song's own key and chords in all keys, legal by the checker of the harmonised hand."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from harmony_checker import faults
from harmony_of_songs import chords_of, struck_of, tick_ms_of
from shipped import SONGS

from companion.arranging.beginnings import INTROS, OWN, arpeggio, intro, leads_to
from companion.arranging.cadences import first_chord, last_chord
from companion.arranging.choice import ArrangementChoice
from companion.arranging.endings import ENDINGS, ending, shares, slowing
from companion.chart.melody import chorus_melody
from companion.chart.reader import parse_chart
from companion.groove.check import validate
from companion.groove.model import Stretch
from companion.groove.timeline import timeline
from companion.session.arranged import arranged, ending_bars, intro_bars
from companion.session.performance import performance
from companion.session.stand import Stand
from companion.theory.key import Key
from companion.theory.meter import Meter

MADE_INTROS = [kind for kind in INTROS[1:] if kind != OWN]
MADE_ENDINGS = [kind for kind in ENDINGS[1:] if kind != OWN]
KEYS = [Key.usual(pc, mode) for mode in ("major", "minor") for pc in range(12)]


def in_key(song, key):
    """The tune's chords and melody moved; a song in the other mode keeps its own chords, which is as good for what leads where."""
    from companion.chart.transpose import transpose

    return transpose(song, Key.usual(key.tonic.pc, song.key.mode))


@pytest.mark.parametrize("kind", MADE_INTROS)
def test_the_last_chord_of_an_introduction_leads_to_bar_1_in_every_key(kind):
    """A dominant seventh a fifth above the first chord's root, or a half step above it (common practice)."""
    for song in (next(song for song in SONGS if song.key.mode == mode) for mode in ("major", "minor")):
        for key in KEYS[:12]:
            moved = in_key(song, key)
            made = intro(moved, kind)
            last = made.unroll()[-1].chords[-1].chord
            assert leads_to(last, first_chord(moved)), (song.id, key, last)
            assert made.unroll()[0].meter == moved.unroll()[0].meter


def test_every_song_has_every_introduction_and_ending_and_no_rule_is_broken(settings, deep):
    chosen = list(zip(MADE_INTROS, itertools.cycle(MADE_ENDINGS)))
    for number, song in enumerate(SONGS if deep else SONGS[::2]):
        intro_kind, ending_kind = chosen[number % len(chosen)]
        choice = ArrangementChoice(voices=2 + number % 3, intro=intro_kind, ending=ending_kind)
        stand = (
            Stand.put(song, settings)
            .change(arranged=choice)
            .with_hands("both" if song.sections[song.form[0]].melody else "left")
        )
        for made in (intro(song, intro_kind), ending(song, ending_kind)):
            beside = stand.beside(made, replace(choice, notes={}))
            assert not faults(struck_of(beside.harmonised), chords_of(beside), tick_ms_of(beside), choice.voices), (
                song.id
            )
        arrangement = performance(stand)
        validate(arrangement)
        assert arrangement.lead_in and arrangement.ending and arrangement.bars == stand.arrangement().bars


def test_the_end_is_the_last_chord_under_the_last_note_and_the_low_root_alone(settings):
    for song in SONGS[::3]:
        stand = Stand.put(song, settings).change(arranged=ArrangementChoice(3, ending="held"))
        bars = ending_bars(stand)
        last = last_chord(song)
        *_, held, low = bars
        assert len(held.right) == 1 and held.right[0].keys[-1] % 12 in last.pitch_classes
        assert low.right == () and [stroke.keys for stroke in low.left] == [(low.left[0].keys[0],)]
        assert low.left[0].keys[0] % 12 == song.key.tonic.pc and low.left[0].keys[0] < min(held.left[0].keys)
        assert low.tempo_bpm < 0.6 * stand.tempo_bpm


def test_a_ritardando_is_that_of_the_paper():
    """Friberg and Sundberg 1999: v(x) = v0 (1 + (w^q - 1) x)^(1/q); from 120 to 60 by quarters of the way."""
    assert [round(120 * share, 1) for share in slowing(4, 0.5, 3.0)] == [110.5, 99.1, 84.1, 60.0]
    assert [round(120 * share, 1) for share in slowing(4, 0.5, 2.0)] == [108.2, 94.9, 79.4, 60.0]
    for pulses in range(1, 20):
        way = (1.0, *slowing(pulses))
        assert all(after < before for before, after in itertools.pairwise(way)) and way[-1] == pytest.approx(0.55)
    whole = [share for bar in shares(10, Meter(4, 4)) for share in bar]
    assert whole[:24] == [1.0] * 24 and sorted(whole, reverse=True) == whole and len(whole) == 40


def test_a_tag_is_the_last_phrase_twice_more_without_what_turns_back(settings):
    """Three times with the tune's own. Kettle on the sill ends on its keynote, so the phrase is as it was."""
    for song in SONGS:
        made = ending(song, "tag").unroll()
        tag = [[placed.symbol for placed in bar.chords] for bar in made[:-2]]
        assert tag[: len(tag) // 2] == tag[len(tag) // 2 :]
        home = [placed.chord.root.pc for bar in made[-4:-2] for placed in bar.chords if placed.chord]
        if song.key.tonic.pc in home:
            assert home[-1] == song.key.tonic.pc, (song.id, tag)


def test_what_is_written_out_is_what_sounds(settings):
    song = next(song for song in SONGS if song.pickup)
    stand = Stand.put(song, settings).with_hands("both")
    stand = stand.change(
        arranged=ArrangementChoice(3, intro="vamp", ending="tag"), demonstrate=True, melody_sounds=True
    )
    bars = arranged(stand)
    assert bars[: len(intro_bars(stand))] == intro_bars(stand) and bars[-1] == ending_bars(stand)[-1]
    whole = timeline(performance(stand), [song.tempo_bpm])
    for stretch, written in ((Stretch.LEAD_IN, intro_bars(stand)), (Stretch.ENDING, ending_bars(stand))):
        there = [bar for bar in whole.bars if bar.stretch is stretch]
        assert len(there) == len(written)
        for bar, asked in zip(there, written):
            end = bar.tick + bar.meter.bar_ticks
            heard = sorted(
                event.note for event in whole.events if event.part in ("left", "right") and bar.tick <= event.tick < end
            )
            pickup = bar is there[-1] and stretch is Stretch.LEAD_IN
            keys = sorted(key for stroke in (*asked.left, *asked.right) for key in stroke.keys)
            assert pickup or heard == keys
    tempos = [mark.tempo_bpm for mark in whole.tempo_marks]
    assert tempos[0] == song.tempo_bpm and tempos[-1] == pytest.approx(0.55 * song.tempo_bpm)


OWN_TUNE = """
title = "Spare Buttons"
key = "C"
meter = "4/4"
tempo = 100
feel = "swing"
form = "A"
[section.A]
bars = "Dm7 | G7 | C6 | C6"
melody = "f4 a4 | b4 d'4 | c'8 | g8"
[section.intro]
bars = "Am7 D7 | G7sus4"
melody = "c4 A4 | c8"
[section.Ending]
bars = "Ab7 | G7 | C6/9"
melody = "c'8 | b8 | c'8"
"""


def test_own_ones_are_sections_that_the_form_leaves_out(settings):
    """They move with the key, are harmonised as the rest, and an ending slows through its last two bars, exact at the end."""
    stand = Stand.put(parse_chart(OWN_TUNE, id="spare-buttons"), settings)
    choice = ArrangementChoice(3, intro=OWN, ending=OWN, slows_to=0.4, curve=2.0)
    stand = stand.change(arranged=choice).with_hands("both")
    for moved, symbols in ((stand, "Am7 D7 G7sus4 Ab7 G7 C6/9"), (stand.with_key("Eb"), "Cm7 F7 Bb7sus4 B7 Bb7 Eb6/9")):
        before, after = intro_bars(moved), ending_bars(moved)
        assert " ".join(bar.symbol for bar in (*before, *after)) == symbols
        assert [stroke.melody for stroke in before[0].right] == [
            72 + moved.key.tonic.pc,
            69 + moved.key.tonic.pc,
        ]
        assert any(len(stroke.keys) > 1 for bar in (*before, *after) for stroke in bar.right)
        slowing = [1.0, *(share for bar in after for share in bar.shares)]
        assert slowing[:5] == [1.0] * 5 and slowing[-1] == pytest.approx(0.4) and len(slowing) == 13
        assert all(b < a for a, b in itertools.pairwise(slowing[4:]))
        validate(performance(moved))
    none = stand.change(arranged=ArrangementChoice(intro=OWN, ending=OWN), song=SONGS[0])
    assert intro_bars(none) == ending_bars(none) == ()


def test_how_an_ending_slows_is_the_students(settings):
    """Half the tempo by q = 2, exact at the last chord and held there."""
    stand = Stand.put(SONGS[0], settings)
    bars = ending_bars(stand.change(arranged=ArrangementChoice(ending="tag", slows_to=0.5, curve=2.0)))
    assert bars[-3].shares[-1] == pytest.approx(0.5) and set(bars[-1].shares) == {bars[-3].shares[-1]}
    assert bars[-4].shares[0] == pytest.approx(slowing(2 * len(bars[-4].shares), 0.5, 2.0)[0])


def test_a_note_of_an_ending_held_over_a_bar_line_sounds_on(settings):
    """In the song's own last phrase a note is tied into the next bar: in the tag it lasts as long as in the tune."""
    text = OWN_TUNE.replace("f4 a4 | b4 d'4 | c'8 | g8", "f4 a4 | b4 d'4- | d'4 c'4 | c'8")
    stand = Stand.put(parse_chart(text, id="spare-buttons"), settings)
    stand = stand.change(arranged=ArrangementChoice(3, ending="tag"), melody_sounds=True)
    whole = timeline(performance(stand), [100.0])
    tied = [event.ticks for event in whole.events if event.part == "right" and event.note == 86]
    assert len(tied) == 3 and all(3700 < ticks < 3840 for ticks in tied)


def test_a_vamp_has_the_tunes_own_kind_of_first_chord():
    """Common practice: I VI II V, on a blues I7 VI7; in minor the half-diminished sixth degree."""
    made = {
        song.id: [placed.symbol for bar in intro(song, "vamp").unroll()[:2] for placed in bar.chords] for song in SONGS
    }
    assert made["porridge-and-brass"] == ["F7", "D7", "Gm7", "C9"]
    assert made["two-spoons"] == ["Dmaj7", "Bm7", "Em7", "A9"]
    assert made["slate-roof-in-the-rain"] == ["Cm6", "Am7b5", "Dm7b5", "G7b9"]


@pytest.mark.parametrize(
    ("meter", "tempo", "bars"), [("4/4", 120, 2), ("3/4", 120, 3), ("4/4", 240, 3), ("6/8", 60, 3)]
)
def test_the_dominant_is_broken_over_two_octaves_in_every_meter_and_no_faster_than_six_notes_a_second(
    meter, tempo, bars
):
    """Common practice for the two octaves and the hold; six a second is a student's (from the project's page of facts)."""
    beats, unit = meter.split("/")
    song = parse_chart(
        f'title = "T"\nkey = "C"\nmeter = "{meter}"\ntempo = {tempo}\nfeel = "swing"\nform = "A"\n'
        f'[section.A]\nbars = "C6"\nmelody = "c{int(beats) * 8 // int(unit)}"', id="t")  # fmt: skip
    made = intro(song, "dominant")
    notes = [note for note in (*arpeggio(song), *chorus_melody(made)) if note.pitch is not None]
    keys = [note.pitch.midi for note in notes]
    assert keys[-1] - keys[0] == 24 and keys == sorted(keys) and len(keys) == 9
    assert {key % 12 for key in keys} == {7, 11, 2, 5}
    tick_ms = 60_000 / tempo / made.meter.pulse_ticks
    assert all((b.start_tick - a.start_tick) * tick_ms >= 165 for a, b in itertools.pairwise(notes))
    breath = made.meter.pulse_ticks // 2
    assert len(made.unroll()) == bars and notes[-1].end_tick == made.unroll()[-1].end_tick - breath
    assert keys[0] >= 40 and keys[-1] <= 75, "E2 to E flat 5"


def test_both_hands_share_the_arpeggio_and_the_shell_waits(settings):
    """A seventh chord broken upwards: 5 3 2 1 and 1 2 3 4 5 (common practice)."""
    stand = Stand.put(SONGS[0], settings).change(arranged=ArrangementChoice(intro="dominant"))
    bars = intro_bars(stand)
    strokes = {hand: [each for bar in bars for each in getattr(bar, hand)] for hand in ("left", "right")}
    singles = [each for each in strokes["left"] if len(each.keys) == 1]
    assert [each.fingers[0] for each in singles] == [5, 3, 2, 1]
    assert [each.fingers[0] for each in strokes["right"]] == [1, 2, 3, 4, 5]
    keys = [each.keys[0] for each in (*singles, *strokes["right"])]
    assert keys == sorted(keys) and keys[4] - keys[0] == keys[8] - keys[4] == 12
    shells = [each for each in strokes["left"] if len(each.keys) == 2]
    assert len(shells) == 1 and shells[0].tick + shells[0].ticks == bars[-1].meter.bar_ticks
    validate(performance(stand))


@pytest.mark.parametrize("kind", MADE_INTROS)
def test_a_tune_without_chords_is_led_into_by_those_of_its_key(kind):
    song = parse_chart(
        'title = "T"\nkey = "G"\nmeter = "3/4"\nform = "A"\n[section.A]\nbars = "N.C. | N.C. | N.C. | N.C."\n'
        'melody = "G4 B2 | d4 B2 | c4 A2 | G6"',
        id="t",
    )
    last = intro(song, kind).unroll()[-1].chords[-1].chord
    assert last.root.name == "D" and {"3", "b7"} <= set(last.degrees)
